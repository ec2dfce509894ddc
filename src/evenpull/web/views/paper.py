"""Cards that came back on paper: dropped as scans, their pages and how far they are keyed, the cost of paper."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from evenpull.store import services
from evenpull.store.services import paper_aside, paper_cards, paper_keying, paper_scans
from evenpull.store.services.accounts import identity
from evenpull.web.context import author_of, signed_again
from evenpull.web.views.common import found_or_404, needs_author, refused

MOST_SCAN = 200_000_000  # bytes, as the reader of scans


@require_safe
def start(request: HttpRequest) -> HttpResponse:
    who = author_of(request)
    rows = paper_cards.page_rows()
    to_key = [row for row in rows if not row.copy and not row.refused and row.state.stage in ("nobody", "one")]
    mine = [row for row in to_key if who and paper_cards.keyable(row, who)]
    differ = [row for row in rows if not row.copy and row.state.stage == "differ"]
    cost = paper_cards.cost_of(row.kept.page for row in rows if not row.copy)
    return render(
        request, "web/paper.html",
        {"rows": rows, "mine": mine, "to_key": to_key, "differ": differ, "scans": paper_scans.scans(), "cost": cost,
         "most": paper_cards.MOST if len(rows) == paper_cards.MOST else 0},
    )  # fmt: skip


@require_POST
@needs_author
def drop(request: HttpRequest) -> HttpResponse:
    """One or more files. The script of the page sends each by itself and is answered in JSON."""
    by_script = request.headers.get("accept", "").startswith("application/json")
    files = request.FILES.getlist("file")
    said: list[tuple[bool, str]] = []
    for upload in files:
        name = upload.name or "scan"
        if (upload.size or 0) > MOST_SCAN:
            said.append((False, f"{name} has {upload.size:,} bytes, more than {MOST_SCAN:,}; scan fewer pages into one "
                                "file. Nothing was kept."))  # fmt: skip
            continue
        try:
            row = paper_scans.take_scan(name, upload.read(), author_of(request))
        except services.Refused as error:
            said.append((False, str(error)))
            continue
        again = " It was there already; nothing was written." if row.already else ""
        said.append((True, f"{name}: {row.pages} page{'' if row.pages == 1 else 's'} of cards read.{again}"))
        said += [(False, fault) for fault in row.faults]
    if not files:
        said = [(False, "Choose a file first. Nothing was kept.")]
    if by_script:
        return JsonResponse({"said": [{"good": good, "text": text} for good, text in said]})
    for good, text in said:
        (messages.success if good else messages.error)(request, text)
    return HttpResponseRedirect(reverse("paper"))


@require_safe
def card(request: HttpRequest, serial: str) -> HttpResponse:
    with found_or_404():
        view = paper_cards.card_view(serial)
    return render(
        request, "web/paper_card.html",
        {"view": view, "refusals": list(dict.fromkeys(row.refused for row in view.rows if row.refused))},
    )  # fmt: skip


@require_POST
@needs_author
def admit(request: HttpRequest, serial: str) -> HttpResponse:
    back = reverse("paper-card", args=[serial])
    try:
        paper_keying.admit_card(serial, request.POST.get("why", ""), author_of(request),
                                identity=identity(signed_again(request)))  # fmt: skip
    except services.Refused as error:
        return refused(request, error, back)
    messages.success(request, f"Card {serial} may be keyed.")
    return HttpResponseRedirect(back)


@require_POST
@needs_author
def set_aside(request: HttpRequest, serial: str) -> HttpResponse:
    back = reverse("paper-card", args=[serial])
    scan, _, picture = request.POST.get("page", "").partition(":")
    try:
        if not (picture.isascii() and picture.isdecimal() and len(picture) < 9):
            raise services.Refused("choose the page that is to be set aside. Nothing was written.")
        paper_aside.set_page_aside(scan, int(picture), request.POST.get("why", ""), author_of(request),
                                   identity=identity(signed_again(request)))  # fmt: skip
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    messages.success(request, "Set aside. The other scan of the page counts now, and two people key it afresh.")
    return HttpResponseRedirect(back)


@require_POST
@needs_author
def write(request: HttpRequest, serial: str) -> HttpResponse:
    tell(request, serial)
    return HttpResponseRedirect(reverse("paper-card", args=[serial]))


def tell(request: HttpRequest, serial: str) -> None:
    """Write the records that are proven by now, and say what came of it."""
    new, stuck = paper_keying.write_records(serial, author_of(request))
    if new:
        messages.success(request, f"{new} records of card {serial} written: two people agree on them.")
    for text in stuck:
        messages.error(request, f"Proven, and no records yet: {text}")
