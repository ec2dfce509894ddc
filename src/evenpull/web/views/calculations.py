"""Calculations: the list, one sheet with its plots and comparison, its paper, and writing one from text or file."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_safe

from evenpull.calculation import (
    Sheet,
    calculation_help,
    calculation_template,
    make_sheet,
    read_calculation,
    scatter,
)
from evenpull.calculation.cautions import caution_words
from evenpull.joint.rules import rule_sets
from evenpull.plan import SpecificationError
from evenpull.report.calculation import HOW, Drawn, draw
from evenpull.report.plot_svg import plot_svg
from evenpull.store import services
from evenpull.web.context import author_of
from evenpull.web.views.common import BadUploadError, found_or_404, needs_author, pdf, small_text


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    return render(request, "web/calculations.html", {"rows": services.calculations(), "rule_sets": rule_sets()})


def _number(request: HttpRequest) -> int | None:
    """The revision asked for in the address; 404 when it is no number."""
    text = request.GET.get("revision", "")
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) < 6):
        raise Http404(f"{text[:20]!r} is no revision: a whole number is needed")
    return int(text)


def _view(calculation_id: str, number: int | None) -> services.CalculationView:
    with found_or_404():
        return services.calculation(calculation_id, number)


@require_safe
def one(request: HttpRequest, calculation_id: str) -> HttpResponse:
    view = _view(calculation_id, _number(request))
    drawn = draw(view.sheet)
    return render(
        request, "web/calculation.html",
        {
            "view": view, "row": view.row, "sheet": view.sheet, "calculation": view.sheet.calculation, "drawn": drawn,
            # The drawing escapes every text it takes in.
            "plots": [(plot, mark_safe(plot_svg(plot))) for plot in drawn.plots],
            "how": HOW, "cautions": caution_words(view.sheet.calculation.case), "scatter": _scatter(view.sheet, drawn),
            "changes": [(was, now) for was, now in zip(view.row.outcome, view.now, strict=True) if was != now],
        },
    )  # fmt: skip


def _scatter(sheet: Sheet, drawn: Drawn) -> dict[str, object]:
    """Spread and advice as the page shows them."""
    found = sheet.scatter
    return {
        "problem": found.problem, "facts": scatter.facts(found), "columns": scatter.COLUMNS,
        "rows": scatter.rows(found.spread) if found.spread else (),
        "notes": scatter.notes(found.spread) if found.spread else (),
        "inputs": scatter.inputs(found.spread) if found.spread else (),
        "plots": [(plot, mark_safe(plot_svg(plot))) for plot in drawn.scatter],
        "advice": found.advice, "way_columns": scatter.WAY_COLUMNS,
        "sentences": scatter.sentences(found.advice) if found.advice else (),
        "ways": scatter.ways(found.advice) if found.advice else (),
    }  # fmt: skip


@require_safe
def paper(request: HttpRequest, calculation_id: str) -> HttpResponse:
    with found_or_404():
        data = services.calculation_pdf(calculation_id, _number(request), request.GET.get("paper", "a4"))
    return pdf(data, f"{calculation_id}.pdf")


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    return _write(request, start=calculation_template(), calculation_id=None)


@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, calculation_id: str) -> HttpResponse:
    """A new revision of a known calculation; the earlier ones stay readable."""
    return _write(request, start=_view(calculation_id, None).sheet.calculation.text, calculation_id=calculation_id)


def _write(request: HttpRequest, *, start: str, calculation_id: str | None) -> HttpResponse:
    """The text is what is checked and kept; an uploaded file takes its place in the text field first."""
    text, name, errors, sheet = start, "calculation.toml", [], None
    if request.method == "POST":
        text = request.POST.get("text", "").replace("\r\n", "\n")
        try:
            if request.FILES.get("file") is not None:
                name, text = small_text(request, "file", name)
            read = read_calculation(text, name)
            if calculation_id is not None and read.id != calculation_id:
                errors = [f"calculation.id: a revision keeps its id {calculation_id}; a new id is a new calculation."]
            else:
                sheet = make_sheet(read)
        except SpecificationError as error:
            errors = [str(fault) for fault in error.faults]
        except BadUploadError as error:
            errors = [str(error)]
        if request.POST.get("do") == "save" and not errors:
            try:
                return _save(request, text, name)
            except services.Refused as error:  # what was typed is shown again with the reason
                errors = [str(error)]
    heading = f"New revision of {calculation_id}" if calculation_id else "New calculation"
    values = {"text": text, "errors": errors, "sheet": sheet, "heading": heading, "calculation_id": calculation_id,
              "help": calculation_help(), "rule_sets": rule_sets()}  # fmt: skip
    return render(request, "web/calculation_text.html", values, status=422 if errors else 200)


@needs_author
def _save(request: HttpRequest, text: str, name: str) -> HttpResponse:
    row = services.add_calculation(text, name, author_of(request))
    if row.changed:
        messages.success(request, f"{row.id}, revision {row.revision}, written.")
    else:
        messages.success(request, f"{row.id}: the same text was there already; nothing was written.")
    return HttpResponseRedirect(reverse("calculation", args=[row.id]))
