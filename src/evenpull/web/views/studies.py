"""Studies: the list, one study with its figures, writing one, running it from the page or from a printed card."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from evenpull.plan import SpecificationError
from evenpull.report.plot_svg import plot_svg
from evenpull.report.study_card import MOST_LINES
from evenpull.store import services
from evenpull.study import drawn_order, judge, read_study
from evenpull.study.guide import study_help, study_template
from evenpull.study.model import KINDS, Study
from evenpull.study.read import Beside
from evenpull.study.result import ANSWERS
from evenpull.study.safety import cautions_of, rules_of
from evenpull.web.context import author_of
from evenpull.web.views.common import BadUploadError, found_or_404, kept_pdf, needs_author, refused, small_text
from evenpull.web.views.predictions import whole_number

READINGS_NAME = "readings.csv"


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    rows = [(row, services.standing_of(row.claim)) for row in services.studies()]
    return render(request, "web/studies.html", {"rows": rows})


def view_of(request: HttpRequest, study_id: str) -> services.StudyView:
    """The revision that the address asks for; 404 when there is none."""
    with found_or_404():
        return services.study(study_id, whole_number(request, "revision"))


@require_safe
def one(request: HttpRequest, study_id: str) -> HttpResponse:
    view = view_of(request, study_id)
    result, study = view.result, view.result.study
    return render(
        request, "web/study.html",
        {
            "view": view, "row": view.row, "result": result, "study": study, "outcome": result.outcome,
            # The drawing escapes every text it takes in.
            "plots": [(plot, mark_safe(plot_svg(plot))) for plot in result.outcome.plots],
            "cards": services.cards_of_study(study_id), "answers": ANSWERS, "most": MOST_LINES,
            "places": len(study.places), "left": len(study.missing),
        },
    )  # fmt: skip


# writing -------------------------------------------------------------------------------------------------------------


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    kind = request.GET.get("kind", KINDS[0])
    start = study_template(kind if kind in KINDS else KINDS[0])
    return _write(request, start=(start, ""), study_id=None)


@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, study_id: str) -> HttpResponse:
    """A new revision of a known study; the earlier ones stay readable."""
    view = view_of(request, study_id)
    study = view.result.study
    return _write(request, start=(study.text, study.rows), study_id=study_id)


def _write(request: HttpRequest, *, start: tuple[str, str], study_id: str | None) -> HttpResponse:
    """The texts are what is checked and kept; uploaded files take their places in the text fields first."""
    text, rows = start
    name, rows_name, errors, result = "study.toml", READINGS_NAME, [], None
    if request.method == "POST":
        text, rows = (request.POST.get(field, "").replace("\r\n", "\n") for field in ("text", "readings"))
        try:
            if request.FILES.get("file") is not None:
                name, text = small_text(request, "file", name)
            if request.FILES.get("readings_file") is not None:
                rows_name, rows = small_text(request, "readings_file", rows_name)
            read = read_study(text, name, beside_of(rows, rows_name))
            if study_id is not None and read.id != study_id:
                errors = [f"study.id: a revision keeps its id {study_id}; a new id is a new study."]
            else:
                result = judge(read)
        except SpecificationError as error:
            errors = [str(fault) for fault in error.faults]
        except BadUploadError as error:
            errors = [str(error)]
        if request.POST.get("do") == "save" and not errors:
            try:
                return _save(request, text, name, beside_of(rows, rows_name))
            except services.Refused as error:  # what was typed is shown again with the reason
                errors = [str(error)]
    heading = f"New revision of {study_id}" if study_id else "New study"
    values = {"text": text, "readings": rows, "errors": errors, "result": None if errors else result,
              "heading": heading, "study_id": study_id, "help": study_help(), "kinds": KINDS}  # fmt: skip
    return render(request, "web/study_text.html", values, status=422 if errors else 200)


def beside_of(rows: str, name: str) -> Beside | None:
    """Readings beside the file; None where the field is empty."""
    return (rows, name) if rows.strip() else None


@needs_author
def _save(request: HttpRequest, text: str, name: str, beside: Beside | None) -> HttpResponse:
    row = services.add_study(text, name, author_of(request), readings=beside)
    if row.changed:
        messages.success(request, f"{row.id}, revision {row.revision} ({row.number}), written.")
    else:
        messages.success(request, f"{row.id}: the same texts were there already; nothing was written.")
    return HttpResponseRedirect(reverse("study", args=[row.id]))


# running -------------------------------------------------------------------------------------------------------------


@require_http_methods(["GET", "HEAD", "POST"])
def run(request: HttpRequest, study_id: str) -> HttpResponse:
    """The readings in their drawn order, with fields; those of one person, or of a printed card, alone where the
    address says so."""
    view = view_of(request, study_id)
    study = view.result.study
    card, person = request.GET.get("card", ""), request.GET.get("person", "")
    if card:
        try:
            person = services.card_to_type(card).person
        except services.Refused as error:
            return refused(request, error, reverse("study", args=[study_id]))
    if person and person not in study.persons:
        raise Http404(f"{person[:60]!r} is not a person of {study_id}; there are: {', '.join(study.persons)}")
    faults: dict[int, str] = {}
    errors: list[str] = []
    if request.method == "POST":
        try:
            return _type(request, study_id, card, person)
        except services.TypingError as error:
            faults = error.faults
        except (services.Refused, SpecificationError) as error:
            errors = [str(error)]
    lines = _lines(request, study, person, faults)
    values = {
        "view": view, "row": view.row, "study": study, "lines": lines, "person": person, "card": card,
        "errors": errors, "faults": len(faults), "seen": request.POST.get("seen", str(len(view.revisions))),
        "rules": rules_of(study), "cautions": cautions_of(study, {tool.kind for tool in services.tools()
                                                                  if tool.serial in study.tools}),
        "most": MOST_LINES, "too_many": len(lines) > MOST_LINES, "own_file": bool(study.readings) and not study.rows,
    }  # fmt: skip
    return render(request, "web/study_run.html", values, status=422 if faults or errors else 200)


def _lines(request: HttpRequest, study: Study, person: str, faults: dict[int, str]) -> list[dict[str, object]]:
    """One line for each place: what stands there, what was typed, what is wrong with it."""
    counted = study.counted
    unread = {one.place: one for one in study.readings if one.value is None and not one.left_out}
    found = []
    for number, place in enumerate(drawn_order(study), start=1):
        if person and place[0] != person:
            continue
        there = counted.get(place)
        found.append({
            "number": number, "person": place[0], "part": place[1], "replicate": place[2],
            "there": None if there is None else there.text, "noted": "" if there is None else there.remark,
            "value": request.POST.get(f"v:{number}", "" if there is None else there.text),
            "remark": request.POST.get(f"r:{number}", unread[place].remark if place in unread else ""),
            "fault": faults.get(number, ""),
        })  # fmt: skip
    return found


@needs_author
def _type(request: HttpRequest, study_id: str, card: str, person: str) -> HttpResponse:
    typed = {
        int(key[2:]): services.Typed(value, request.POST.get(f"r:{key[2:]}", ""))
        for key, value in request.POST.items()
        if key.startswith("v:") and key[2:].isascii() and key[2:].isdecimal() and len(key) < 8
    }
    seen = request.POST.get("seen", "")
    if not (seen.isascii() and seen.isdecimal() and len(seen) < 6):
        raise services.Refused("the form does not say which revision it started from. Nothing was written; open the "
                               "page again.")  # fmt: skip
    row = services.type_readings(study_id, typed, author_of(request), seen=int(seen), card=card)
    if row.changed:
        messages.success(request, f"{row.id}: written as revision {row.number}. {row.outcome.line}")
    else:
        messages.success(request, f"{row.id}: nothing was typed that is not there already; nothing was written.")
    again = row.outcome.state == "incomplete" and not card
    target = reverse("run-study" if again else "study", args=[study_id])
    return HttpResponseRedirect(target + (f"?{urlencode({'person': person})}" if again and person else ""))


@require_POST
@needs_author
def issue_card(request: HttpRequest, study_id: str) -> HttpResponse:
    back = reverse("study", args=[study_id]) + "#run"
    try:
        row, _ = services.issue_study_card(
            study_id, request.POST.get("paper", "a4"), author_of(request), request.POST.get("person", "")
        )
    except services.Unknown as error:
        raise Http404(str(error)) from error
    except services.Refused as error:
        return refused(request, error, back)
    messages.success(request, f"Card {row.serial} printed: {row.lines} readings on {row.pages} pages.")
    return HttpResponseRedirect(back)


@require_safe
def card(request: HttpRequest, serial: str) -> HttpResponse:
    return kept_pdf(services.study_card_pdf, serial)


@require_safe
def find_card(request: HttpRequest) -> HttpResponse:
    """The serial on a card that came back leads to the fields of its readings."""
    serial = request.GET.get("serial", "")
    try:
        found = services.card_to_type(serial)
    except services.Refused as error:
        return refused(request, error, reverse("studies"))
    return HttpResponseRedirect(f"{reverse('run-study', args=[found.study])}?{urlencode({'card': found.serial})}")
