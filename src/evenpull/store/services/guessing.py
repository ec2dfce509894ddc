"""Wrong passwords, counted by account and by address in the database, so that a restart forgets none of them.

Every attempt is counted before its password is looked at, so that many at once are no way round the wait. Each
lock-out is a fact, which the auditor sees under "who and what could not be used".
"""

from __future__ import annotations

import ipaddress
import re
import time

from django.utils.crypto import salted_hmac

from evenpull.store.models import Account, Guesses
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import REFUSAL
from evenpull.store.services.log import New, append, next_key, writing

FREE_FAILURES = 5  # wrong passwords of one account before the first wait
FREE_BY_ADDRESS = 20  # of one address: several persons may share it
FIRST_WAIT, LONGEST_WAIT = 30.0, 3600.0  # s; each further failure doubles it
FORGOTTEN_AFTER = 24 * 3600.0  # s without a failure
CLOCK_STEP = 5.0  # s; a failure that lies further in the future says that the clock was set back
LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{1,59}")
_ACCOUNT, _NO_ACCOUNT, _ADDRESS = "account: ", "no account: ", "address: "


class LockedOut(Refused):
    """Too many wrong passwords; `wait` seconds are left."""

    def __init__(self, wait: float) -> None:
        self.wait = wait
        minutes = max(1, round(wait / 60))
        super().__init__(f"Too many wrong passwords. Try again in {minutes} min, or ask an administrator.")


def place_of_account(login: str, known: bool) -> str:
    """Under which name the failures of a login are counted. One that no account has is kept as a keyed hash only: it
    may be a password that was typed into the wrong field."""
    return _ACCOUNT + login if known else _NO_ACCOUNT + salted_hmac("evenpull.guesses", login).hexdigest()[:40]


def place_of_address(address: str) -> str:
    """IPv6 addresses count by their network of 64 bits, which one household or machine has whole."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return _ADDRESS + "not known"
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped is not None:
            return _ADDRESS + str(found.ipv4_mapped)
        return _ADDRESS + str(ipaddress.ip_network((found, 64), strict=False))
    return _ADDRESS + str(found)


def _free(place: str) -> int:
    return FREE_BY_ADDRESS if place.startswith(_ADDRESS) else FREE_FAILURES


def wait_after(failures: int, free: int = FREE_FAILURES) -> float:
    """Seconds to wait after so many failures in a row: none below `free`, then doubling up to LONGEST_WAIT."""
    return 0.0 if failures < free else min(LONGEST_WAIT, FIRST_WAIT * 2.0 ** min(failures - free, 60))


def _left(held: Guesses, now: float) -> float:
    if now - held.last > FORGOTTEN_AFTER:
        return 0.0
    return max(0.0, min(held.last, now) + wait_after(held.failures, _free(held.what)) - now)


def locked(logins: list[str]) -> set[str]:
    """Those of these logins that have to wait now."""
    now = time.time()
    found = Guesses.objects.filter(what__in=[place_of_account(login, True) for login in logins])
    return {held.what.removeprefix(_ACCOUNT) for held in found if _left(held, now) > 0}


def begin(places: tuple[str, ...]) -> None:
    """Count an attempt at each place as failed, until `right` says otherwise. LockedOut, uncounted, during a wait."""
    now = time.time()
    with writing():
        rows = [Guesses.objects.get_or_create(what=place)[0] for place in places]
        for held in rows:
            if held.last > now + CLOCK_STEP:  # the clock was set back: the wait runs from now on
                held.last = now
                held.save()
        left = max(_left(held, now) for held in rows)
        if left <= 0:
            for held in rows:
                held.failures = 1 if now - held.last > FORGOTTEN_AFTER else held.failures + 1
                held.last = now
                held.save()
            Guesses.objects.filter(last__lt=now - FORGOTTEN_AFTER).delete()
    if left > 0:
        raise LockedOut(left)


def right(places: tuple[str, ...]) -> None:
    """The password was right: the account starts anew, and each other place loses this one attempt."""
    with writing():
        for held in Guesses.objects.filter(what__in=places):
            if held.what.startswith(_ACCOUNT):
                held.delete()
            else:
                held.failures = max(0, held.failures - 1)
                held.save()


def wrong(places: tuple[str, ...]) -> None:
    """The password was wrong: each place that has to wait from now on is put on record."""
    with writing():
        for held in Guesses.objects.filter(what__in=places).order_by("what"):
            wait = wait_after(held.failures, _free(held.what))
            if wait > 0:
                name = "a login that no account has" if held.what.startswith(_NO_ACCOUNT) else held.what
                refuse_fact(f"{name}: locked out for {wait:.0f} s after {held.failures} wrong passwords", "evenpull")


def forget(account: Account) -> None:
    """Drop the failures of an account; call inside `writing()`."""
    Guesses.objects.filter(what=place_of_account(account.login, True)).delete()


def refuse_fact(what: str, author: str, joint: str = "") -> None:
    """Put on record that somebody or something could not be used; call inside `writing()`."""
    append([New(REFUSAL, next_key(REFUSAL), {"what": what}, joint)], author)
