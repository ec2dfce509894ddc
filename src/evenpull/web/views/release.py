"""Cards, dispositions, signing, and the papers that come out."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from evenpull.store import services
from evenpull.web import present
from evenpull.web.context import author_of, once_of, signed_again
from evenpull.web.views.common import TWICE, found_or_404, joint_or_404, kept_pdf, needs_author, pdf, refused


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
            joint_id, request.POST.get("paper", "a4"), author_of(request), hours_valid=int(hours),
            version=request.POST.get("version", "plain"),
        )
    except services.Refused as error:
        return refused(request, error, back)
    messages.success(request, f"Card {row.serial} issued; it is valid until {row.valid_until:%Y-%m-%d %H:%M} UTC.")
    return HttpResponseRedirect(back)


@require_safe
def card(request: HttpRequest, serial: str) -> HttpResponse:
    return kept_pdf(services.card_pdf, serial)


@require_safe
def decide_together(request: HttpRequest, joint_id: str) -> HttpResponse:
    """The points that were ticked, or all open ones of a kind, each in full, with one form for all of them."""
    view = joint_or_404(joint_id)
    back = reverse("joint", args=[joint_id]) + "#open"
    ticked, code = set(request.GET.getlist("flag")), request.GET.get("code", "")
    chosen = [flag for flag in view.proof.open_flags if flag.key in ticked or flag.code == code]
    codes = sorted({flag.code for flag in chosen})
    actions = present.actions_for(chosen[0], view.spec.joint_class) if len(codes) == 1 else []
    why = (
        "Tick the points first: none that is open was chosen." if not chosen
        else f"One decision is on points of one kind; those ticked are of {len(codes)}: {', '.join(codes)}."
        if len(codes) > 1 else "" if actions else f"No decision closes {codes[0]!r}."
    )
    if gone := len(ticked - {flag.key for flag in chosen}):
        messages.info(request, f"{gone} of the points ticked are not open any more; they are not in this list.")
    if why:
        return refused(request, ValueError(f"{why} Nothing was written."), back)
    keys = json.dumps([flag.key for flag in chosen])
    values = {"spec": view.spec, "chosen": chosen, "code": codes[0], "actions": actions, "keys": keys, "back": back}
    return render(request, "web/decide.html", values)


def _flags_of(post: QueryDict) -> list[str]:
    """The keys that a form names: one, or a list of many as JSON. ValueError for anything else."""
    if "flags" not in post:
        return [post.get("flag", "")]
    keys = json.loads(post["flags"])
    if not isinstance(keys, list) or not all(isinstance(key, str) for key in keys):
        raise ValueError("not a list of points")
    return keys


@require_POST
@needs_author
def dispose(request: HttpRequest, joint_id: str) -> HttpResponse:
    back = reverse("joint", args=[joint_id]) + "#open"
    post = request.POST
    try:
        keys = _flags_of(post)
    except ValueError:
        return refused(request, ValueError("The list of points cannot be read. Nothing was written."), back)
    try:
        flags = services.dispose_of(
            joint_id, keys, post.get("action", ""), post.get("reason", ""), author_of(request),
            by_password=signed_again(request), once=once_of(request),
        )  # fmt: skip
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    on = f", on {len(flags)} points" if len(flags) > 1 else ""
    messages.success(request, f"Recorded: {post.get('action', '')}{on}." if flags else TWICE)
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
    with found_or_404():
        wanted = request.GET.get("release")
        data = services.release_pdf(joint_id, wanted)
    return pdf(data, f"{joint_id}-{'release' if wanted else 'draft'}.pdf")


@require_safe
def bundle(request: HttpRequest, joint_id: str) -> FileResponse:
    joint_or_404(joint_id)
    with tempfile.TemporaryDirectory() as folder:
        path = services.export_bundle(joint_id, Path(folder) / f"{joint_id}.zip")
        stream = path.open("rb")  # stays readable after the folder is gone
    return FileResponse(stream, as_attachment=True, filename=f"{joint_id}-evidence.zip")
