"""Keying the boxes of a scanned page, blind to what another person keyed; the third person's page; the crops."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from evenpull.paper.answer import STATES
from evenpull.paper.checks import unlikeness
from evenpull.store import services
from evenpull.store.services import paper_cards, paper_keying, paper_scans
from evenpull.web.context import author_of
from evenpull.web.views.common import found_or_404, needs_author, refused
from evenpull.web.views.paper import tell


def _kept(scan: str, picture: int) -> paper_scans.KeptPage:
    with found_or_404():
        return paper_scans.kept_page(scan, picture)


@require_safe
def crop(request: HttpRequest, scan: str, picture: int, box: str) -> HttpResponse:
    with found_or_404():
        png = paper_scans.crop_png(scan, picture, box)
    return HttpResponse(png, content_type="image/png", headers={"Cache-Control": "private, max-age=3600"})


def _said(request: HttpRequest) -> dict[str, tuple[str, str]]:
    """Answers of the form: s:BOX is the state, t:BOX the text. A text without a state is what is written."""
    found = {}
    for key, text in request.POST.items():
        if key.startswith("t:"):
            state = request.POST.get(f"s:{key[2:]}", "") or ("written" if text.strip() else "")
            if state:
                found[key[2:]] = (state, text if state == "written" else "")
    return found


@require_http_methods(["GET", "HEAD", "POST"])
@needs_author
def key(request: HttpRequest, scan: str, picture: int) -> HttpResponse:
    kept = _kept(scan, picture)
    if why := paper_keying.may_key(kept, author_of(request)):
        return refused(request, services.Refused(f"{why}."), reverse("paper"))
    faults: dict[str, str] = {}
    said = _said(request)
    if request.method == "POST":
        try:
            state = paper_keying.key_page(scan, picture, said, author_of(request))
        except paper_keying.AnswersError as error:
            faults = error.faults
        except services.Refused as error:
            return refused(request, error, reverse("paper"))
        else:
            done = {"one": "Kept. Another person keys the same page; then the two are compared.",
                    "differ": f"Kept. The two differ in {len(state.open)} boxes: a third person decides.",
                    "proven": "Kept. The two agree on every box."}  # fmt: skip
            messages.success(request, done[state.stage])
            tell(request, kept.page.serial)
            return HttpResponseRedirect(reverse("paper"))
    boxes = [
        {"box": box, "fault": faults.get(box.name, ""), "state": said.get(box.name, ("", ""))[0],
         "text": said.get(box.name, ("", ""))[1]}
        for box in kept.page.to_key
    ]  # fmt: skip
    values = {"kept": kept, "page": kept.page, "boxes": boxes, "faults": len(faults), "states": STATES}
    return render(request, "web/paper_key.html", values, status=422 if faults else 200)


@require_POST
def check(request: HttpRequest, scan: str, picture: int) -> HttpResponse:
    """What is odd about the answers so far; writes nothing."""
    notes = paper_keying.notes_while_keying(_kept(scan, picture), _said(request), author_of(request))
    return JsonResponse({"notes": [{"box": note.box, "text": note.text} for note in notes]})


@require_http_methods(["GET", "HEAD", "POST"])
@needs_author
def settle(request: HttpRequest, scan: str, picture: int) -> HttpResponse:
    """Where two keyed differently: the picture, both answers, and a third person's word."""
    kept = _kept(scan, picture)
    state = paper_cards.state_of(kept)
    back = reverse("paper")
    if why := paper_keying.may_settle(kept, state, author_of(request)):
        return refused(request, services.Refused(f"{why}."), back)
    faults: dict[str, str] = {}
    said = _said(request)
    if request.method == "POST":
        try:
            after = paper_keying.decide_keying(scan, picture, said, request.POST.get("why", ""), author_of(request))
        except paper_keying.AnswersError as error:
            faults = error.faults
        except services.Refused as error:
            faults = {"": str(error)}
        else:
            messages.success(request, f"Decided. {len(after.open)} boxes of this page are left." if after.open
                             else "Decided. Every box of this page is proven now.")  # fmt: skip
            tell(request, kept.page.serial)
            return HttpResponseRedirect(reverse("settle-page", args=[scan, picture]) if after.open else back)
    boxes = {box.name: box for box in kept.page.boxes}
    rows = [
        {"box": boxes[one.box], "one": one.first, "other": one.second, "how": unlikeness(one.first, one.second),
         "fault": faults.get(one.box, ""), "state": said.get(one.box, ("", ""))[0],
         "text": said.get(one.box, ("", ""))[1]}
        for one in state.open
    ]  # fmt: skip
    values = {"kept": kept, "page": kept.page, "rows": rows, "states": STATES, "why": request.POST.get("why", ""),
              "fault": faults.get("", "")}  # fmt: skip
    return render(request, "web/paper_settle.html", values, status=422 if faults else 200)
