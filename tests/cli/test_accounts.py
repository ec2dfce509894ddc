"""Accounts by commands: opened, listed, closed; and under which names commands write once there are accounts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from evenpull.cli.main import app
from evenpull.demo import scenario
from evenpull.store import access, services
from evenpull.store.models import Account, Fact
from tests.cli.calling import call
from tests.store.samples import JOINT, furnish

PASSWORD = "seven tides at the narrows"


@pytest.fixture(autouse=True)
def fast_hashing(settings: Any) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def with_password(*words: str, code: int = 0, typed: tuple[str, str] = (PASSWORD, PASSWORD)) -> Result:
    result = CliRunner().invoke(app, ["account", *words], input="\n".join(typed) + "\n")
    assert result.exit_code == code, result.output
    assert PASSWORD not in result.output and "Traceback" not in result.output
    return result


@pytest.fixture
def staffed(dossier: Path) -> Path:
    """A dossier with an administrator and a tightening lead."""
    with_password("add", "a.bee", "--name", "A. Bee", "--role", "administrator", "--by", "A. Bee")
    with_password("add", "c.dee", "--name", "C. Dee", "--role", "tightening lead", "--by", "a.bee")
    return dossier


def test_accounts_are_opened_listed_changed_and_closed(staffed: Path) -> None:
    assert call("account", "list").output.splitlines() == [
        "a.bee: A. Bee, administrator, open", "c.dee: C. Dee, tightening lead, open",
    ]  # fmt: skip
    call("account", "role", "c.dee", "--role", "auditor", "--by", "A. Bee")
    call("account", "close", "c.dee", "--by", "A. Bee")
    assert "c.dee: C. Dee, auditor, closed" in call("account", "list").output
    call("account", "reopen", "c.dee", "--by", "A. Bee")
    call("account", "unlock", "c.dee", "--by", "A. Bee")
    before = Account.objects.get(login="c.dee").password
    with_password("password", "c.dee", "--by", "A. Bee", typed=(PASSWORD + "!", PASSWORD + "!"))
    assert Account.objects.get(login="c.dee").password != before
    acts = [(fact.data["act"], fact.author) for fact in Fact.objects.filter(kind="account")]
    assert acts == [(act, "A. Bee") for act in (
        "opened", "opened", "role given", "closed", "opened again", "unlocked", "password changed",
    )]  # fmt: skip
    assert not Fact.objects.filter(body__contains=PASSWORD).exists()


def test_what_is_refused_names_the_way_out(staffed: Path) -> None:
    size = Fact.objects.count()
    said = call("account", "role", "c.dee", "--role", "king", "--by", "A. Bee", code=2).output
    assert all(role in " ".join(said.split()) for role in access.ROLES)
    assert "c.dee" in call("account", "close", "nobody", "--by", "A. Bee", code=2).output
    assert "last open account" in call("account", "close", "a.bee", "--by", "A. Bee", code=2).output
    short = ("short", "short")
    command = ("add", "e.eff", "--name", "E. Eff", "--role", "operator", "--by", "A. Bee")
    assert "too short" in with_password(*command, code=2, typed=short).output
    assert Fact.objects.count() == size


def test_with_accounts_a_command_writes_under_the_name_of_one_only(staffed: Path, tmp_path: Path) -> None:
    tools = tmp_path / "tools.toml"
    tools.write_text(scenario.tools_text(), encoding="utf-8")
    size = Fact.objects.count()
    refused = call("add", tools, "--by", "M. Okonjo-Reyes", code=2)
    words = " ".join(refused.output.split())
    assert "is no open account" in words and "C. Dee (c.dee)" in words and Fact.objects.count() == size
    call("add", tools, "--by", "C.DEE")
    assert Fact.objects.order_by("-seq")[0].author == "C. Dee"
    mapping = tmp_path / "log.toml"
    mapping.write_text(scenario.mapping_text("semicolon-log"), encoding="utf-8")
    call("account", "close", "c.dee", "--by", "A. Bee")
    assert "is no open account" in " ".join(call("add", mapping, "--by", "C. Dee", code=2).output.split())
    call("add", mapping, "--by", " a.  BEE ")
    assert Fact.objects.order_by("-seq")[0].author == "A. Bee"


@pytest.mark.parametrize("words", [
    ("card", JOINT), ("dispose", JOINT, "FLAG", "--action", "replace", "--reason", "as seen"),
    ("release", JOINT, "--statement", "as read and seen"), ("import", "none.csv", "-m", "x"),
    ("enter", "TW-0207", "tool blocked"), ("key", "--renew"), ("time-stamp", "--request", "r.tsq"),
    ("account", "role", "c.dee", "--role", "auditor"), ("client", "add", "gateway", "--role", "operator"),
])  # fmt: skip
def test_every_command_that_writes_asks_for_such_a_name(staffed: Path, words: tuple[str, ...]) -> None:
    furnish()
    flag = services.joint(JOINT).proof.open_flags[0].key
    size = Fact.objects.count()
    said = call(*[flag if word == "FLAG" else word for word in words], "--by", "Somebody Else", code=2).output
    assert "is no open account" in " ".join(said.split())
    assert Fact.objects.count() == size


def test_an_account_and_a_client_share_no_name(staffed: Path) -> None:
    assert "already" in call("client", "add", "c. DEE", "--role", "operator", "--by", "a.bee", code=2).output
    call("client", "add", "gateway hall 3", "--role", "operator", "--by", "a.bee")
    command = ("add", "gate", "--name", "Gateway Hall 3", "--role", "operator", "--by", "a.bee")
    assert "already" in " ".join(with_password(*command, code=2).output.split())
