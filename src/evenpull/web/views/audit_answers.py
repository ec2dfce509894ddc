"""Answers of an audit that are more than a list: targets, tools, people, cards, keeping, single facts."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from evenpull.ledger.terms import TERMS
from evenpull.proof.actions import ACTION_MEANING
from evenpull.proof.rules import RULES
from evenpull.store import services
from evenpull.store.services import audit_facts, audit_lists, audit_people, audit_tools, card_register
from evenpull.web.context import author_of, signed_again
from evenpull.web.views.common import found_or_404, needs_author, refused

CARD_STATES = ("open", "out", "overdue", "returned", "unused", "void", "lost")


def number(text: str) -> int | None:
    """A number as it stands in an address; None for anything else."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 18 else None


@require_http_methods(["GET", "HEAD", "POST"])
def listed(request: HttpRequest, which: str) -> HttpResponse:
    with found_or_404():
        one = audit_lists.known(which)
    if request.method == "POST":
        return _read(request, which)
    before = number(request.GET.get("before", ""))
    page = audit_lists.page(which, before)
    values = {"heading": one.heading, "page": page, "query": "", "list": one, "newest": before is None}
    if one.exceptions:
        values |= {"reviews": audit_lists.reviews(which), "unread": audit_lists.unread(which)}
    return render(request, "web/audit_changes.html", values)


@needs_author
def _read(request: HttpRequest, which: str) -> HttpResponse:
    back = reverse("audit-list", args=[which])
    upto = number(request.POST.get("upto", ""))
    try:
        if upto is None:
            raise services.Refused("which fact the list was read up to is not stated. Nothing was written.")
        done = audit_lists.review(
            which, upto, request.POST.get("found", ""), author_of(request), by_password=signed_again(request)
        )
    except services.Refused as error:
        return refused(request, error, back)
    messages.success(request, f"On record: read up to fact {done.upto}, {done.rows} new.")
    return HttpResponseRedirect(back)


@require_safe
def read(request: HttpRequest) -> HttpResponse:
    rows = [(one, audit_lists.reviews(one.name)[:1], audit_lists.unread(one.name)) for one in audit_lists.READ]
    return render(request, "web/audit_read.html", {"rows": rows})


@require_safe
def fact(request: HttpRequest, seq: int) -> HttpResponse:
    with found_or_404():
        return render(request, "web/audit_fact.html", {"fact": audit_facts.fact(seq, author_of(request))})


@require_safe
def revisions(request: HttpRequest) -> HttpResponse:
    return render(request, "web/audit_revised.html", {"joints": audit_facts.revised(), "most": audit_facts.MOST})


@require_safe
def history(request: HttpRequest, joint_id: str) -> HttpResponse:
    try:
        return render(request, "web/audit_history.html", {"found": audit_facts.history(joint_id)})
    except services.UnknownJoint as error:
        raise Http404(str(error)) from error


@require_safe
def counters(request: HttpRequest) -> HttpResponse:
    found = audit_tools.memories(request.GET.get("after", "")[:100].replace("\0", ""))
    return render(request, "web/audit_counters.html", {"found": found})


@require_safe
def clocks(request: HttpRequest) -> HttpResponse:
    found = audit_tools.clock_page(request.GET.get("after", "")[:100].replace("\0", ""))
    latest = audit_lists.page("clocks")
    return render(request, "web/audit_clocks.html", {"found": found, "page": latest, "query": ""})


@require_safe
def training(request: HttpRequest) -> HttpResponse:
    found = audit_people.training(number(request.GET.get("page", "")) or 1)
    return render(request, "web/audit_training.html", {"found": found})


@require_safe
def inspections(request: HttpRequest) -> HttpResponse:
    found = audit_people.inspections(number(request.GET.get("before", "")))
    return render(request, "web/audit_inspections.html", {"found": found})


@require_safe
def barred(request: HttpRequest) -> HttpResponse:
    values = {"rows": audit_people.barred(), "page": audit_lists.page("blocked"), "query": ""}
    return render(request, "web/audit_barred.html", values)


@require_safe
def cards(request: HttpRequest) -> HttpResponse:
    state = request.GET.get("state", "")
    if state and state not in CARD_STATES:
        raise Http404(f"{state[:40]!r} is no state of a card; there are: {', '.join(CARD_STATES)}")
    found = card_register.page(state, number(request.GET.get("before", "")))
    return render(request, "web/audit_cards.html", {"found": found, "state": state, "states": CARD_STATES})


@require_safe
def kept(request: HttpRequest) -> HttpResponse:
    values = {"found": audit_facts.kept(number(request.GET.get("page", "")) or 1), "oldest": audit_facts.oldest(),
              "years": audit_facts.OLD}  # fmt: skip
    return render(request, "web/audit_keeping.html", values)


@require_safe
def terms(request: HttpRequest) -> HttpResponse:
    return render(
        request, "web/audit_terms.html", {"terms": TERMS, "actions": ACTION_MEANING.items(), "flags": RULES.values()}
    )
