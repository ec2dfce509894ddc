"""Which tools are fit for the pulls of a joint on a day, why the others are not, and in which order to take them."""

from __future__ import annotations

from datetime import UTC, date, datetime

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from evenpull.store import services
from evenpull.store.services import fitting

MOST = 25  # tools that are not allowed, on one page


@require_safe
def one(request: HttpRequest, joint_id: str) -> HttpResponse:
    """`day` and `until` in the address: first and last day of use; today where they are not given."""
    today, faults = datetime.now(UTC).date(), list[str]()
    day = _day(request.GET.get("day", ""), today, faults)
    until = _day(request.GET.get("until", ""), day, faults)
    if until < day:
        faults.append(f"The last day {until} is before the first, {day}.")
        until = day
    try:
        table = fitting.table(joint_id, day, until)
    except services.UnknownJoint as error:
        raise Http404(str(error)) from error
    values = {
        "joint_id": joint_id, "table": table, "faults": faults, "today": today,
        "others": table.not_allowed[:MOST], "more": max(0, len(table.not_allowed) - MOST),
    }
    return render(request, "web/joint_tools.html", values, status=400 if faults else 200)


def _day(text: str, otherwise: date, faults: list[str]) -> date:
    if not text.strip():
        return otherwise
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        faults.append(f"{text[:20]!r} is no day; write it as {otherwise}.")
        return otherwise
