"""Cards, dispositions, signing, and the papers that come out."""

from __future__ import annotations

import tempfile
from pathlib import Path

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from evenpull.store import services
from evenpull.web.context import author_of, once_of, signed_again
from evenpull.web.views.common import TWICE, joint_or_404, needs_author, refused


def _pdf(data: bytes, name: str) -> HttpResponse:
    return HttpResponse(
        data, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )


@require_POST
@needs_author
def issue_card(request: HttpRequest, joint_id: str) -> HttpResponse:
    joint_or_404(joint_id)
    back = reverse("joint", args=[joint_id]) + "#cards"
    hours = request.POST.get("hours", "48")
    if not hours.isdecimal() or len(hours) > 3 or not 1 <= int(hours) <= 24 * 31:
        words = f"Valid for hours: {hours[:20]!r} is not a whole number from 1 to 744."
        return refused(request, ValueError(words), back)
    try:
        row, _ = services.issue_card(
            joint_id, request.POST.get("paper", "a4"), author_of(request), hours_valid=int(hours)
        )
    except services.Refused as error:
        return refused(request, error, back)
    messages.success(request, f"Card {row.serial} issued; it is valid until {row.valid_until:%Y-%m-%d %H:%M} UTC.")
    return HttpResponseRedirect(back)


@require_safe
def card(request: HttpRequest, serial: str) -> HttpResponse:
    try:
        return _pdf(services.card_pdf(serial), f"{serial}.pdf")
    except services.Unknown as error:
        raise Http404(str(error)) from error


@require_POST
@needs_author
def dispose(request: HttpRequest, joint_id: str) -> HttpResponse:
    back = reverse("joint", args=[joint_id]) + "#open"
    post = request.POST
    try:
        written = services.dispose(
            joint_id, post.get("flag", ""), post.get("action", ""), post.get("reason", ""), author_of(request),
            by_password=signed_again(request), once=once_of(request),
        )  # fmt: skip
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    messages.success(request, f"Recorded: {post.get('action', '')}." if written else TWICE)
    return HttpResponseRedirect(back)


@require_POST
@needs_author
def sign(request: HttpRequest, joint_id: str) -> HttpResponse:
    back = reverse("joint", args=[joint_id]) + "#release"
    try:
        post = request.POST
        row = services.sign_release(
            joint_id, author_of(request), post.get("statement", ""), seen=post.get("seen", ""),
            by_password=signed_again(request),
        )  # fmt: skip
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    messages.success(request, f"{joint_id}: {row.state}, signed by {row.author}.")
    return HttpResponseRedirect(back)


@require_safe
def report(request: HttpRequest, joint_id: str) -> HttpResponse:
    try:
        wanted = request.GET.get("release")
        data = services.release_pdf(joint_id, wanted)
    except services.Unknown as error:
        raise Http404(str(error)) from error
    return _pdf(data, f"{joint_id}-{'release' if wanted else 'draft'}.pdf")


@require_safe
def bundle(request: HttpRequest, joint_id: str) -> FileResponse:
    joint_or_404(joint_id)
    with tempfile.TemporaryDirectory() as folder:
        path = services.export_bundle(joint_id, Path(folder) / f"{joint_id}.zip")
        stream = path.open("rb")  # stays readable after the folder is gone
    return FileResponse(stream, as_attachment=True, filename=f"{joint_id}-evidence.zip")
