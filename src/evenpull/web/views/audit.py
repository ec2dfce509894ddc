"""The pages of an audit. They only read."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from evenpull.ledger.people import blocked
from evenpull.ledger.words import render as line_of
from evenpull.store import services
from evenpull.store.services import audit, audit_people, audit_start, audit_tools, kept_tools, review_marks
from evenpull.store.services.fact_kinds import ALL as FACT_KINDS
from evenpull.study.sampled import siblings_looked_at
from evenpull.web.views.audit_answers import number
from evenpull.web.views.common import found_or_404

SHOWN_FASTENERS = 500


@require_safe
def start(request: HttpRequest) -> HttpResponse:
    groups: dict[str, list[audit_start.Answer]] = {}
    for answer in audit_start.answers():
        groups.setdefault(answer.group, []).append(answer)
    drawn = [words for what in ("joint", "tool") if (words := audit.drawn_from(what))]
    return render(request, "web/audit.html", {"groups": groups, "start": reverse("audit"), "drawn": drawn})


@require_safe
def draw(request: HttpRequest, what: str) -> HttpResponse:
    with found_or_404():
        name = audit.draw(what)
    if not name:
        messages.info(request, f"There is no {what} to be drawn yet: no fact names one.")
        return HttpResponseRedirect(reverse("audit"))
    return HttpResponseRedirect(f"{reverse('audit-find')}?{urlencode({'what': what, 'name': name})}")


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    what, name = request.GET.get("what", "joint"), " ".join(request.GET.get("name", "").split())
    before = number(request.GET.get("before", ""))
    with found_or_404():
        if what == "joint":
            known = services.described([name]).values()
            if not known:
                raise services.Unknown(f"no joint {name!r} is described here")
            return HttpResponseRedirect(reverse("joint", args=[next(iter(known))]))
        if what == "tool":
            tool = audit.tool(name, before)
            now = datetime.now(UTC)
            values = {"found": tool, "entries": [line_of(e) for e in tool.entries],
                      "barred": blocked(tool.entries, now, now), "trips": audit_tools.trips(name, tool.entries),
                      "clock": audit_tools.clock_entries(name), "reviews": review_marks.of_tool(name),
                      "studies": _studies("tool", name),
                      "checks": sum(e.kind == "shift check" for e in tool.entries),
                      "known": name in kept_tools.kept().held.serials}  # fmt: skip
            return render(request, "web/audit_tool.html", values)
        if what == "person":
            person = audit.person(name, before)
            values = {"found": person, "entries": [line_of(e) for e in person.entries],
                      "refused": audit_people.refused_to(name), "studies": _studies("person", name)}  # fmt: skip
            return render(request, "web/audit_person.html", values)
        if what == "lot":
            lot = audit.lot(name)
            rows = lot.fasteners[:SHOWN_FASTENERS]
            values = {"found": lot, "entries": [line_of(e) for e in lot.entries], "rows": rows,
                      "total": len(lot.fasteners), "more": len(lot.fasteners) - len(rows)}  # fmt: skip
            return render(request, "web/audit_lot.html", values)
    raise Http404(f"{what!r} cannot be looked up; there are: joint, tool, person, lot")


def _studies(what: str, name: str) -> list[tuple[services.StudyRow, services.Standing]]:
    """Studies that name it, each with what it counts for."""
    return [(row, services.standing_of(row.claim)) for row in services.studies_naming(what, name)]


@require_safe
def changes(request: HttpRequest) -> HttpResponse:
    chosen = {name: request.GET.get(name, "").strip() for name in ("kind", "author", "joint", "until")}
    until = None
    if chosen["until"]:
        try:
            until = datetime.combine(date.fromisoformat(chosen["until"]) + timedelta(days=1), time(), UTC)
        except (ValueError, OverflowError):
            raise Http404(f"{chosen['until'][:40]!r} is not a day; write it as 2026-03-18") from None
    page = audit.changes(
        kind=chosen["kind"], author=chosen["author"], joint=chosen["joint"], until=until,
        before=number(request.GET.get("before", "")),
    )  # fmt: skip
    query = urlencode({name: value for name, value in chosen.items() if value})
    values = {
        "heading": "What was written, and when", "page": page, "filters": True, "kinds": FACT_KINDS, "chosen": chosen,
    }  # fmt: skip
    return render(request, "web/audit_changes.html", values | {"query": f"{query}&" if query else ""})


@require_safe
def recurrences(request: HttpRequest) -> HttpResponse:
    return render(request, "web/audit_recurrences.html", {"found": audit.recurrences()})


@require_safe
def siblings(request: HttpRequest, joint_id: str) -> HttpResponse:
    try:
        shared = audit.siblings(joint_id)
    except services.UnknownJoint as error:
        raise Http404(str(error)) from error
    joints = {row.joint for rows in shared.values() for row in rows}
    looked = siblings_looked_at(services.entries("joint", joint_id), joints)
    return render(request, "web/siblings.html", {"joint_id": joint_id, "shared": shared, "looked": looked})
