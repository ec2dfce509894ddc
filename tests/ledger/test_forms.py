"""The forms of the fields of an entry, what fields say together, and that any input is answered with its faults."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.ledger.check import check
from evenpull.ledger.entry import BASES, Entry, EntryError, from_json, to_json
from evenpull.ledger.kinds import GROUPS, KINDS, Kind
from evenpull.ledger.words import render

NOW = datetime(2026, 3, 18, 13, 40, tzinfo=UTC)
COUNT = 16


def made(kind: str, values: dict[str, object], **more: object) -> Entry:
    joint = KINDS[kind].subject == "joint"
    given: dict[str, object] = {
        "name": "KN-CW-014", "unit": "", "fasteners": "3" if KINDS[kind].fasteners == "needed" else "",
        "at": NOW - timedelta(hours=1), "at_uncertainty": 60.0, "basis": "did it", "reason": "as asked by the lead",
        "by": "S. Tamblyn", "written_at": NOW, "count": COUNT if joint else None,
    }  # fmt: skip
    return check(kind, values, **(given | more))  # type: ignore[arg-type]


def faults(kind: str, values: dict[str, object], **more: object) -> dict[str, str]:
    with pytest.raises(EntryError) as caught:
        made(kind, values, **more)
    return {name: f"{what} ({allowed})" for name, what, allowed in caught.value.faults}


SPAN = {"qualification": "flange assembly", "issued_by": "K. Osei"}
CONTACT = {"tool_clock": "14:02:10", "zone": "UTC", "uncertainty": "5", "trusted": "site clock"}


@pytest.mark.parametrize(
    ("kind", "values", "field", "words"),
    [
        ("drag measured", {"drag": "-3 N.m"}, "drag", "negative"),
        ("drag measured", {"drag": "12"}, "drag", "unit is missing"),
        ("hand-over", {"from": "A. Vance", "to": "S. Tamblyn", "pass": "1.5"}, "pass", "whole number"),
        ("hand-over", {"from": "A. Vance", "to": "S. Tamblyn", "pass": "1", "last": "17"}, "last", "1 to 16"),
        ("hand-over", {"from": "A. Vance", "to": "a. vance", "pass": "1"}, "to", "same as from"),
        ("as found", {"leaking": "no", "marks": "none", "loose": "15-17"}, "loose", "1 to 16"),
        ("qualification", SPAN | {"from": "2026-05-01", "until": "2026-04-30"}, "from", "beyond"),
        ("qualification", SPAN | {"from": "0001-01-01", "until": "2026-04-30"}, "from", "not a day"),
        ("qualification", SPAN | {"from": "20260101", "until": "2026-04-30"}, "from", "not a day"),
        ("clock contact", CONTACT | {"true_clock": "2026-03-18T14:02:10Z"}, "true_clock", "future"),
        ("clock contact", CONTACT | {"true_clock": "2026-03-18T12:02:10"}, "true_clock", "offset"),
        ("clock contact", CONTACT | {"true_clock": "0001-01-01T00:00+23:59"}, "true_clock", "year 1"),
        ("alignment", {"pulled_in": "no", "gap": "1 mm", "gap_least": "0.2 cm"}, "gap_least", "beyond"),
        ("load read", {"method": "depth gauge"}, "elongation", "at least one of"),
        ("conditions", {}, "temperature", "at least one of"),
        ("parts fitted", {"part": "bolt", "condition": "new", "use": "2"}, "use", "does not go with"),
        ("parts fitted", {"part": "bolt", "condition": "used", "use": "1"}, "use", "does not go with"),
        ("loosened", {"why": "x" * 201}, "why", "201 characters"),
        ("observation", {"words": "x" * 2001}, "words", "2001 characters"),
        ("loosened", {"why": "pump\x07change"}, "why", "U+0007"),
        ("loosened", {"why": "pump \u202e egnahc"}, "why", "cannot be printed"),
        ("loosened", {"why": 5}, "why", "not a text"),
    ],
)
def test_what_is_refused(kind: str, values: dict[str, object], field: str, words: str) -> None:
    found = faults(kind, values)
    assert set(found) == {field} and words in found[field]


@pytest.mark.parametrize(
    ("more", "field", "words"),
    [
        ({"at": None}, "at", "missing"),
        ({"at": NOW.replace(tzinfo=None)}, "at", "offset"),
        ({"at": NOW + timedelta(minutes=2)}, "at", "future"),
        ({"at": datetime(1904, 1, 1, tzinfo=UTC)}, "at", "1904"),
        ({"at_uncertainty": float("nan")}, "at_uncertainty", "nan"),
        ({"by": "X"}, "by", "2 to 80"),
        ({"by": ""}, "by", "missing"),
        ({"name": " "}, "name", "missing"),
        ({"fasteners": (1, True)}, "fasteners", "whole numbers"),
        ({"fasteners": (0, 1)}, "fasteners", "1 to 16"),
        ({"fasteners": ""}, "fasteners", "missing"),
        ({"basis": "guessed"}, "basis", "saw it"),
    ],
)
def test_what_stands_round_the_fields(more: dict[str, object], field: str, words: str) -> None:
    found = faults("loosened", {"why": "valve exchange"}, **more)
    assert set(found) == {field} and words in found[field]


def test_a_unit_belongs_to_a_joint_only() -> None:
    assert set(faults("tool dropped", {"what": "fell 2 m"}, unit="7")) == {"unit"}


def test_a_field_with_a_fault_is_not_faulted_twice() -> None:
    found = faults("load read", {"method": "depth gauge", "elongation": "a lot"})
    assert set(found) == {"elongation"} and "begin with a number" in found["elongation"]


def test_the_moment_is_kept_in_utc() -> None:
    east = timezone(timedelta(hours=5, minutes=30))
    entry = made("mark made", {}, at=datetime(2026, 3, 18, 18, 30, tzinfo=east))
    assert entry.at.utcoffset() == timedelta(0) and "2026-03-18 13:00 UTC" in render(entry)


def test_the_lines_of_a_long_text_are_kept_and_printed_as_one() -> None:
    entry = made("observation", {"words": "first  line\r\n\n second line \n"})
    assert entry.text("words") == "first line\n\nsecond line"
    assert "\n" not in render(entry) and "first line second line" in render(entry)


def test_what_the_table_says_of_several_fields_names_fields_of_the_kind() -> None:
    for kind in KINDS.values():
        forms = {one.name: one.form for one in kind.fields}
        named = {*kind.one_of, *(n for pair in (*kind.rising, *kind.differ) for n in pair)}
        assert named <= set(forms), kind.name
        assert {forms[n] for pair in kind.rising for n in pair} <= {"date", "quantity"}
        assert not any(one.required for one in kind.fields if one.name in kind.one_of)
    assert sum(map(len, GROUPS.values())) == len(KINDS), "a kind stands in two groups"


LIKELY = st.sampled_from([
    "yes", "no", "none", "1", "3", "0", "1.5", "7-3", "12 N.m", "-4 N.m", "1e999 N.m", "1/0 mm", "3 mm", "20 degC",
    "5 kN",
    "2026-03-01", "2026-02-30", "9999-12-31", "2026-03-18T10:00Z", "9999-12-31T23:59-23:59", "0001-01-01T00:00+23:59",
    "S. Tamblyn", "bolt", "new", "used", "in order", "passed", "\0", "\ud800", "x" * 3000,
])  # fmt: skip


def values_of(kind: Kind) -> st.SearchStrategy[dict[str, object]]:
    each = {one.name: LIKELY | st.text(max_size=20) | st.sampled_from(one.choices or ("",)) for one in kind.fields}
    return st.fixed_dictionaries({}, optional={**each, "stray": st.none() | st.integers()})  # type: ignore[arg-type]


@settings(max_examples=400)
@given(
    st.sampled_from(list(KINDS.values())).flatmap(lambda kind: st.tuples(st.just(kind.name), values_of(kind))),
    st.one_of(LIKELY, st.text(max_size=10), st.lists(st.integers(-3, 20), max_size=4)),
    st.none() | st.datetimes(timezones=st.none() | st.just(UTC) | st.just(timezone(timedelta(hours=-11)))),
    st.floats(), st.sampled_from([*BASES, "?"]), LIKELY | st.text(max_size=10), LIKELY, st.none() | st.integers(1, 200),
)  # fmt: skip
def test_any_input_is_an_entry_or_faults(
    case: tuple[str, dict[str, object]], fasteners: object, at: datetime | None, uncertain: float, basis: str,
    reason: str, by: str, count: int | None,
) -> None:  # fmt: skip
    kind, values = case
    try:
        entry = made(kind, values, fasteners=fasteners, at=at, at_uncertainty=uncertain, basis=basis, reason=reason,
                     by=by, count=count)  # fmt: skip
    except EntryError as error:
        assert error.faults and all(name and what and allowed for name, what, allowed in error.faults)
        return
    assert from_json(to_json(entry), id="", by=entry.by, written_at=NOW, seq=-1) == entry
    assert "\n" not in render(entry)
    again = check(kind, entry.values, name=entry.name, unit=entry.unit, fasteners=entry.fasteners, at=entry.at,
                  at_uncertainty=entry.at_uncertainty, basis=entry.basis, reason=entry.reason, by=entry.by,
                  written_at=NOW, count=count)  # fmt: skip
    assert again == entry, "what was tidied once stays as it is"


REQUIRED = {
    "text": "words", "long text": "words", "number": "2.5", "whole": "2", "date": "2026-03-01", "flag": "yes",
    "moment": "2026-03-18T10:00:00Z", "person": "A. Vance", "tool": "TW-0207", "fastener": "3", "numbers": "1-3",
}  # fmt: skip
QUANTITY = {"torque": "12 N.m", "length": "3 mm", "force": "5 kN", "temperature": "18 degC", "angle": "4 deg"}


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_each_kind_can_be_written(kind: Kind) -> None:
    """With every field filled, and (where nothing asks for one of several) with the required ones only."""
    def filled(all_of_them: bool) -> dict[str, object]:
        values: dict[str, object] = {}
        for one in kind.fields:
            if one.required or all_of_them:
                values[one.name] = one.choices[-1] if one.choices else QUANTITY.get(one.quantity) or REQUIRED[one.form]
        for pair in kind.differ:
            if pair[1] in values:
                values[pair[1]] = "B. Quayle"
        return values

    entry = made(kind.name, filled(True))
    assert set(entry.values) == {one.name for one in kind.fields} and kind.label in render(entry)
    if not kind.one_of:
        assert made(kind.name, filled(False)).kind == kind.name
