"""docs/records.md says what the tables say, and the tables name what is there."""

from __future__ import annotations

from dataclasses import fields

import pytest

from evenpull.equipment.guide import keeper_help
from evenpull.intake.fields import FIELDS
from evenpull.intake.record import Tightening
from evenpull.intake.record_fields import RECORD_FIELDS, RecordField
from evenpull.ledger.kinds import KINDS
from evenpull.plan import schema_help, tools_help
from evenpull.proof.model import Cell, Disposition, Proof
from evenpull.proof.rules import RULES
from evenpull.store.models import Fact
from tools import record_page

KNOWN: dict[str, set[str]] = {
    "record": {one.name for one in fields(Tightening)},
    "particular": set(FIELDS),
    "entry": {*KINDS, *(f"{kind.name}.{one.name}" for kind in KINDS.values() for one in kind.fields)},
    "joint file": {row.field for row in schema_help()},
    "tool file": {row.field for row in tools_help()},
    "equipment file": {row.field for row in keeper_help("equipment")},
    "certificate file": {row.field for row in keeper_help("certificates")},
    "fact": {one.name for one in Fact._meta.get_fields()},
    "disposition": {one.name for one in fields(Disposition)},
    "finding": {one.name for of in (Cell, Proof) for one in fields(of)},
}
# of the record, but no statement about the pull: which row it was, and what the reader noticed
OF_THE_READER = {"row", "remarks", "particulars"}


def test_the_page_is_made_from_the_tables() -> None:
    assert record_page.PAGE.read_text(encoding="utf-8") == record_page.page(), "run: python tools/record_page.py"


def test_the_numbers_run_through_and_the_minimum_set_is_what_it_was() -> None:
    assert [one.number for one in RECORD_FIELDS] == list(range(1, 52))
    least = [1, 2, 4, 6, 7, 8, 10, 11, 12, 17, 25, 26, 27, 28, 30, 32, 33, 45, 47, 48]
    assert [one.number for one in RECORD_FIELDS if one.minimum] == least


@pytest.mark.parametrize("one", RECORD_FIELDS, ids=lambda one: str(one.number))
def test_each_place_that_is_named_is_there(one: RecordField) -> None:
    assert one.kept and one.source and one.form
    for place in one.kept:
        where, colon, name = place.partition(": ")
        if colon:
            assert name in KNOWN[where], place
    for word in one.lack.split("; "):
        if word.startswith("flag: "):
            assert word.removeprefix("flag: ").split(" (")[0] in RULES, word
    assert one.lack or not one.minimum


def test_nothing_that_a_record_can_hold_is_left_out() -> None:
    named = {place for one in RECORD_FIELDS for place in one.kept}
    assert {f"particular: {name}" for name in FIELDS} <= named
    assert {f"record: {name}" for name in KNOWN["record"] - OF_THE_READER} <= named
