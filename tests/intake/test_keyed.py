"""Typed records: refused field by field, or kept as a file that the same reader reads to the last row."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.intake import read_bytes, read_mapping
from evenpull.intake.keyed import (
    EVENTS,
    KEYED_FIELDS,
    KEYED_MAPPING,
    KNOWN_BY,
    KeyedError,
    keyed_file,
)
from evenpull.ledger.entry import BASES

MAPPING = read_mapping(KEYED_MAPPING, "typed.toml")
GOOD = {
    "joint": "KN-CW-008", "fastener": "3", "pass": "2", "event": "step", "torque": "90.50", "torque unit": "lbf.ft",
    "angle": "28", "tool": "TW-0207", "counter": "4181", "operator": "J. Mwangale", "date": "2026-03-17",
    "time": "09:12", "zone": "Europe/London", "card serial": "C-0117", "card line": "4", "keyed by": "P. Lowe",
    "basis": "from paper",
}  # fmt: skip


def faults(*rows: dict[str, str], now: datetime | None = None) -> list[tuple[int, str]]:
    with pytest.raises(KeyedError) as caught:
        keyed_file(rows, now=now)
    assert all(str(fault) in str(caught.value) for fault in caught.value.faults)
    return [(fault.row, fault.field) for fault in caught.value.faults]


def changed(**cells: str) -> dict[str, str]:
    return GOOD | {name.replace("_", " "): text for name, text in cells.items()}


def test_a_typed_row_is_read_as_typed() -> None:
    reading = read_bytes(keyed_file([GOOD]), MAPPING, "typed.csv")
    assert not reading.unread
    one = reading.tightenings[0]
    # 1 lbf.ft = 4.4482216152605 N x 0.3048 m exactly (NIST SP 811, appendix B)
    assert one.torque == pytest.approx(90.5 * 4.4482216152605 * 0.3048, rel=1e-12)
    assert (one.torque_text, one.torque_unit, one.fastener, one.pass_number) == ("90.50", "lbf.ft", 3, 2)
    assert (one.tool, one.counter, one.operator) == ("TW-0207", 4181, "J. Mwangale")
    assert (one.event, one.direction) == ("step", "tighten")
    assert one.time == datetime(2026, 3, 17, 9, 12, tzinfo=UTC)
    assert {name: p.text for name, p in one.particulars.items()} == {
        "card": "C-0117", "card_line": "4", "keyed_by": "P. Lowe", "late_basis": "from paper"}
    assert one.remarks == ()


def test_the_ways_of_knowing_are_those_of_entries() -> None:
    assert KNOWN_BY == BASES


@pytest.mark.parametrize(("cells", "field"), [
    ({"fastener": "0"}, "fastener"), ({"fastener": "3a"}, "fastener"), ({"joint": " "}, "joint"),
    ({"torque": "90,5"}, "torque"), ({"torque": "-4"}, "torque"), ({"torque": "nan"}, "torque"),
    ({"torque": "1e10"}, "torque"),
    ({"torque_unit": "kN"}, "torque unit"), ({"torque_unit": ""}, "torque unit"), ({"torque": ""}, "torque"),
    ({"angle": "x"}, "angle"), ({"event": "done"}, "event"), ({"pass": "100"}, "pass"), ({"counter": "-1"}, "counter"),
    ({"tool": ""}, "tool"), ({"operator": ""}, "operator"), ({"date": "17.03.2026"}, "date"),
    ({"date": "2026-02-30"}, "date"), ({"date": ""}, "date"), ({"time": "24:00"}, "time"), ({"zone": ""}, "zone"),
    ({"zone": "Summer"}, "zone"), ({"card_serial": ""}, "card serial"), ({"card_line": ""}, "card line"),
    ({"keyed_by": ""}, "keyed by"), ({"basis": "heard"}, "basis"), ({"basis": "saw it"}, "why late"),
    ({"joint": "KN\nCW"}, "joint"), ({"joint": "x" * 201}, "joint"), ({"colour": "red"}, "colour"),
    ({"date": "2026-03-29", "time": "01:30"}, "time"),  # Europe/London: clocks went forward at 01:00
    ({"date": "2026-10-25", "time": "01:30"}, "time"),  # and back at 02:00
])  # fmt: skip
def test_each_fault_names_its_row_and_field(cells: dict[str, str], field: str) -> None:
    assert faults(GOOD | {"card line": "5", "counter": "1"}, changed(**cells)) == [(2, field)]


def test_all_faults_at_once() -> None:
    assert faults({}, changed(fastener="", torque="a")) == [
        (1, "joint"), (1, "fastener"), (1, "event"), (1, "operator"), (1, "keyed by"), (1, "basis"),
        (2, "torque"), (2, "fastener"),
    ]  # fmt: skip


def test_an_offset_settles_an_hour_that_occurred_twice() -> None:
    rows = [changed(date="2026-10-25", time="01:30", zone=zone, counter=str(n), card_line=str(n))
            for n, zone in ((1, "+01:00"), (2, "+00:00"))]
    times = [one.time for one in read_bytes(keyed_file(rows), MAPPING, "t").tightenings]
    assert times == [datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 1, 30, tzinfo=UTC)]


def test_a_day_alone_stays_a_day_alone() -> None:
    one = read_bytes(keyed_file([changed(time="", zone="")]), MAPPING, "t").tightenings[0]
    assert one.time is None and one.time_text == "2026-03-17" and one.time_doubt


def test_nothing_lies_in_the_future() -> None:
    now = datetime(2026, 3, 17, 9, 11, tzinfo=UTC)
    assert faults(GOOD, now=now) == [(1, "date")]
    assert keyed_file([changed(time="09:11")], now=now)


def test_one_line_of_a_card_and_one_reading_of_a_tool_only_once() -> None:
    assert faults(GOOD, changed(counter="9")) == [(2, "card line")]
    assert faults(GOOD, changed(card_line="9")) == [(2, "counter")]


def test_no_rows_and_too_many() -> None:
    assert faults() == [(0, "rows")]
    assert faults(*[GOOD] * 5001) == [(0, "rows")]


words = st.text(max_size=12)
rows = st.lists(
    st.fixed_dictionaries(
        {field.name: st.one_of(st.just(GOOD.get(field.name, "")), st.just(GOOD.get(field.name, "")), words)
         for field in KEYED_FIELDS}
        | {"event": st.sampled_from(EVENTS), "card line": st.integers(1, 99).map(str),
           "counter": st.integers(0, 99).map(str), "joint": words, "operator": words, "why late": words}
    ), min_size=1, max_size=6,
)  # fmt: skip


@settings(deadline=None)
@given(rows)
def test_what_is_accepted_is_read_to_the_last_row(typed: list[dict[str, str]]) -> None:
    try:
        data = keyed_file(typed)
    except KeyedError:
        return
    reading = read_bytes(data, MAPPING, "typed.csv")
    assert not reading.unread and len(reading.set_aside) == 1
    for one, row in zip(reading.tightenings, typed, strict=True):
        assert one.joint == " ".join(row["joint"].split()) and one.event == row["event"]
        assert str(one.counter) == row["counter"] and one.fastener == int(row["fastener"])
        assert not one.remarks
