"""Accounts: every cell of the table of roles over HTTP, guessing, signatures, sessions."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import get_resolver, reverse

from evenpull.store import access, services
from evenpull.store.models import Account, Fact
from evenpull.store.services import accounts
from evenpull.web import acts
from tests.store.people import HEADERS, PASSWORD, fast_hashing, logged_in, opened
from tests.store.samples import JOINT, furnish

__all__ = ["fast_hashing"]  # a fixture that every test of this file uses

DOC = Path(__file__).parents[2] / "docs" / "accounts.md"


def addresses() -> list[tuple[str, str]]:
    """(name, path) of every address of the pages, with made-up values in it."""
    values = {"joint_id": JOINT, "calculation_id": "KN-C", "prediction_id": "KN-P", "study_id": "KN-S", "serial": "x",
              "sha256": "0" * 64, "which": "late", "what": "joint", "seq": 0, "number": 1, "seed": 1,
              "scan": "0" * 64, "picture": 1, "box": "got.1.1"}  # fmt: skip
    found = []
    for pattern in get_resolver().url_patterns:
        name = getattr(pattern, "name", None)
        if name is None:
            continue  # the HTTP interface is a branch of its own
        names = pattern.pattern.converters
        found.append((name, reverse(name, kwargs={key: values[key] for key in names})))
    return found


def test_every_address_has_an_act() -> None:
    assert {name for name, _ in addresses()} == set(acts.ACTS)


@pytest.mark.parametrize("role", access.ROLES)
def test_every_cell_of_the_table(dossier: Path, role: str) -> None:
    furnish()
    client = logged_in(opened(role))
    for name, path in addresses():
        if name in ("log-in", "log-out", "audit-draw"):
            continue
        for method in ("GET", "POST"):
            kinds = ("loosened", "checked", "exception", "tool blocked", "qualification") if name.startswith(
                "new-entry") else ("cause", "notices") if name == "review-say" else ("",)  # fmt: skip
            for kind in kinds:
                before = Fact.objects.count()
                form = {"password": PASSWORD, "kind": kind}
                answer = client.get(path) if method == "GET" else client.post(path, form)
                act = acts.act_of(name, method, kind)
                if act is None:
                    assert answer.status_code in (403, 405), (name, method)
                elif act == "any" or access.may(role, act):  # type: ignore[arg-type]
                    assert answer.status_code not in (403, 500), (role, name, method, kind, answer.status_code)
                else:
                    assert answer.status_code == 403, (role, name, method, kind, answer.status_code)
                    assert access.who_may(act)[0] in answer.content.decode()  # type: ignore[arg-type]
                if answer.status_code != 302:
                    assert Fact.objects.count() == before, (role, name, method)


@pytest.mark.parametrize("subject", ["tool", "person", "lot"])
def test_a_kind_of_another_subject_opens_no_other_form(dossier: Path, subject: str) -> None:
    """An operator may write "loosened" about a joint; naming it must not open the entries on persons or tools."""
    client = logged_in(opened("operator"))
    form = {"kind": "loosened", "name": "P. Quell", "f:state": "off duty", "reason": "as the roster says"}
    before = Fact.objects.count()
    answer = client.post(f"/entry/?subject={subject}", form)
    assert answer.status_code == 422 and "is no entry about a" in answer.content.decode()
    assert Fact.objects.count() == before


def test_without_log_in_nothing_is_shown(dossier: Path) -> None:
    opened("auditor")
    client = Client(**HEADERS)
    for name, path in addresses():
        if name in acts.OPEN:
            continue
        for answer in (client.get(path), client.post(path, {})):
            assert answer.status_code == 302 and "/log-in/" in answer["Location"], name
    assert str(services.home()) not in client.get("/log-in/").content.decode()


def test_without_accounts_the_pages_ask_for_no_password(dossier: Path) -> None:
    client = Client(**HEADERS)
    assert client.get("/").status_code == 200 and client.get("/log-in/").status_code == 404


def test_the_first_account_is_an_administrator_and_one_always_stays(anywhere: Path) -> None:
    with pytest.raises(services.Refused, match="administrator"):
        accounts.add_account("a.b", "A. Bee", "operator", PASSWORD, "A. Bee")
    accounts.add_account("a.b", "A. Bee", "administrator", PASSWORD, "A. Bee")
    for act in (lambda: accounts.close_account("a.b", "A. Bee"), lambda: accounts.set_role("a.b", "auditor", "A. Bee")):
        with pytest.raises(services.Refused, match="last open account"):
            act()
    with pytest.raises(services.Refused, match="one name stands for one person"):
        accounts.add_account("other", " a.  BEE ", "operator", PASSWORD, "A. Bee")
    with pytest.raises(services.Refused, match="too short"):
        accounts.add_account("c.d", "C. Dee", "operator", "short", "A. Bee")
    with pytest.raises(services.Refused, match="is no role"):
        accounts.add_account("c.d", "C. Dee", "king", PASSWORD, "A. Bee")
    facts = list(Fact.objects.filter(kind="account"))
    assert len(facts) == 1 and PASSWORD not in facts[0].body and "argon2" not in facts[0].body


def test_passwords_are_kept_as_argon2(dossier: Path, settings: Any) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    accounts.add_account("a.b", "A. Bee", "administrator", PASSWORD, "A. Bee")
    assert Account.objects.get(login="a.b").password.startswith("argon2$argon2id$")
    assert accounts.log_in("A.B", PASSWORD, "192.0.2.7").login == "a.b"


def test_the_documentation_is_the_table() -> None:
    lines = [line for line in DOC.read_text(encoding="utf-8").splitlines() if line.startswith("|")]
    rows = [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines]
    assert rows[0] == ("act", "what it is", *access.ROLES) and rows[2:] == access.table_rows()
