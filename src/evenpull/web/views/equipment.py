"""The pages of the tool keeper: what there is, one instrument, what is due, certificates typed or read from tables."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from evenpull.equipment import ITEM_KINDS
from evenpull.equipment.read import EQUIPMENT_FORM
from evenpull.equipment.words import scale_of
from evenpull.equipment.write import value_written
from evenpull.intake.record import IntakeError
from evenpull.ledger.entry import Entry
from evenpull.ledger.words import render as line_of
from evenpull.plan import SpecificationError
from evenpull.quantities import unit_shown
from evenpull.store import services
from evenpull.store.services import instruments
from evenpull.store.services.equipment import CertificateRow
from evenpull.web.context import author_of
from evenpull.web.views.certificate_form import FORMS, Form, filled, first_rows
from evenpull.web.views.common import BadUploadError, found_or_404, needs_author, refused, small_text
from evenpull.web.waiting import chosen, waiting

ON_A_PAGE = 100
SHOWN_FAULTS = 40
HEADS = (  # what a mapping may leave open, with its label and a hint
    ("serial", "Serial", "as in the register"), ("number", "Number of the certificate", ""),
    ("calibrated", "Day of the calibration", "2026-03-02"), ("valid_from", "Valid from", "empty: that day"),
    ("valid_until", "Valid until", "2027-03-01"), ("laboratory", "Laboratory", ""),
    ("standards", "Reference standards", "ids with commas between"), ("replaces", "Replaces certificate", "or empty"),
    ("permissible", "Permissible deviation in %", "empty: that of the register"), ("rule", "Decision rule", ""),
    ("counter", "Counter at the calibration", "or empty"), ("adjusted", "What was adjusted", "or empty"),
)  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
def listing(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return _add(request)
    words, which = request.GET.get("q", "").strip(), request.GET.get("which", "")
    rows = instruments.listing(words, which)
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    query = urlencode({"q": words, "which": which})
    values = {"rows": page, "q": words, "which": which, "total": len(rows), "query": query,
              "choices": ("not to be used", "due", "assembly", *ITEM_KINDS), "form": EQUIPMENT_FORM}  # fmt: skip
    return render(request, "web/equipment.html", values)


@needs_author
def _add(request: HttpRequest) -> HttpResponse:
    back = reverse("equipment")
    try:
        name, text = small_text(request, "file", "equipment.toml")
        done = services.add_equipment(text, name, author_of(request))
    except (BadUploadError, SpecificationError, services.Refused) as error:
        return refused(request, error, back)
    said = "written" if done.changed else "as they were, nothing written"
    messages.success(request, f"{done.items} items and {done.assemblies} assemblies of {name}: {said}.")
    return HttpResponseRedirect(back)


@require_safe
def due(request: HttpRequest) -> HttpResponse:
    text = request.GET.get("within", "")
    within = int(text) if text.isascii() and text.isdigit() and len(text) <= 4 else instruments.DAYS_AHEAD
    rows = instruments.due(within=within)
    return render(request, "web/equipment_due.html", {"rows": rows, "within": within, "today": instruments.today()})


@require_safe
def one(request: HttpRequest, serial: str) -> HttpResponse:
    with found_or_404():
        found = instruments.instrument(serial)
    values = {
        "found": found, "certificates": [shown(view) for view in found.certificates],
        "scale": scale_of(found.item) if found.item and found.item.scale else "",
        "limits": _limits(found), "history": [line_of(e) for e in found.history],
        "checks": [_check(e) for e in found.checks], "today": instruments.today(),
    }  # fmt: skip
    return render(request, "web/instrument.html", values)


def _limits(found: instruments.InstrumentView) -> list[tuple[str, str]]:
    if found.item is None or not found.item.unit:
        return []
    unit, kind = found.item.unit, found.item.quantity
    assert kind is not None
    return [(f"{value_written(one.lower, unit, kind):g} to {value_written(one.upper, unit, kind):g} {unit_shown(unit)}",
             one.reason) for one in found.item.limits]


def _check(e: Entry) -> dict[str, object]:
    return {"at": e.at, "set": e.text("set"), "showed": e.text("device_value"), "device": e.text("device"),
            "result": e.text("result"), "by": e.by, "seq": e.seq}


def shown(view: instruments.CertificateView) -> dict[str, object]:
    """What a page shows of a certificate: its points with their decisions, in the unit in which they were written."""
    one = view.calibration
    kind, results = one.quantity, dict(view.results)
    decided = {id(p.point): p for _, judged, _ in view.judged if judged is not None for p in judged.points}
    points = []
    for index, point in enumerate(one.certificate.points):
        decision = decided.get(id(point))
        points.append({
            "point": point, "result": results.get(index), "decision": None if decision is None else decision.decision,
            **{name: f"{value_written(getattr(point, name), one.unit, kind):g}"
               for name in ("nominal", "indicated", "reference")},
        })
    limits = [(f"{value_written(limit.lower, one.unit, kind):g} to {value_written(limit.upper, one.unit, kind):g} "
               f"{unit_shown(one.unit)}", limit.reason) for limit in one.limits]
    return {"view": view, "one": one, "points": points, "unit": unit_shown(one.unit), "limits": limits,
            "svg": mark_safe(view.svg)}  # made by plot_svg, which escapes every text


@require_http_methods(["GET", "HEAD", "POST"])
def new_certificate(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return _typed(request)
    serial = request.GET.get("serial", "").strip()
    return render(request, "web/certificate_form.html", _form_values(first_rows(services.holdings(), serial)))


def _form_values(form: Form) -> dict[str, object]:
    return {"form": form, "words": FORMS}


@needs_author
def _typed(request: HttpRequest) -> HttpResponse:
    """Look at it, write it, or put more rows there: what is typed stays in every case."""
    form = filled(request.POST)
    act = request.POST.get("act", "look")
    if act == "rows":
        return render(request, "web/certificate_form.html", _form_values(form.longer()))
    file = f"typed certificate {form.head.get('number', '')}".strip()
    values = _form_values(form)
    try:
        found, doubts, problems = services.preview_certificates(form.text, file)
    except SpecificationError as error:
        form.told(error.errors)
        return render(request, "web/certificate_form.html", values, status=422)
    confirmed, why = request.POST.get("confirmed") == "yes", request.POST.get("why", "")
    if act == "write":
        try:
            rows = services.add_certificates(form.text, file, author_of(request), confirmed=confirmed, why=why)
        except services.Refused as error:
            form.other.append(str(error))
        else:
            return _written(request, rows)
    problems = tuple(text for text in problems if not (why and "say why" in text))
    values |= {"seen": [shown(instruments.certificate_view(one)) for one in found], "doubts": doubts,
               "problems": problems, "why": why, "corrects": any("say why" in text for text in problems) or bool(why)}
    return render(request, "web/certificate_form.html", values, status=422 if form.other else 200)


def _written(request: HttpRequest, rows: tuple[CertificateRow, ...]) -> HttpResponse:
    for row in rows:
        said = "written" if row.changed else "stands there already, and nothing was written"
        messages.success(request, f"Certificate {row.number} of {row.serial}: {said}.")
    for line in services.used_before(row.serial for row in rows):
        messages.warning(request, f"{line}.")
    return HttpResponseRedirect(address(rows[0].serial))


def address(serial: str) -> str:
    """The page of an instrument."""
    return reverse("instrument", args=[serial])


@require_http_methods(["GET", "HEAD", "POST"])
def table(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return _look(request)
    return render(request, "web/certificate_table.html", _table_values(request))


def _table_values(request: HttpRequest) -> dict[str, object]:
    given = request.POST if request.method == "POST" else request.GET
    return {
        "mappings": services.certificate_mappings(), "mapping": given.get("mapping", ""), "rules": FORMS["rule"][:-1],
        "heads": [(name, label, hint, given.get(f"h:{name}", given.get(name, ""))) for name, label, hint in HEADS],
    }  # fmt: skip


def _given(request: HttpRequest) -> dict[str, str]:
    return {name: text for name, _, _ in HEADS if (text := request.POST.get(f"h:{name}", "").strip())}


@needs_author
def _look(request: HttpRequest) -> HttpResponse:
    values = _table_values(request)
    try:
        name, path = chosen(request)
    except ValueError as error:
        return refused(request, error, reverse("certificate-table"))
    data = path.read_bytes()
    values |= {"name": name, "sha256": path.name}
    try:
        mapping = services.certificate_mapping(request.POST.get("mapping", ""))
        seen = services.preview_certificate_table(name, data, mapping, _given(request))
    except (IntakeError, services.Unknown, SpecificationError) as error:
        faults = error.errors[:SHOWN_FAULTS] if isinstance(error, SpecificationError) else ()
        values |= {"faults": faults, "error": None if faults else error}
        return render(request, "web/certificate_table.html", values, status=422)
    values |= {"seen": seen, "certificates": [shown(instruments.certificate_view(one))
                                              for one in seen.reading.calibrations],
               "given": _given(request), "corrects": any("say why" in text for text in seen.problems),
               "stops": [text for text in seen.problems if "say why" not in text]}  # fmt: skip
    return render(request, "web/certificate_table.html", values)


@require_POST
@needs_author
def commit(request: HttpRequest) -> HttpResponse:
    back = reverse("certificate-table")
    name = request.POST.get("name", "")
    try:
        path = waiting(request.POST.get("sha256", ""))
        data = path.read_bytes()
        mapping = services.certificate_mapping(request.POST.get("mapping", ""))
        rows = services.add_certificate_table(
            name, data, mapping, _given(request), author_of(request), confirmed=request.POST.get("confirmed") == "yes",
            why=request.POST.get("why", ""),
        )
    except (services.Unknown, services.Refused, IntakeError, SpecificationError) as error:
        return refused(request, error, back)
    except (ValueError, FileNotFoundError):
        return refused(request, ValueError("The previewed file is no longer waiting; choose it again."), back)
    path.unlink(missing_ok=True)
    return _written(request, rows)


@require_POST
@needs_author
def add_mapping(request: HttpRequest) -> HttpResponse:
    back = reverse("certificate-table")
    try:
        name, text = small_text(request, "file", "mapping.toml")
        row = services.add_certificate_mapping(text, name, author_of(request))
    except (BadUploadError, SpecificationError) as error:
        return refused(request, error, back)
    messages.success(request, f"Certificate mapping “{row.name}” {'written' if row.changed else 'as it was'}.")
    return HttpResponseRedirect(f"{back}?{urlencode({'mapping': row.name})}")


@require_POST
@needs_author
def withdraw(request: HttpRequest) -> HttpResponse:
    serial, number = request.POST.get("serial", ""), request.POST.get("number", "")
    try:
        back = address(serial)
    except NoReverseMatch:  # no serial of a register
        back = reverse("equipment")
    try:
        services.withdraw_certificate(serial, number, request.POST.get("why", ""), author_of(request))
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    messages.success(request, f"Certificate {number} of {serial} no longer counts for any day.")
    return HttpResponseRedirect(back)
