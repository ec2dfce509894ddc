"""From a predicted procedure to the plan of a joint: the text of its file, for a person to approve and write."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from evenpull.prediction.notes import INTERACTION_ONLY, NO_LICENCE, PREDICTED
from evenpull.prediction.to_plan import NOBODY
from evenpull.report import ring_rows
from evenpull.store import services
from evenpull.web.views.predictions import still_searching, view_of, waiting, whole_number


@require_safe
def draft(request: HttpRequest, prediction_id: str) -> HttpResponse:
    """The draft. Writing it is done by the page of the joint's revisions, which checks it like any other text."""
    view = view_of(request, prediction_id)
    if view is None:
        return waiting(request, f"every procedure of {prediction_id}")
    number = whole_number(request, "procedure") or 1
    if (left := still_searching(view, number)) is not None:
        return waiting(request, left)
    every, found = services.outcomes(view), view.result.prediction
    if not 1 <= number <= len(every):
        raise Http404(f"there are the procedures 1 to {len(every)}, not {number}")
    outcome, fitting = every[number - 1], services.joints_that_fit(found)
    joint = request.GET.get("joint", "") or (fitting[0] if fitting else "")
    text, problem = "", ""
    if joint:
        try:
            text = services.draft_plan(outcome.procedure, joint)
        except services.UnknownJoint as error:
            raise Http404(str(error)) from error
        except services.Refused as error:
            problem = str(error)
    return render(
        request, "web/prediction_plan.html",
        {
            "row": view.row, "number": number, "outcome": outcome, "cells": ring_rows.row_of(outcome),
            "columns": ring_rows.COLUMNS, "joints": fitting, "joint": joint, "text": text, "problem": problem,
            "nobody": NOBODY, "notes": (PREDICTED, NO_LICENCE), "interaction": INTERACTION_ONLY,
            "count": found.case.bolts.count,
        },
        status=409 if problem else 200,
    )  # fmt: skip
