"""An entry that would change nothing, because what it names is not there, is refused with what is there."""

from __future__ import annotations

import html
from pathlib import Path
from typing import Any

import pytest

from evenpull.ledger.entry import Entry, EntryError
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import audit_facts
from tests.cli.calling import call
from tests.store.people import HEADERS, PASSWORD, logged_in, opened
from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row

ENGINEER = "S. Quillfeather"


def corrected(record: str, field: str, old: str, new: str) -> Entry:
    values = {"record": record, "field": field, "old": old, "new": new}
    return services.add_entry("correction", JOINT, values, ENGINEER, basis="from paper", reason="misread on the card")


@pytest.mark.parametrize(
    ("wrong", "field", "what", "way_out"),
    [
        ({"record": "no such record"}, "record", "it names no record of this joint", "one of its 1 records"),
        ({"old": "9"}, "old", "the record says '1' for pass, not '9'", "what the record says now"),
        ({"new": "0"}, "new", "'0' is not a number from 1 to 10000", "another pass"),
    ],
)
def test_a_correction_that_would_not_be_applied_is_refused(
    anywhere: Path, wrong: dict[str, str], field: str, what: str, way_out: str
) -> None:
    furnish()
    services.commit_file("a.csv", file_of([row(1)]), MAPPING, AUTHOR)
    (record,) = services.joint(JOINT).tightenings
    before = Fact.objects.count()
    with pytest.raises(EntryError) as caught:
        corrected(**({"record": record.key, "field": "pass", "old": "1", "new": "2"} | wrong))
    ((at, said, allowed),) = caught.value.faults
    assert at == field and what in said and way_out in allowed
    assert Fact.objects.count() == before
    assert not any(flag.code == "corrected" for flag in services.joint(JOINT).proof.flags)


def test_a_correction_of_a_correction_names_the_value_that_stands(anywhere: Path) -> None:
    furnish()
    services.commit_file("a.csv", file_of([row(1)]), MAPPING, AUTHOR)
    (record,) = services.joint(JOINT).tightenings
    corrected(record.key, "pass", "1", "2")
    with pytest.raises(EntryError, match="says '2' for pass, not '1'"):
        corrected(record.key, "pass", "1", "3")
    corrected(record.key, "pass", "2", "3")
    assert [flag.blocking for flag in services.joint(JOINT).proof.flags if flag.code == "corrected"] == [False, False]


def test_the_page_of_a_record_gives_the_name_that_a_correction_needs(dossier: Path) -> None:
    from django.test import Client

    furnish()
    services.commit_file("a.csv", file_of([row(1)]), MAPPING, AUTHOR)
    (record,) = services.joint(JOINT).tightenings
    fact = Fact.objects.get(kind="tightening")
    assert audit_facts.fact(fact.seq).record == record.key and audit_facts.fact(0).record == ""
    assert record.key in Client(**HEADERS).get(f"/audit/facts/{fact.seq}/").content.decode()
    assert f"name for corrections: {record.key}" in call("audit", "fact", str(fact.seq)).output


def follow_up(joint: str, name: str, result: str = "in order") -> Entry:
    values = {"follow_up": name, "result": result, "found": "nothing moved"}
    return services.add_entry("follow-up done", joint, values, ENGINEER)


@pytest.mark.parametrize(
    ("file", "joint", "known"),
    [
        ("kn-cw-026", "KN-CW-026", "'dwell round' (not started), 'after 500 h' (not started);"),
        ("kn-cw-008", JOINT, "'dwell re-tightening' (not started);"),
        ("kn-bh-021", "KN-BH-021", "none is asked of this joint;"),
    ],
)
def test_a_follow_up_that_nobody_asked_for_is_refused_with_those_that_there_are(
    anywhere: Path, file: str, joint: str, known: str
) -> None:
    furnish(file)
    before = Fact.objects.count()
    for result in ("in order", "not in order"):
        with pytest.raises(EntryError) as caught:
            follow_up(joint, "dwell", result)
        ((at, said, allowed),) = caught.value.faults
        assert at == "follow_up" and f"'dwell' is no follow-up of {joint}" in said
        assert allowed.startswith(known) and "'observation'" in allowed
    assert Fact.objects.count() == before
    seen = {"seen": "nothing moved", "result": "in order"}
    assert services.add_entry("checked", joint, seen, ENGINEER).kind == "checked"  # the way out leads on


def test_a_known_follow_up_is_taken_in_whatever_capitals(anywhere: Path) -> None:
    furnish("kn-cw-026", "kn-cw-008")
    for joint, name in (("KN-CW-026", "After  500 H"), ("KN-CW-026", "dwell round"), (JOINT, "Dwell re-tightening")):
        assert follow_up(joint, name).text("follow_up") == " ".join(name.split())


def test_the_page_names_the_follow_ups_beside_the_field(dossier: Path, settings: Any) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    furnish("kn-cw-026")
    form = {"kind": "follow-up done", "basis": "did it", "unsure": "0", "password": PASSWORD}
    form |= {"f:follow_up": "the round", "f:result": "in order", "f:found": "nothing moved"}
    client = logged_in(opened("checker"))
    answer = client.post("/joints/KN-CW-026/entry/", form)
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 422 and "'dwell round' (not started)" in page
    assert client.post("/joints/KN-CW-026/entry/", form | {"f:follow_up": "dwell round"}).status_code == 302
