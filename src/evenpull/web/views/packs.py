"""Work packs: the cards of a crew and a shift, in walking order."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from evenpull.card.pack import MOST_CARDS
from evenpull.card.paper import VERSIONS
from evenpull.scan.keying_cost import SOURCE
from evenpull.store import services
from evenpull.store.services import paper_cards
from evenpull.store.services.issuing import MOST_SPARES
from evenpull.web.context import author_of, once_of
from evenpull.web.views.common import kept_pdf, needs_author

SHOWN = 50  # packs on the page
GIVEN = {"joints": "", "crew": "", "shift": "", "paper": "a4", "version": "plain", "spares": "0", "hours": "48"}


@require_http_methods(["GET", "HEAD", "POST"])
def packs(request: HttpRequest) -> HttpResponse:
    """The packs there are and the form of a new one; a pack that is refused is shown with what was filled in."""
    if request.method == "POST":
        return _issue(request)
    return _page(request, GIVEN | {"joints": request.GET.get("joints", "")[:5000]})


def _page(request: HttpRequest, values: dict[str, str], problem: str = "") -> HttpResponse:
    given = services.packs()
    rows = [(row, paper_cards.cost_of_cards(serial for _, serial in row.cards)) for row in given[:SHOWN]]
    context = {
        "rows": rows, "shown": SHOWN, "more": len(given) > SHOWN, "cost_source": SOURCE, "values": values,
        "problem": problem, "versions": VERSIONS, "most": MOST_CARDS, "most_spares": MOST_SPARES,
    }  # fmt: skip
    return render(request, "web/packs.html", context, status=400 if problem else 200)


@needs_author
def _issue(request: HttpRequest) -> HttpResponse:
    values = {name: request.POST.get(name, "")[:5000] for name in GIVEN}
    try:
        spares, hours = _number(values["spares"], "Spare cards"), _number(values["hours"], "Valid for hours")
        row, _ = services.issue_pack(
            values["joints"].replace(",", " ").split(), values["crew"], values["shift"], author_of(request),
            paper=values["paper"], version=values["version"], spares=spares, hours_valid=hours,
            once=once_of(request),
        )  # fmt: skip
    except (services.Refused, services.UnknownJoint) as error:
        return _page(request, values, str(error))
    messages.success(request, f"Work pack {row.serial} is issued: {len(row.cards)} cards, {row.pages} pages to print.")
    return HttpResponseRedirect(reverse("packs"))


def _number(text: str, what: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 5):
        raise services.Refused(f"{what}: {text[:20]!r} is not a whole number. Nothing was written.")
    return int(text)


@require_safe
def pack(request: HttpRequest, serial: str) -> HttpResponse:
    return kept_pdf(services.pack_pdf, serial)
