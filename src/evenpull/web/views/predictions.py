"""Predictions of rings: the list, one ring with its pulls, comparison and intervals, its paper, and writing one."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_safe

from evenpull.plan import SpecificationError
from evenpull.prediction import read_prediction
from evenpull.prediction.guide import ring_help, ring_template
from evenpull.prediction.notes import FLOOR, INTERACTION_ONLY, SPREAD, TORQUE, TORQUE_CONTROL, notes
from evenpull.report import ring_rows
from evenpull.report.interval_svg import interval_svg, interval_words
from evenpull.report.ring_svg import drawing_words, scale_of
from evenpull.store import services
from evenpull.store.services.predicting import outcome, result_of
from evenpull.web.context import author_of
from evenpull.web.ring_view import side_of
from evenpull.web.views.common import BadUploadError, found_or_404, needs_author, pdf, small_text

WAIT = 2.5  # s: so long a page waits for its ring before it says that it is being computed


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    return render(request, "web/predictions.html", {"rows": services.predictions()})


def whole_number(request: HttpRequest, name: str) -> int | None:
    """A number asked for in the address, None when it is not there; 404 when it is no number."""
    text = request.GET.get(name, "")
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) < 6):
        raise Http404(f"{name}: {text[:20]!r} is none: a whole number is needed")
    return int(text)


def view_of(request: HttpRequest, prediction_id: str) -> services.PredictionView | None:
    """The revision asked for; None while its ring is being computed. 404 when there is none."""
    number = whole_number(request, "revision")
    with found_or_404():
        if not services.result_work(prediction_id, number).ended.wait(WAIT):
            return None
        return services.prediction(prediction_id, number)


def still_searching(view: services.PredictionView, *numbers: int | None) -> str | None:
    """What a page waits for when it asks for a found procedure and the search has not ended; None when for nothing."""
    if max((number or 0 for number in numbers), default=0) <= len(view.result.outcomes):
        return None
    work = services.found_work(view)
    return None if work.ended.wait(WAIT) else work.what


def waiting(request: HttpRequest, what: str, back: str = "") -> HttpResponse:
    """A page that asks again by itself until what it waits for is there."""
    return render(request, "web/being_computed.html", {"what": what, "back": back}, status=202)


@require_safe
def one(request: HttpRequest, prediction_id: str) -> HttpResponse:
    view = view_of(request, prediction_id)
    if view is None:
        return waiting(request, f"every procedure of {prediction_id}")
    found = view.result.prediction
    if found.evenness is not None:
        services.found_work(view)
    if (left := still_searching(view, whole_number(request, "a"), whole_number(request, "b"))) is not None:
        return waiting(request, left)
    every = services.outcomes(view)
    first = _chosen(request, "a", len(every)) or 1
    second = _chosen(request, "b", len(every))
    top = scale_of([every[number - 1] for number in (first, second) if number])
    numbering = services.numbering_of(found)
    sides = [
        side_of(found.case, every[number - 1], number, key, whole_number(request, f"pull_{key}"), numbering, top)
        for key, number in (("a", first), ("b", second)) if number
    ]  # fmt: skip
    own = {one.outcome.procedure.name: one for one in services.found_now(view)}
    query = f"revision={view.row.number}&a={first}" + (f"&b={second}" if second else "")
    return render(
        request, "web/prediction.html",
        {
            "view": view, "row": view.row, "prediction": found, "sides": sides, "second": second, "first": first,
            "every": list(enumerate(every, start=1)), "query": query, "columns": ring_rows.COLUMNS,
            "rows": [(n, each, ring_rows.row_of(each)) for n, each in enumerate(every, start=1)],
            "demands": ring_rows.demands(every[first - 1]), "passes":
                ring_rows.crew_passes(found, every[first - 1].procedure),
            "facts": ring_rows.facts(found, numbering.words), "drawing_words": drawing_words(found.case, numbering),
            "notes": notes(), "interaction": INTERACTION_ONLY, "spread": SPREAD, "walk": ring_rows.WALK,
            "cautions": ring_rows.cautions(found), "has_scatter": services.has_scatter(found),
            "torque_control": TORQUE_CONTROL, "found": [own[each.procedure.name] for each in every
                                                        if each.procedure.name in own],
        },
    )  # fmt: skip


def _chosen(request: HttpRequest, name: str, count: int) -> int | None:
    number = whole_number(request, name)
    if number is not None and not 1 <= number <= count:
        raise Http404(f"there are the procedures 1 to {count}, not {number}")
    return number


@require_safe
def intervals(request: HttpRequest, prediction_id: str) -> HttpResponse:
    """Intervals of one procedure by torque control: a part of the page, or a page of its own without scripts."""
    view = view_of(request, prediction_id)
    if view is None:
        return waiting(request, f"every procedure of {prediction_id}")
    if (left := still_searching(view, whole_number(request, "a"))) is not None:
        return waiting(request, left)
    every = services.outcomes(view)
    procedure = every[(_chosen(request, "a", len(every)) or 1) - 1].procedure
    work = services.intervals_work(view, procedure)
    found, values = view.result.prediction, {"work": work, "view": view, "row": view.row, "floor": FLOOR}
    values |= {"again": request.get_full_path(), "torque_note": TORQUE, "torque_control": TORQUE_CONTROL}
    if work.state == "done":
        rows = services.intervals_now(view)
        values |= {
            # The drawing escapes every text it takes in.
            "svg": mark_safe(interval_svg(work.value, found.evenness)), "one": work.value,
            "words": interval_words(work.value, found.evenness), "columns": ring_rows.TORQUE_COLUMNS,
            "rows": [(one.procedure.name, ring_rows.torque_row(one)) for one in rows], "scatter": found.scatter,
            "bolts": list(zip(range(1, found.case.bolts.count + 1),
                              *((q.value / 1e3).round(1).tolist() for q in work.value.intervals.quantiles),
                              strict=True)),
            "levels": [f"{100 * q.q:g} %" for q in work.value.intervals.quantiles],
        }  # fmt: skip
    part = bool(request.headers.get("hx-request"))
    return render(request, "web/parts/intervals.html" if part else "web/intervals.html", values)


@require_safe
def found(request: HttpRequest, prediction_id: str) -> HttpResponse:
    """How far the search is: a part of the page."""
    view = view_of(request, prediction_id)
    if view is None:
        return waiting(request, f"every procedure of {prediction_id}")
    values = {"work": services.found_work(view), "row": view.row, "found": services.found_now(view)}
    part = bool(request.headers.get("hx-request"))
    return render(request, "web/parts/found.html" if part else "web/found.html", values)


@require_safe
def paper(request: HttpRequest, prediction_id: str) -> HttpResponse:
    """The PDF; while its intervals are being computed a page that asks again."""
    view = view_of(request, prediction_id)
    if view is None:
        return waiting(request, f"every procedure of {prediction_id}")
    if services.has_scatter(view.result.prediction):
        works = [services.intervals_work(view, each.procedure) for each in view.result.outcomes]
        left = [work for work in works if not work.ended.is_set()]
        if left:
            what = f"{left[0].what} ({len(works) - len(left)} of {len(works)} procedures are done)"
            return waiting(request, what, reverse("prediction", args=[prediction_id]))
    data = services.prediction_pdf(prediction_id, view.row.number, request.GET.get("paper", "a4"))
    return pdf(data, f"{prediction_id}.pdf")


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    return _write(request, start=ring_template(), prediction_id=None)


@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, prediction_id: str) -> HttpResponse:
    """A new revision of a known prediction; the earlier ones stay readable."""
    view = view_of(request, prediction_id)
    if view is None:
        return waiting(request, f"every procedure of {prediction_id}")
    return _write(request, start=view.result.prediction.text, prediction_id=prediction_id)


def _write(request: HttpRequest, *, start: str, prediction_id: str | None) -> HttpResponse:
    """The text is what is checked and kept; an uploaded file takes its place in the text field first."""
    text, name, errors, kept = start, "ring.toml", [], None
    if request.method == "POST":
        text = request.POST.get("text", "").replace("\r\n", "\n")
        try:
            if request.FILES.get("file") is not None:
                name, text = small_text(request, "file", name)
            read = read_prediction(text, name)
            if prediction_id is not None and read.id != prediction_id:
                errors = [f"ring.id: a revision keeps its id {prediction_id}; a new id is a new prediction."]
            else:
                kept = outcome(result_of(text, name))
        except SpecificationError as error:
            errors = [str(fault) for fault in error.faults]
        except (BadUploadError, services.Refused) as error:
            errors = [str(error)]
        if request.POST.get("do") == "save" and not errors:
            try:
                return _save(request, text, name)
            except services.Refused as error:  # what was typed is shown again with the reason
                errors = [str(error)]
    heading = f"New revision of {prediction_id}" if prediction_id else "New prediction"
    values = {"text": text, "errors": errors, "kept": None if errors else kept, "heading": heading, "help": ring_help(),
              "prediction_id": prediction_id, "interaction": INTERACTION_ONLY}  # fmt: skip
    return render(request, "web/prediction_text.html", values, status=422 if errors else 200)


@needs_author
def _save(request: HttpRequest, text: str, name: str) -> HttpResponse:
    row = services.add_prediction(text, name, author_of(request))
    if row.changed:
        messages.success(request, f"{row.id}, revision {row.revision}, written.")
    else:
        messages.success(request, f"{row.id}: the same text was there already; nothing was written.")
    return HttpResponseRedirect(reverse("prediction", args=[row.id]))
