"""The fitness gate on the facts of a dossier: cards refused or issued, page, command, and what is judged at intake."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client

from evenpull.proof.model import GateResult
from evenpull.store import services
from evenpull.store.models import Fact, Finding
from evenpull.store.services import audit, findings, fitting
from evenpull.store.services.fact_kinds import CARD
from tests.cli.calling import call
from tests.equipment.files import CERTIFICATES
from tests.equipment.files import EQUIPMENT as REGISTER
from tests.equipment.fit import SIMPLE, plan
from tests.store.people import HEADERS
from tests.store.samples import AUTHOR, MAPPING, furnish, many
from tests.store.samples import JOINT as PUMP

JOINT = "KN-CW-014"
TODAY = datetime.now(UTC).date()
FIRST, LAST = TODAY - timedelta(days=60), TODAY + timedelta(days=200)


def dated(text: str) -> str:
    """Certificates of this year, whenever the test runs."""
    for written, day in (("2026-03-02", FIRST), ("2027-03-01", LAST), ("2026-02-10", FIRST), ("2027-02-09", LAST)):
        text = text.replace(written, str(day))
    return text


@pytest.fixture
def store(anywhere: Path) -> Path:
    """TW-0301 with its certificate and a counter that was read, TW-0207 in the simple register, a joint for both."""
    services.add_equipment(REGISTER, "equipment.toml", AUTHOR)
    services.add_certificates(dated(CERTIFICATES), "certificates.toml", AUTHOR, confirmed=True)
    services.add_tools(dated(SIMPLE.format(uncertainty="2.4 %")), "tools.toml", AUTHOR)
    services.add_entry("use count", "TW-0301", {"counter": "1300"}, AUTHOR)
    services.add_joint(plan().spec.text, "joint.toml", AUTHOR)
    return anywhere


def told(kind: str, serial: str = "TW-0301", reason: str = "", **values: str) -> None:
    services.add_entry(kind, serial, values, AUTHOR, reason=reason)


def refused(**how: object) -> str:
    with pytest.raises(services.Refused) as caught:
        services.issue_card(JOINT, "a4", AUTHOR, **how)  # type: ignore[arg-type]
    assert not Fact.objects.filter(kind=CARD).exists()
    return str(caught.value)


def test_a_card_names_its_tools_and_their_chain(store: Path) -> None:
    services.issue_card(JOINT, "a4", AUTHOR)
    assert Fact.objects.get(kind=CARD).data["tools"] == ["TW-0301", "TW-0207"]


@pytest.mark.parametrize(("kind", "values", "words"), [
    ("tool blocked", {}, "blocked since"),
    ("tool dropped", {"what": "from 2 m"}, "dropped or abused"),
    ("tool overloaded", {"what": "used as a lever"}, "overloaded"),
    ("tool repaired", {"what": "new ratchet", "adjusted": "yes"}, "repaired or adjusted"),
    ("tool lost", {"what": "since the night shift"}, "lost on"),
    ("use count", {"counter": "6300"}, "5100 of 5000 cycles"),
    ("shift check", {"set": "100 N.m", "device_value": "90 N.m", "device": "CD-0001", "result": "outside limits"},
     "outside its limits in the shift check"),
])
def test_no_card_for_a_tool_that_something_happened_to(
    store: Path, kind: str, values: dict[str, str], words: str,
) -> None:
    told(kind, reason="found so" if kind == "tool blocked" else "", **values)
    text = refused(tools=("TW-0301",))
    assert words in text and "1. TW-0207" in text and "1. TW-0301" not in text
    (row,) = audit.listed("kind", "refusal").rows
    assert row.author == AUTHOR and words in row.what
    card, _ = services.issue_card(JOINT, "a4", AUTHOR)  # nobody named it: it is left out
    assert Fact.objects.get(kind=CARD).data["tools"] == ["TW-0207"] and card.serial


def test_no_card_when_none_is_left_and_what_would_be_fit_is_named_apart(store: Path) -> None:
    told("tool blocked", "TW-0301", "found so")
    told("tool blocked", "TW-0207", "found so")
    text = refused()
    assert "No allowed tool is fit for every pull" in text
    assert "Would be fit" not in text  # the crow-foot chain holds the wrench that is blocked


def test_no_card_that_is_valid_longer_than_the_certificate(store: Path) -> None:
    services.add_joint(plan(("TW-0301",)).spec.text, "joint.toml", AUTHOR)
    short = dated(CERTIFICATES).replace(str(LAST), str(TODAY + timedelta(days=2)))
    services.add_certificates(short, "c.toml", AUTHOR, confirmed=True, why="a day was mistyped")
    text = refused(hours_valid=7 * 24)
    assert "ran out on" in text and f"by {(datetime.now(UTC) + timedelta(days=7)).date()}" in text
    services.issue_card(JOINT, "a4", AUTHOR, hours_valid=24)


def test_a_state_of_the_register_is_judged_once_and_a_new_one_anew(store: Path) -> None:
    first = fitting.tool_fitness()
    assert fitting.tool_fitness() is first
    told("tool blocked", reason="found so")
    assert fitting.tool_fitness() is not first
    assert fitting.table(JOINT).of("TW-0301").fit is False  # type: ignore[union-attr]


def test_the_page_shows_the_order_the_reasons_and_the_day(store: Path) -> None:
    client = Client(**HEADERS)
    page = client.get(f"/joints/{JOINT}/tools/").content.decode()
    assert page.index("1. <a") < page.index("TW-0301") < page.index("TW-0207") < page.index("Allowed and not fit")
    assert "60 N·m" in page and "below 0.01 %" in page and "smallest probability of a false acceptance" in page
    assert "CF-0007" in page.split("Would be fit, but is not allowed here")[1]
    late = client.get(f"/joints/{JOINT}/tools/?day={LAST + timedelta(days=1)}").content.decode()
    assert "ran out on" in late and "None of the allowed tools" in late
    assert client.get(f"/joints/{JOINT}/tools/?day=soon").status_code == 400
    assert client.get(f"/joints/{JOINT}/tools/?day={LAST}&until={TODAY}").status_code == 400
    assert client.get("/joints/KN-NO-1/tools/").status_code == 404
    joint = client.get(f"/joints/{JOINT}/").content.decode()
    assert f"/joints/{JOINT}/tools/" in joint and "probability of a false acceptance at most below 0.01 %" in joint


def test_the_command_says_the_same(store: Path) -> None:
    done = call("fit", JOINT)
    assert "1. TW-0301" in done.output and "2. TW-0207" in done.output
    data = json.loads(call("fit", JOINT, "--json").output)
    assert [one["serial"] for one in data["fit"]] == ["TW-0301", "TW-0207"]
    assert data["fit"][0]["pulls"][0]["setting"] == "60" and data["refused"] == []
    late = call("fit", JOINT, "--day", str(LAST + timedelta(days=1)), code=1)
    assert "NOT FIT" in late.output and "ran out on" in late.output
    assert "certificate KNC-26-0412 is in force" in " ".join(call("fit", JOINT, "--tool", "TW-0301").output.split())
    for wrong in (("--tool", "TW-9"), ("--day", "soon"), ("--until", str(date(2001, 1, 1)))):
        call("fit", JOINT, *wrong, code=2)


STRICT = """form = "evenpull equipment 1"
[[torque_tool]]
serial = "TW-0207"
name = "Setting torque wrench, tool store 2"
kind = "setting"
drive = "12.5"
unit = "N.m"
range = ["40 N.m", "200 N.m"]
resolution = "1 N.m"
permissible = "4 %"
uncertainty = "2.4 %"
directions = ["clockwise"]
serves = "C"
"""


def test_records_are_judged_again_when_the_register_says_more_and_an_exception_covers_them(anywhere: Path) -> None:
    """TW-0207 pulled on a joint of class B; then the register says that it may serve class C only."""
    furnish()

    def fit() -> GateResult:
        return next(one for one in services.joint(PUMP).proof.gates if one.name == "tool fit")

    services.commit_file("a.csv", many(8), MAPPING, AUTHOR)
    findings.refresh(5)
    assert fit().state == "met" and not Finding.objects.get(joint=PUMP).stale
    services.add_equipment(STRICT, "equipment.toml", AUTHOR)
    assert Finding.objects.get(joint=PUMP).stale
    found = fit()
    assert found.state == "not met" and "the joint is of class B, the tool may serve class C" in found.reason
    assert len(found.against) == 8
    given = {"gate": "tool fit", "authority": "engineer of record"}
    services.add_entry("exception", PUMP, given, "S. Quillfeather", reason="no other wrench reaches the rear bolts")
    assert fit().state == "excepted"
    services.commit_file("b.csv", many(1, start=9), MAPPING, AUTHOR)
    assert fit().state == "not met" and "excepted" in fit().reason
