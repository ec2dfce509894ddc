"""Logging in and out, the own password, and the accounts for the administrator."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from evenpull.store import access, services
from evenpull.store.services import accounts, guessing
from evenpull.web.context import author_of
from evenpull.web.guard import address_of, prolong


def _back(request: HttpRequest) -> str:
    back = request.POST.get("next") or request.GET.get("next") or "/"
    return back if url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}) else "/"


@require_http_methods(["GET", "HEAD", "POST"])
def log_in(request: HttpRequest) -> HttpResponse:
    if not accounts.in_use():
        raise Http404("this dossier has no accounts; the first one is opened with: evenpull account add")
    status, words = 200, ""
    if request.method == "POST":
        try:
            account = accounts.log_in(
                request.POST.get("login", ""), request.POST.get("password", ""), address_of(request)
            )
        except (accounts.WrongPassword, guessing.LockedOut) as error:
            status, words = 403, str(error)
        else:
            login(request, account, backend="evenpull.web.guard.AccountBackend")  # a new session key comes with it
            prolong(request)
            request.session.clear_expired()
            return HttpResponseRedirect(_back(request))
    return render(request, "web/log_in.html", {"back": _back(request), "words": words}, status=status)


@require_POST
def log_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return HttpResponseRedirect(reverse("log-in"))


@require_http_methods(["GET", "HEAD", "POST"])
def password(request: HttpRequest) -> HttpResponse:
    if not accounts.in_use():
        raise Http404("this dossier has no accounts")
    if request.method == "POST":
        account = request.user
        try:
            if not accounts.password_is_right(account, request.POST.get("old", ""), address_of(request)):
                raise services.Refused("The old password is not right. Nothing was changed.")
            if request.POST.get("new") != request.POST.get("again"):
                raise services.Refused("The two new passwords differ. Nothing was changed.")
            accounts.set_password(account.login, request.POST.get("new", ""), account.full_name)
        except services.Refused as error:
            messages.error(request, str(error))
        else:
            account.refresh_from_db()
            update_session_auth_hash(request, account)
            messages.success(request, "The password is changed; other sessions of this account have ended.")
            return HttpResponseRedirect(reverse("joints"))
    return render(request, "web/password.html")


@require_http_methods(["GET", "HEAD", "POST"])
def listing(request: HttpRequest) -> HttpResponse:
    if not accounts.in_use():
        raise Http404("this dossier has no accounts; the first one is opened with: evenpull account add")
    if request.method == "POST":
        try:
            messages.success(request, _do(request))
            return HttpResponseRedirect(reverse("accounts"))
        except (services.Refused, services.Unknown) as error:
            messages.error(request, str(error))
    values = {"rows": accounts.accounts(), "roles": access.ROLES}
    return render(request, "web/accounts.html", values, status=409 if request.method == "POST" else 200)


def _do(request: HttpRequest) -> str:
    """Carry out one act of the form; what was done, in words."""
    post, who = request.POST, author_of(request)
    name, do = post.get("login", ""), post.get("do", "")
    if do == "open":
        row = accounts.add_account(name, post.get("full_name", ""), post.get("role", ""), post.get("new", ""), who)
        return f"Account {row.login} opened for {row.full_name}, {row.role}."
    if do == "role":
        accounts.set_role(name, post.get("role", ""), who)
        return f"{name} is now {post.get('role')}."
    acts = {"close": accounts.close_account, "reopen": accounts.reopen_account, "unlock": accounts.unlock}
    if do not in acts:
        raise services.Refused(f"{do[:40]!r} is nothing that can be done to an account. Nothing was written.")
    acts[do](name, who)
    return f"{name}: done."
