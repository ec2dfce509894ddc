"""Torque-angle curves: files taken in and judged, windows learned, all judged again and what changed."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, StreamingHttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from evenpull.curve.columns import CurveError
from evenpull.curve.version import RULES_VERSION
from evenpull.store import services
from evenpull.store.services import curves_judging, curves_kept, curves_learning, curves_rejudging, curves_taking
from evenpull.store.services.curves_kept import CurveFileRow
from evenpull.web.context import author_of
from evenpull.web.views.common import found_or_404, needs_author, refused

MOST_UPLOAD = 500_000_000  # bytes by a page; more by the command
FILES_SHOWN = 100


@dataclass(frozen=True)
class FileView:
    row: CurveFileRow
    counts: tuple[tuple[str, int], ...]
    problem: str


@require_safe
def start(request: HttpRequest) -> HttpResponse:
    return _start(request)


def _start(request: HttpRequest, problem: str = "", status: int = 200) -> HttpResponse:
    rows = curves_kept.files(withdrawn=True)[::-1]
    shown = [_view(row) for row in rows[:FILES_SHOWN]]
    joints = sorted({row.joint for row in rows if not row.withdrawn})
    return render(
        request, "web/curves.html",
        {"files": shown, "more": len(rows) - len(shown), "joints": joints, "mappings": curves_kept.mappings(),
         "learned": curves_learning.learned(), "reports": curves_rejudging.reports()[::-1], "rules": RULES_VERSION,
         "problem": problem, "values": request.POST}, status=status,
    )  # fmt: skip


def _view(row: CurveFileRow) -> FileView:
    if row.withdrawn:
        return FileView(row, (), "")
    try:
        return FileView(row, tuple(curves_judging.counts(curves_judging.judged(row)).items()), "")
    except services.Refused as error:
        return FileView(row, (), str(error))


@require_POST
@needs_author
def take(request: HttpRequest) -> HttpResponse:
    upload = request.FILES.get("file")
    if upload is None:
        return _start(request, "Choose a file first. Nothing was written.", 400)
    name = upload.name or "curves"
    if (upload.size or 0) > MOST_UPLOAD:
        return _start(request, f"{name} has {upload.size:,} bytes, more than {MOST_UPLOAD:,}; take it in with: "
                               "evenpull curves take. Nothing was written.", 400)  # fmt: skip
    try:
        taken = curves_taking.take(name, upload.read(), request.POST.get("joint", "").strip(), author_of(request),
                                   mapping=request.POST.get("mapping", ""))  # fmt: skip
    except (services.Refused, services.UnknownJoint, services.Unknown, CurveError) as error:
        return _start(request, str(error), 422)
    if taken.already:
        messages.info(request, f"{name} was taken in before, on {taken.row.received_at:%Y-%m-%d}; nothing was written.")
    else:
        messages.success(request, f"{name}: {taken.row.curves} curves of {taken.row.joint} taken in, "
                                  f"{taken.row.matched} of them have their record.")  # fmt: skip
    return HttpResponseRedirect(reverse("joint-curves", args=[taken.row.joint]))


@require_POST
@needs_author
def withdraw(request: HttpRequest, seq: int) -> HttpResponse:
    try:
        curves_kept.withdraw(seq, request.POST.get("why", ""), author_of(request))
    except services.Unknown as error:
        raise Http404(str(error)) from error
    except services.Refused as error:
        return refused(request, error, reverse("curves"))
    messages.success(request, "The file of curves is withdrawn; it stays kept and readable.")
    return HttpResponseRedirect(reverse("curves"))


@require_POST
@needs_author
def learn(request: HttpRequest) -> HttpResponse:
    joints = request.POST.get("joints", "").replace(",", " ").split()
    number = request.POST.get("pass", "").strip()
    if not (number.isascii() and number.isdecimal() and len(number) < 4):
        return _start(request, f"Pass: {number[:20]!r} is not a whole number. Nothing was written.", 400)
    try:
        row = curves_learning.learn(request.POST.get("name", ""), joints, int(number), request.POST.get("why", ""),
                                    author_of(request))  # fmt: skip
    except (services.Refused, services.UnknownJoint, services.Unknown) as error:
        return _start(request, str(error), 422)
    messages.success(request, f"Windows {row.name} learned from {row.learned.n} accepted tightenings; they hold for "
                              "curves that come from now on.")  # fmt: skip
    return HttpResponseRedirect(reverse("curves"))


@require_POST
@needs_author
def again(request: HttpRequest) -> HttpResponse:
    try:
        row = curves_rejudging.rejudge(author_of(request))
    except services.Refused as error:
        return refused(request, error, reverse("curves"))
    messages.success(request, f"{row.curves} curves judged by {row.rules}: {row.changed} changed.")
    return HttpResponseRedirect(reverse("curves-changed", args=[row.seq]))


@require_safe
def changed(request: HttpRequest, seq: int) -> HttpResponse:
    """What a new version of the rules, or new facts, changed."""
    with found_or_404():
        row = curves_rejudging.report(seq)
    moved = [one for one in row.moves if one[1] != one[2]]
    same = sum(n for basis, a, b, n in row.moves if a == b and basis == row.moves[0][0]) if row.moves else 0
    return render(request, "web/curves_changed.html", {"row": row, "moved": moved, "same": same})


@require_safe
def changed_csv(request: HttpRequest, seq: int) -> HttpResponse | StreamingHttpResponse:
    with found_or_404():
        row = curves_rejudging.report(seq)
    return StreamingHttpResponse(
        curves_rejudging.as_csv(row), content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="curves-changed-{seq}.csv"'},
    )  # fmt: skip


