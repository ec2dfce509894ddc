"""Who may pass: without accounts everybody on this machine; with accounts who is logged in and has the role.

An act that is a signature asks for the password again in the same form.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.backends import BaseBackend
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.request import split_domain_port
from django.urls import reverse

from evenpull.store import access
from evenpull.store.loopback import is_loopback
from evenpull.store.models import Account
from evenpull.store.services import accounts, guessing
from evenpull.web import acts
from evenpull.web.refusals import page

CHECKED_AGAIN = 60.0  # s between two prolongations of a session
OPEN_TO_ALL = (
    "This dossier has no accounts, so its pages answer on the machine itself only: anybody who reaches them could sign "
    "under any name."
)
FIRST_ACCOUNT = "Open accounts first, there: evenpull account add LOGIN --name NAME --role administrator --by NAME"
# Nothing is loaded from elsewhere, no text of a record runs as a script, no other page frames these.
POLICY = (
    "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; object-src 'none'; base-uri 'none'; "
    "frame-ancestors 'none'; form-action 'self'"
)


class AccountBackend(BaseBackend):
    """Sessions find their account here; passwords are checked by the service, which counts guesses."""

    def authenticate(self, request: HttpRequest | None, **credentials: object) -> None:
        return None

    def get_user(self, user_id: int) -> Account | None:
        return Account.objects.filter(pk=user_id, closed=False).first()


def address_of(request: HttpRequest) -> str:
    """The address a request comes from: what the named server of one's own says of it, else the address itself.

    Only the last entry of X-Forwarded-For counts, which that server wrote; those before it anybody can invent.
    """
    address = str(request.META.get("REMOTE_ADDR", ""))
    if address in settings.PROXIES:
        return request.headers.get("x-forwarded-for", "").rpartition(",")[2].strip() or address
    return address


def on_this_machine(request: HttpRequest) -> bool:
    """Whether a request comes from this machine, as far as can be told: its address, the name it asks for, and no word
    of a server in front. `evenpull serve` listens nowhere else without accounts; this holds for any other way of
    starting the pages, and for a server of one's own that passes requests on."""
    host, _ = split_domain_port(request.get_host())
    passed_on = any(name in request.META for name in ("HTTP_X_FORWARDED_FOR", "HTTP_FORWARDED", "HTTP_X_REAL_IP"))
    return not passed_on and is_loopback(str(request.META.get("REMOTE_ADDR", ""))) and is_loopback(host.strip("[]"))


class GuardMiddleware:
    """Asks the table of acts and the table of roles before any view runs."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        match = request.resolver_match
        if match is not None and match.namespaces:
            return response
        if response.get("Content-Type", "").startswith("text/html"):
            response.headers.setdefault("Content-Security-Policy", POLICY)
        if getattr(request, "guarded", False):
            response.headers["Cache-Control"] = "no-store"  # after logging out nothing is shown again by going back
        return response

    def process_view(
        self, request: HttpRequest, view: object, args: tuple[object, ...], kwargs: dict[str, object]
    ) -> HttpResponse | None:
        match = request.resolver_match
        name = "" if match is None else match.url_name or ""
        request.guarded = accounts.in_use()  # type: ignore[attr-defined]
        if not request.guarded and not on_this_machine(request):  # type: ignore[attr-defined]
            return page(request, 403, OPEN_TO_ALL, FIRST_ACCOUNT, title="On this machine only")
        if match is not None and match.namespaces:
            return None  # the HTTP interface has its own keys
        if not request.guarded or name in acts.OPEN:  # type: ignore[attr-defined]
            return None
        account = request.user
        if not account.is_authenticated:
            return _to_log_in(request)
        prolong(request)
        act = acts.act_of(name, request.method or "", request.POST.get("kind", ""))
        if act is None:
            return page(request, 405, "Nothing can be written at this address.")
        if act != "any" and not access.may(account.role, act):
            return _forbidden(request, account.role, act)
        if request.method == "POST" and act in access.SIGNED:
            return self._signature(request, account)
        return None

    @staticmethod
    def _signature(request: HttpRequest, account: Account) -> HttpResponse | None:
        try:
            if accounts.password_is_right(account, request.POST.get("password", ""), address_of(request)):
                request.signed_again = True  # type: ignore[attr-defined]
                return None
            words = "The password was not right, so nothing was signed and nothing was written."
        except guessing.LockedOut as error:
            words = f"{error} Nothing was written."
        return page(request, 403, words, "Go back and give your own password again.", title="Not signed")


def prolong(request: HttpRequest) -> None:
    """A session ends when it is not used, not when it is old. Called with every request of somebody logged in."""
    now = time.time()
    if now - request.session.get("used", 0.0) > CHECKED_AGAIN:
        request.session["used"] = now
        request.session.set_expiry(settings.IDLE_MINUTES * 60)


def _to_log_in(request: HttpRequest) -> HttpResponse:
    back = request.get_full_path() if request.method == "GET" else "/"
    target = f"{reverse('log-in')}?{urlencode({'next': back})}"
    if request.method not in ("GET", "HEAD"):
        messages.error(request, "You are not logged in any more. Nothing was written.")
    if request.headers.get("hx-request"):
        return HttpResponse(status=204, headers={"HX-Redirect": target})
    return HttpResponseRedirect(target)


def _forbidden(request: HttpRequest, role: str, act: str) -> HttpResponse:
    who = access.who_may(act)  # type: ignore[arg-type]
    meaning = access.MEANING[act]  # type: ignore[index]
    what = f"The role {role!r} may not {meaning}."
    return page(request, 403, what, f"Who may: {', '.join(who)}.", title="Not for this role")
