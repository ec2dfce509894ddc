"""Reviews of tools found out: opened from a tool, read joint by joint, decided, closed."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from evenpull.instrument.review import Verdict
from evenpull.report import review_words
from evenpull.report.review_table import SHORT
from evenpull.review import CLASSES, JointState, lots
from evenpull.review.codes import OTHER_WORDS
from evenpull.review.considered import CAUTIONS, NOTICES, TO_SAY
from evenpull.review.dispositions import ACTS, MEANING
from evenpull.review.given import ASKED
from evenpull.store import services
from evenpull.store.services import review_lists, review_papers, reviewing
from evenpull.web.context import author_of, once_of, signed_again
from evenpull.web.views.common import TWICE, found_or_404, needs_author, refused

VERDICT_CLASS = {
    Verdict.SURELY_IN: "accepted", Verdict.DOUBTFUL: "doubtful", Verdict.CANNOT_BE_JUDGED: "not-judged",
    Verdict.SURELY_OUT: "not-accepted",
}  # fmt: skip
FILTERS = ("worst", "joint_class", "state", "undecided", "words", "sort")


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    return render(request, "web/reviews.html", {"rows": reviewing.reviews()})


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """The form; sent with "look" it shows what would come out, with "open" it writes."""
    given = request.POST if request.method == "POST" else request.GET
    values = {one.name: given.get(one.name, "")[:500] for one in ASKED}
    context: dict[str, object] = {"fields": [(one, values[one.name]) for one in ASKED]}
    if request.method != "POST":
        return render(request, "web/review_new.html", context)
    try:
        found = reviewing.found_of(values)
        if request.POST.get("do") == "open":
            return _open(request, found)
        now = reviewing.compute(found)
    except services.Refused as error:
        context["problem"] = str(error)
        return render(request, "web/review_new.html", context, status=400)
    context |= _summary(now) | {"looked": True}
    return render(request, "web/review_new.html", context)


@needs_author
def _open(request: HttpRequest, found: reviewing.Found) -> HttpResponse:
    head = reviewing.open_review(found, author_of(request), by_password=signed_again(request), once=once_of(request))
    messages.success(request, f"Review {head.id} is open: {head.uses:,} tightenings on {head.joints:,} joints.")
    return HttpResponseRedirect(reverse("review", args=[head.id]))


def _summary(now: reviewing.Computed) -> dict[str, object]:
    """What came out, as the pages show it."""
    outcome = now.outcome
    return {
        "outcome": outcome, "uses": outcome.touched.count,
        "verdicts": [(v, VERDICT_CLASS[v], outcome.counts[v]) for v in reversed(Verdict)],
        "loads": [(v, VERDICT_CLASS[v], outcome.load_counts[v]) for v in reversed(Verdict)],
        "by_class": _groups([f"class {c}" if c else "not described" for c in CLASSES], outcome.by_class()),
        "by_state": _groups([state.words for state in JointState], outcome.by_state()),
        "found_rows": review_words.found_rows(outcome.found, now.held),
        "points": review_words.as_found_rows(outcome.found, now.held),
        "forms": review_words.form_lines(outcome.found, now.held),
        "suspects": review_words.suspect_rows(outcome), "models": review_words.model_rows(outcome),
        "reasons": [(reason.words, n) for reason, n in outcome.reasons().items()],
        "other": [(words, int((outcome.touched.other & one != 0).sum())) for one, words in OTHER_WORDS.items()],
        "lots": [(lot, review_words.lot_words(lot)) for lot in lots(outcome)],
        "cautions": CAUTIONS, "notices": NOTICES, "aside": now.taken.aside,
    }  # fmt: skip


def _groups(names: list[str], counts: object) -> list[tuple[str, list[int]]]:
    return [(name, [int(n) for n in row]) for name, row in zip(names, counts, strict=True)  # type: ignore[call-overload]
            if row.sum()]


def _view(number: int) -> reviewing.ReviewView:
    with found_or_404():
        return reviewing.review(number)


def _wanted(request: HttpRequest) -> dict[str, str]:
    given = request.POST if request.method == "POST" else request.GET
    return {name: given.get(name, "")[:100].replace("\0", "") for name in FILTERS}


def _places(view: reviewing.ReviewView, wanted: dict[str, str]) -> list[int]:
    return review_lists.matching(
        view, worst=wanted["worst"], joint_class=wanted["joint_class"], state=wanted["state"],
        undecided=bool(wanted["undecided"]), words=wanted["words"], sort=wanted["sort"] or "worst",
    )  # fmt: skip


@require_safe
def one(request: HttpRequest, number: int) -> HttpResponse:
    view = _view(number)
    wanted = _wanted(request)
    page = request.GET.get("page", "1")
    number_of = int(page) if page.isascii() and page.isdecimal() and len(page) < 7 else 1
    found = review_lists.page(view, number_of, _places(view, wanted))
    values = _summary(view.now) | {
        "view": view, "head": view.head, "page": found, "wanted": wanted, "notes": review_papers.notes(view),
        "query": urlencode({k: v for k, v in wanted.items() if v}), "sorts": review_lists.SORTS,
        "verdict_words": [v.words for v in reversed(Verdict)], "classes": [*"ABC", "none"],
        "states": [state.words for state in JointState], "acts": [(act, MEANING[act]) for act in ACTS],
        "to_say": [(what, asked, view.said.get(what)) for what, asked in TO_SAY.items()],
        "classes_of": VERDICT_CLASS, "concerned": len(view.concerned),
    }  # fmt: skip
    return render(request, "web/review.html", values)


@require_safe
def joint(request: HttpRequest, number: int) -> HttpResponse:
    """One joint of a review, named in the address: each tightening with its models side by side."""
    view, joint_id = _view(number), request.GET.get("joint", "")[:100].replace("\0", "")
    with found_or_404():
        rows = review_lists.tightenings(view, joint_id)
    place = next(n for n, one in enumerate(view.now.outcome.touched.joints)
                 if services.fold(one.joint) == services.fold(joint_id))
    (line,) = review_lists.lines(view, [place])
    values = {
        "view": view, "head": view.head, "line": line, "rows": rows, "most": review_lists.TIGHTENINGS_SHOWN,
        "basis": view.now.outcome.touched.joints[place], "acts": [(act, MEANING[act]) for act in ACTS],
        "models": [SHORT[m.name] for m in view.now.outcome.models], "cautions": CAUTIONS[:1],
        "described": bool(line.joint_class),
    }  # fmt: skip
    return render(request, "web/review_joint.html", values)


@require_POST
@needs_author
def decide(request: HttpRequest, number: int) -> HttpResponse:
    """One disposition on the joints that were ticked, or on all that the filter of the page shows."""
    back = request.POST.get("back", "") or reverse("review", args=[number]) + "#joints"
    if not back.startswith(reverse("review", args=[number])):
        back = reverse("review", args=[number]) + "#joints"
    try:
        view = reviewing.review(number)
        joints = request.POST.getlist("joint")
        if request.POST.get("which") == "all":
            named = view.now.outcome.touched.joints
            joints = [named[place].joint for place in _places(view, _wanted(request))]
        count = reviewing.decide(
            number, joints, request.POST.get("act", ""), request.POST.get("reason", ""), author_of(request),
            by_password=signed_again(request), once=once_of(request),
        )  # fmt: skip
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    messages.success(request, f"Recorded on {count:,} joint{'' if count == 1 else 's'}." if count else TWICE)
    return HttpResponseRedirect(back)


@require_POST
@needs_author
def say(request: HttpRequest, number: int) -> HttpResponse:
    back = reverse("review", args=[number]) + "#said"
    try:
        reviewing.say(number, request.POST.get("kind", ""), request.POST.get("text", ""), author_of(request))
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    messages.success(request, "Written down.")
    return HttpResponseRedirect(back)


@require_POST
@needs_author
def close(request: HttpRequest, number: int) -> HttpResponse:
    back = reverse("review", args=[number]) + "#close"
    try:
        reviewing.close(number, request.POST.get("statement", ""), author_of(request),
                        by_password=signed_again(request), seen=request.POST.get("seen", ""))
    except (services.Refused, services.Unknown) as error:
        return refused(request, error, back)
    messages.success(request, f"Review {number} is closed.")
    return HttpResponseRedirect(back)


@require_safe
def paper(request: HttpRequest, number: int) -> HttpResponse:
    return _sent(review_papers.pdf(_view(number)), "application/pdf", f"review-{number}.pdf", "inline")


@require_safe
def listed(request: HttpRequest, number: int, form: str) -> HttpResponse:
    """The whole list as CSV or XLSX."""
    view = _view(number)
    if form == "csv":
        return _sent(review_lists.csv(view), "text/csv; charset=utf-8", f"review-{number}.csv")
    try:
        data = review_lists.xlsx(view)
    except services.Refused as error:
        return refused(request, error, reverse("review", args=[number]))
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return _sent(data, kind, f"review-{number}.xlsx")


def _sent(data: bytes, kind: str, name: str, how: str = "attachment") -> HttpResponse:
    return HttpResponse(data, content_type=kind, headers={"Content-Disposition": f'{how}; filename="{name}"'})
