"""Accounts: who may log in. A dossier has accounts as soon as the first one is opened; it has to be an administrator.

Accounts themselves can be changed; what was done to them stands in the log as facts of the kind "account", without any
password. Guessing is slowed down by account and by address (`guessing`), and each lock-out is a fact.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from django.contrib.auth import SESSION_KEY
from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import validate_password
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError

from evenpull.store.access import ROLES
from evenpull.store.models import Account, ApiClient
from evenpull.store.services import guessing
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import ACCOUNT
from evenpull.store.services.index import name_of
from evenpull.store.services.log import New, append, checked_author, next_key, writing


class WrongPassword(Refused):
    """The account or the password is not right; which of them is not said."""


def identity(by_password: bool) -> str:
    """How the author of an act is known, as it is written with what is signed or decided."""
    if not in_use():
        return "the name as given; no accounts"
    return "the own password, given again" if by_password else "the name as given by a command on the machine itself"


@dataclass(frozen=True)
class AccountRow:
    login: str
    full_name: str
    role: str
    closed: bool
    locked: bool


def in_use() -> bool:
    """Whether this dossier has accounts."""
    return Account.objects.exists()


def person(name: str) -> str:
    """The full name under which a command on the machine itself writes for `name`: a full name or a login of an open
    account. Without accounts the name as given. Refused for a name that no open account has."""
    given = checked_author(name)
    if not in_use():
        return given
    people = list(Account.objects.filter(closed=False).order_by("login"))
    for told in ("folded", "login"):
        for account in people:
            if getattr(account, told) == name_of(given)[:80]:
                return account.full_name
    known = "; ".join(f"{a.full_name} ({a.login})" for a in people[:20])
    raise Refused(
        f"--by: {given!r} is no open account of this dossier, and with accounts every fact names one. Give the full "
        f"name or the login of: {known}. Nothing was written."
    )


def accounts() -> list[AccountRow]:
    rows = list(Account.objects.order_by("login"))
    locked = guessing.locked([a.login for a in rows])
    return [AccountRow(a.login, a.full_name, a.role, a.closed, a.login in locked) for a in rows]


def _role(role: str) -> str:
    if role not in ROLES:
        raise Refused(f"{role!r} is no role; there are: {', '.join(ROLES)}. Nothing was written.")
    return role


def _password(password: str, account: Account | None = None) -> str:
    try:
        validate_password(password, account)
    except ValidationError as error:
        raise Refused(f"the password is refused: {' '.join(error.messages)} Nothing was written.") from error
    return make_password(password)


def add_account(login: str, full_name: str, role: str, password: str, author: str) -> AccountRow:
    """Open an account. Refused for a login or name that is taken, and when the first one is no administrator."""
    who, name, small = checked_author(author), checked_author(full_name), login.strip().casefold()
    if guessing.LOGIN.fullmatch(small) is None:
        raise Refused(f"{login[:60]!r} is no login; 2 to 60 small letters, digits, dots, underscores and hyphens. "
                      "Nothing was written.")
    hashed = _password(password)
    with writing():
        if not in_use() and _role(role) != "administrator":
            raise Refused("the first account has to be an administrator. Nothing was written.")
        if Account.objects.filter(login=small).exists():
            raise Refused(f"there is an account {small!r} already. Nothing was written.")
        taken = [table.objects.filter(folded=name_of(name)[:80]).exists() for table in (Account, ApiClient)]
        if any(taken):
            raise Refused(
                f"there is an account or a client of the name {name} already, and one name stands for one person. "
                "Nothing was written."
            )
        Account.objects.create(
            login=small, full_name=name, folded=name_of(name)[:80], role=_role(role), password=hashed
        )
        _said("opened", small, who, full_name=name, role=role)
    return AccountRow(small, name, role, False, False)


def _said(what: str, login: str, who: str, **more: str) -> None:
    append([New(ACCOUNT, next_key(ACCOUNT), {"what": f"{login}: {what}", "login": login, "act": what, **more})], who)


def _found(login: str) -> Account:
    account = Account.objects.filter(login=login.strip().casefold()).first()
    if account is None:
        known = ", ".join(Account.objects.order_by("login").values_list("login", flat=True)[:20])
        raise Unknown(f"no account {login!r}; there are: {known or 'none'}")
    return account


def _keeps_an_administrator(account: Account) -> None:
    others = Account.objects.filter(role="administrator", closed=False).exclude(pk=account.pk)
    if account.role == "administrator" and not account.closed and not others.exists():
        raise Refused("this is the last open account of an administrator; open another first. Nothing was written.")


def set_role(login: str, role: str, author: str) -> None:
    who = checked_author(author)
    with writing():
        account = _found(login)
        if _role(role) != "administrator":
            _keeps_an_administrator(account)
        account.role = role
        account.save()
        _said("role given", account.login, who, role=role)


def close_account(login: str, author: str) -> None:
    """Close an account and end its sessions for good, so that opening it again brings none of them back."""
    who = checked_author(author)
    with writing():
        account = _found(login)
        _keeps_an_administrator(account)
        account.closed = True
        account.save()
        _end_sessions(account)
        _said("closed", account.login, who)


def _end_sessions(account: Account) -> None:
    """Sessions name their account inside, so each is looked at; those that have run out are gone already."""
    for session in Session.objects.iterator():
        if session.get_decoded().get(SESSION_KEY) == str(account.pk):
            session.delete()


def reopen_account(login: str, author: str) -> None:
    who = checked_author(author)
    with writing():
        account = _found(login)
        account.closed = False
        account.save()
        _said("opened again", account.login, who)


def unlock(login: str, author: str) -> None:
    who = checked_author(author)
    with writing():
        account = _found(login)
        guessing.forget(account)
        _said("unlocked", account.login, who)


def set_password(login: str, password: str, author: str) -> None:
    """Give a new password; sessions under the old one end with it."""
    who = checked_author(author)
    with writing():
        account = _found(login)
        account.password = _password(password, account)
        account.save()
        _said("password changed", account.login, who)


def log_in(login: str, password: str, address: str) -> Account:
    """The account, when the password is right. WrongPassword or LockedOut; both are counted, by account and by address.

    An unknown login takes as long as a known one and is counted the same, so that nothing tells which accounts there
    are.
    """
    small = login.strip().casefold()
    account = Account.objects.filter(login=small).first() if guessing.LOGIN.fullmatch(small) else None
    places = guessing.place_of_account(small, account is not None), guessing.place_of_address(address)
    guessing.begin(places)
    fits = check_password(password, _nobody() if account is None else account.password)
    if account is None or account.closed or not fits:
        guessing.wrong(places)
        raise WrongPassword("The account or the password is not right.")
    guessing.right(places)
    return account


@lru_cache(maxsize=1)
def _nobody() -> str:
    """What the password of an unknown login is compared with, so that it takes as long."""
    return make_password("an account that does not exist")


def password_is_right(account: Account, password: str, address: str) -> bool:
    """The password given again as a signature; wrong ones count as guesses. LockedOut after too many."""
    try:
        log_in(account.login, password, address)
    except WrongPassword:
        return False
    return True
