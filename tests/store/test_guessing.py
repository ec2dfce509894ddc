"""Guessing of passwords: the growing wait, what is put on record of it, and what it does not tell."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest
from django.db import connections
from django.test import Client

from evenpull.store import services
from evenpull.store.models import Fact, Guesses
from evenpull.store.services import accounts, fact_kinds, guessing
from tests.store.people import ADMINISTRATOR, HEADERS, PASSWORD, fast_hashing, logged_in, opened

__all__ = ["fast_hashing"]  # a fixture that every test of this file uses
HERE, ELSEWHERE = "192.0.2.7", "192.0.2.8"  # RFC 5737: addresses for documentation


def guess(login: str, times: int, address: str = HERE) -> None:
    for _ in range(times):
        with pytest.raises(accounts.WrongPassword):
            accounts.log_in(login, "wrong", address)


def waited(place: str, seconds: float) -> None:
    """As if so many seconds had passed since the last failure."""
    held = Guesses.objects.get(what=place)
    Guesses.objects.filter(pk=held.pk).update(last=held.last - seconds)


def refusals() -> list[str]:
    return [fact.data["what"] for fact in Fact.objects.filter(kind=fact_kinds.REFUSAL)]


def test_the_wait_doubles_up_to_an_hour() -> None:
    waits = [guessing.wait_after(n) for n in range(4, 14)]
    assert waits == [0, 30, 60, 120, 240, 480, 960, 1920, 3600, 3600]
    assert guessing.wait_after(10**6) == 3600


def test_an_account_is_locked_from_every_address_and_each_lock_out_is_a_fact(anywhere: Path) -> None:
    login = opened("operator")
    guess(login, guessing.FREE_FAILURES)
    with pytest.raises(guessing.LockedOut):
        accounts.log_in(login, PASSWORD, ELSEWHERE)  # even with the right password
    assert refusals() == [f"account: {login}: locked out for 30 s after 5 wrong passwords"]
    waited(f"account: {login}", 31)
    guess(login, 1)
    assert refusals()[1:] == [f"account: {login}: locked out for 60 s after 6 wrong passwords"]
    waited(f"account: {login}", 31)
    with pytest.raises(guessing.LockedOut):
        accounts.log_in(login, PASSWORD, ELSEWHERE)
    waited(f"account: {login}", 30)
    assert accounts.log_in(login, PASSWORD, ELSEWHERE).login == login
    guess(login, guessing.FREE_FAILURES - 1)  # the right one started the count anew
    assert accounts.log_in(login, PASSWORD, ELSEWHERE).login == login
    assert services.check_log() == []


def test_an_address_is_locked_for_every_account(anywhere: Path) -> None:
    login = opened("operator")
    for number in range(guessing.FREE_BY_ADDRESS):
        guess(f"guess.{number}", 1)
    with pytest.raises(guessing.LockedOut):
        accounts.log_in(login, PASSWORD, HERE)
    assert accounts.log_in(login, PASSWORD, ELSEWHERE).login == login
    assert refusals() == [f"address: {HERE}: locked out for 30 s after 20 wrong passwords"]


def test_logging_in_under_an_own_account_does_not_clear_an_address(dossier: Path) -> None:
    login = opened("operator")
    for number in range(guessing.FREE_BY_ADDRESS - 1):
        guess(f"guess.{number}", 1)
        assert accounts.log_in(login, PASSWORD, HERE).login == login
    guess("one.more", 1)
    with pytest.raises(guessing.LockedOut):
        accounts.log_in(login, PASSWORD, HERE)


def test_failures_are_forgotten_after_a_day_and_the_rows_go(dossier: Path) -> None:
    login = opened("operator")
    guess(login, guessing.FREE_FAILURES - 1)
    Guesses.objects.update(last=time.time() - guessing.FORGOTTEN_AFTER - 1)
    guess("somebody.else", 1, ELSEWHERE)
    assert not Guesses.objects.filter(what=f"account: {login}").exists()
    guess(login, guessing.FREE_FAILURES - 1)
    assert accounts.log_in(login, PASSWORD, HERE).login == login


def test_a_clock_set_back_locks_nobody_out_for_longer_than_the_wait(dossier: Path) -> None:
    login = opened("operator")
    guess(login, guessing.FREE_FAILURES)
    Guesses.objects.update(last=time.time() + 365 * 24 * 3600)
    with pytest.raises(guessing.LockedOut) as caught:
        accounts.log_in(login, PASSWORD, ELSEWHERE)
    assert caught.value.wait <= guessing.FIRST_WAIT
    waited(f"account: {login}", 31)
    assert accounts.log_in(login, PASSWORD, ELSEWHERE).login == login


def test_many_guesses_at_once_are_no_way_round(anywhere: Path) -> None:
    """Twelve threads guess at the same moment: no more passwords are looked at than before the first wait."""
    login, told = opened("operator"), []
    start = threading.Barrier(12)

    def one() -> None:
        start.wait()
        try:
            accounts.log_in(login, "wrong", HERE)
        except (accounts.WrongPassword, guessing.LockedOut) as error:
            told.append(type(error).__name__)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["LockedOut"] * 7 + ["WrongPassword"] * 5
    assert Guesses.objects.get(what=f"account: {login}").failures == 5


def test_an_unknown_login_is_answered_and_counted_like_a_known_one(dossier: Path) -> None:
    login = opened("operator")
    pages = []
    for name, address in ((login, HERE), ("nobody.here", ELSEWHERE)):
        client = Client(**HEADERS, REMOTE_ADDR=address)
        form = {"login": name, "password": "wrong"}
        answers = [client.post("/log-in/", form) for _ in range(guessing.FREE_FAILURES + 1)]
        assert [a.status_code for a in answers] == [403] * 6
        pages.append([a.context["words"] for a in answers])
    assert pages[0] == pages[1] and "Too many wrong passwords" in pages[0][-1]
    assert accounts.accounts()[0].locked and not accounts.accounts()[1].locked


def test_what_was_typed_as_an_unknown_login_is_kept_nowhere(dossier: Path) -> None:
    """It may be a password in the wrong field."""
    opened("operator")
    typed = "correct-horse-in-the-wrong-field"
    guess(typed, guessing.FREE_FAILURES)
    assert refusals() == ["a login that no account has: locked out for 30 s after 5 wrong passwords"]
    assert not Guesses.objects.filter(what__contains="horse").exists()
    assert not Fact.objects.filter(body__contains="horse").exists()


@pytest.mark.parametrize("typed", ["\x00", "a" * 5000, "Å" * 80, " ", "account: x"])
def test_odd_logins_are_wrong_and_nothing_else(anywhere: Path, typed: str) -> None:
    opened("operator")
    guess(typed, 1)


def test_an_administrator_unlocks(dossier: Path) -> None:
    login = opened("operator")
    guess(login, guessing.FREE_FAILURES)
    administrator = logged_in("root.admin")
    assert b"locked out" in administrator.get("/accounts/").content
    assert administrator.post("/accounts/", {"do": "unlock", "login": login}).status_code == 302
    assert accounts.log_in(login, PASSWORD, ELSEWHERE).login == login
    assert Fact.objects.filter(kind="account").last().data["act"] == "unlocked"


def test_the_auditor_sees_every_lock_out(dossier: Path) -> None:
    login = opened("operator")
    guess(login, guessing.FREE_FAILURES)
    page = logged_in(opened("auditor")).get("/audit/lists/blocked/").content.decode()
    assert f"account: {login}: locked out for 30 s" in page


def test_wrong_signatures_count_as_guesses(dossier: Path) -> None:
    opened("operator")
    account = accounts.log_in("root.admin", PASSWORD, HERE)
    assert [accounts.password_is_right(account, "wrong", HERE) for _ in range(5)] == [False] * 5
    with pytest.raises(guessing.LockedOut):
        accounts.password_is_right(account, PASSWORD, HERE)
    assert any(ADMINISTRATOR not in text and "root.admin" in text for text in refusals())


@pytest.mark.parametrize(("typed", "place"), [
    ("192.0.2.7", "address: 192.0.2.7"),
    ("::ffff:192.0.2.7", "address: 192.0.2.7"),
    ("2001:db8:1:2:3:4:5:6", "address: 2001:db8:1:2::/64"),
    ("2001:db8:1:2:ffff::1", "address: 2001:db8:1:2::/64"),
    ("", "address: not known"),
])  # fmt: skip
def test_addresses_are_counted_by_network(typed: str, place: str) -> None:
    assert guessing.place_of_address(typed) == place
