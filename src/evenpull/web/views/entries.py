"""Writing entries: one form for every kind, made from the table of kinds."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from evenpull.catalogue.cautions import cautions_for
from evenpull.ledger.entry import BASES, EntryError
from evenpull.ledger.kinds import KINDS, Kind
from evenpull.store import services
from evenpull.store.access import SIGNATURE_MEANING
from evenpull.store.services.index import written_once
from evenpull.web.context import author_of, once_of, signed_again
from evenpull.web.views.common import TWICE, joint_or_404, needs_author

SUBJECTS = ("tool", "person", "lot")
BLANK = {"fasteners": "", "unit": "", "at": "", "unsure": "0", "basis": "did it", "reason": ""}


@require_http_methods(["GET", "HEAD", "POST"])
def of_joint(request: HttpRequest, joint_id: str) -> HttpResponse:
    spec = joint_or_404(joint_id).spec
    cautions = cautions_for(spec.kind, set(), spec.fasteners.strength_class, spec.fasteners.tapped_material, "opening")
    back = reverse("joint", args=[spec.id]) + "#life"
    unit = spec.series.unit_name if spec.series else ""
    return _page(request, "joint", spec.id, f"Entry on {spec.id}", back, cautions, unit)


@require_http_methods(["GET", "HEAD", "POST"])
def other(request: HttpRequest) -> HttpResponse:
    subject = request.GET.get("subject", "tool")
    if subject not in SUBJECTS:
        raise Http404(f"there are entries about: {', '.join(SUBJECTS)}")
    name = (request.POST if request.method == "POST" else request.GET).get("name", "")
    back = f"{reverse('audit-find')}?what={subject}&name={name}"
    return _page(request, subject, name, f"Entry on a {subject}", back, (), "")


def _page(
    request: HttpRequest, subject: str, name: str, heading: str, back: str, cautions: Any, unit: str
) -> HttpResponse:
    kinds = [kind for kind in KINDS.values() if kind.subject == subject]
    wanted = (request.POST if request.method == "POST" else request.GET).get("kind", "")
    known = wanted in KINDS and KINDS[wanted].subject == subject
    kind = KINDS[wanted] if known else kinds[0]
    faults: dict[str, list[str]] = defaultdict(list)
    typed = BLANK | {key: value for key, value in request.POST.items() if key in BLANK}
    if request.method == "POST" and not known:
        # The role was asked for the kind that was named, so no other kind may be written in its place.
        faults[""].append(f"{wanted[:40]!r} is no entry about a {subject}. Nothing was written.")
    elif request.method == "POST":
        try:
            return _write(request, kind, name, typed, back)
        except EntryError as error:
            for field, what, allowed in error.faults:
                faults[field].append(f"{what}; allowed: {allowed}")
        except services.Refused as error:
            faults[""].append(str(error))
    fields = [
        {"name": f.name, "label": f.label, "form": f.form, "required": f.required, "choices": f.choices, "help": f.help,
         "value": request.POST.get(f"f:{f.name}", ""), "errors": faults.pop(f.name, [])}
        for f in kind.fields
    ]  # fmt: skip
    shown = ("fasteners", "at", "at_uncertainty", "reason")
    values = {
        "subject": subject, "name": name, "heading": heading, "kinds": kinds, "kind": kind, "fields": fields,
        "typed": typed, "bases": BASES, "unit_name": unit, "cautions": cautions if kind.caution else (),
        "signed": SIGNATURE_MEANING.get(kind.act, ""),  # type: ignore[call-overload]
        "errors": dict(faults), "other_errors": [t for n, ts in faults.items() if n not in shown for t in ts],
    }  # fmt: skip
    return render(request, "web/entry.html", values, status=422 if request.method == "POST" else 200)


@needs_author
def _write(request: HttpRequest, kind: Kind, name: str, typed: dict[str, str], back: str) -> HttpResponse:
    faults = []
    at, unsure = None, 0.0
    if typed["at"].strip():
        try:
            at = datetime.strptime(typed["at"].strip(), "%Y-%m-%d %H:%M").replace(tzinfo=UTC)
        except ValueError:
            faults.append(("at", f"{typed['at'][:40]!r} is not a moment", "2026-03-18 13:40"))
    try:
        unsure = 60 * float(typed["unsure"].replace(",", ".") or 0)
    except ValueError:
        faults.append(("at_uncertainty", f"{typed['unsure'][:40]!r} is not a number", "minutes"))
    if faults:
        raise EntryError(kind.name, tuple(faults))
    if at is not None and at > datetime.now(UTC) + timedelta(minutes=1):
        raise EntryError(kind.name, (("at", "lies in the future", "now or earlier, in UTC"),))
    values = {key.removeprefix("f:"): value for key, value in request.POST.items() if key.startswith("f:")}
    mark = once_of(request)
    twice = mark != "" and written_once(mark) is not None
    services.add_entry(
        kind.name, name, values, author_of(request), unit=typed["unit"], fasteners=typed["fasteners"], at=at,
        at_uncertainty=unsure, basis=typed["basis"], reason=typed["reason"],  # type: ignore[arg-type]
        by_password=signed_again(request), once=mark,
    )  # fmt: skip
    messages.success(request, TWICE if twice else f"Written: {kind.label}.")
    return HttpResponseRedirect(back)
