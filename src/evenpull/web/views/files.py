"""The raw files as received, and the state of the evidence log."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from evenpull.store import services

SHOWN_JOINTS = 200


@require_safe
def one(request: HttpRequest, sha256: str) -> HttpResponse:
    try:
        found = services.file(sha256)
    except services.Unknown as error:
        raise Http404(str(error)) from error
    values = {"file": found, "damage": services.raw_damage(sha256), "joints": _joints(found)}
    values["more_joints"] = len(found.joints) - len(values["joints"])
    return render(request, "web/file.html", values)


def _joints(found: services.FileView) -> list[tuple[str, str]]:
    """Each joint as the file writes it, with the id it is described under ("" when nobody has described it)."""
    shown = found.joints[:SHOWN_JOINTS]
    ids = services.described(shown)
    return [(name, ids.get(services.fold(name), "")) for name in shown]


@require_safe
def raw(request: HttpRequest, sha256: str) -> FileResponse:
    """The bytes exactly as received; always a download, so that nothing in them is run by the browser."""
    try:
        found = services.file(sha256)
    except services.Unknown as error:
        raise Http404(str(error)) from error
    return FileResponse(
        services.checked_raw(sha256).open("rb"),  # refused when it was changed on the disk
        as_attachment=True,
        filename=found.name,
        content_type="application/octet-stream",
    )


@require_safe
def log(request: HttpRequest) -> HttpResponse:
    values = {"log": services.log_status(), "latest": services.latest_facts(50), "stamps": services.stamps()}
    if "check" in request.GET:  # reads the whole log, so only when asked for
        values |= {"checked": True, "problems": services.check_log()}
    return render(request, "web/log.html", values)
