"""The raw files as received, and the state of the evidence log."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from evenpull.intake.withdrawn import LEAST_REASON, MOST_REASON
from evenpull.store import services
from evenpull.store.access import may
from evenpull.store.services import equipment
from evenpull.web.context import author_of, signed_again
from evenpull.web.views.common import found_or_404, needs_author

SHOWN_JOINTS = 200


@require_safe
def one(request: HttpRequest, sha256: str) -> HttpResponse:
    return _page(request, sha256)


def _page(request: HttpRequest, sha256: str, **typed: str) -> HttpResponse:
    """The page of a file; `typed`: reason and refusal when the reading could not be withdrawn."""
    with found_or_404():
        found = services.file(sha256)
    joints = _joints(found)
    allowed = not getattr(request, "guarded", False) or may(request.user.role, "withdraw")
    plan = services.plan_withdrawal(sha256) if found.withdrawn is None and allowed else None
    values = {
        "file": found, "damage": services.raw_damage(sha256), "joints": joints,
        "more_joints": len(found.joints) - len(joints), "plan": plan,
        "taken_from": [] if plan is None else list(plan.joints.items())[:SHOWN_JOINTS],
        "taken_more": 0 if plan is None else max(0, len(plan.joints) - SHOWN_JOINTS),
        "least": LEAST_REASON, "most": MOST_REASON,
    }  # fmt: skip
    return render(request, "web/file.html", values | typed, status=422 if typed else 200)


@require_POST
@needs_author
def withdraw(request: HttpRequest, sha256: str) -> HttpResponse:
    post = request.POST
    why, seen = post.get("why", ""), post.get("reading", "")
    try:
        if post.get("confirmed") != "yes" or not (seen.isascii() and seen.isdecimal() and len(seen) < 18):
            raise services.Refused("confirm first that these records shall no longer count. Nothing was written.")
        done = services.withdraw_reading(
            sha256, why, author_of(request), reading=int(seen), by_password=signed_again(request)
        )
    except services.Refused as error:
        return _page(request, sha256, why=why, refusal=str(error))
    except services.Unknown as error:
        raise Http404(str(error)) from error
    messages.success(request, f"The reading of {done.name} is withdrawn. The file may be taken in again.")
    return HttpResponseRedirect(reverse("file", args=[sha256]))


def _joints(found: services.FileView) -> list[tuple[str, str]]:
    """Each joint as the file writes it, with the id it is described under ("" when nobody has described it)."""
    shown = found.joints[:SHOWN_JOINTS]
    ids = services.described(shown)
    return [(name, ids.get(services.fold(name), "")) for name in shown]


@require_safe
def raw(request: HttpRequest, sha256: str) -> FileResponse:
    """The bytes exactly as received; always a download, so that nothing in them is run by the browser."""
    try:
        name = services.file(sha256).name
    except services.Unknown as error:
        try:
            name = equipment.file_name(sha256)
        except services.Unknown:
            raise Http404(str(error)) from error
    return FileResponse(
        services.checked_raw(sha256).open("rb"),  # refused when it was changed on the disk
        as_attachment=True,
        filename=name,
        content_type="application/octet-stream",
    )


@require_safe
def log(request: HttpRequest) -> HttpResponse:
    values = {"log": services.log_status(), "latest": services.latest_facts(50), "stamps": services.stamps()}
    if "check" in request.GET:  # reads the whole log, so only when asked for
        values |= {"checked": True, "problems": services.check_log()}
    return render(request, "web/log.html", values)
