"""Entries: what is refused, with every fault at once, and that what is written comes back the same."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.ledger.check import NumbersError, check, fastener_numbers
from evenpull.ledger.entry import BASES, Entry, EntryError, from_json, to_json
from evenpull.ledger.kinds import GATES, KINDS
from evenpull.ledger.words import render

NOW = datetime(2026, 3, 18, 13, 40, tzinfo=UTC)


def made(kind: str = "loosened", values: dict[str, object] | None = None, **more: object) -> Entry:
    given = {
        "name": "KN-CW-014", "unit": "", "fasteners": "3, 7-9", "at": NOW - timedelta(hours=1), "at_uncertainty": 60.0,
        "basis": "did it", "reason": "", "by": "S. Tamblyn", "written_at": NOW, "count": 16,
    }  # fmt: skip
    return check(kind, {"why": "valve exchange"} if values is None else values, **(given | more))  # type: ignore[arg-type]


def faults(*args: object, **more: object) -> dict[str, str]:
    with pytest.raises(EntryError) as caught:
        made(*args, **more)  # type: ignore[arg-type]
    return {name: f"{what} ({allowed})" for name, what, allowed in caught.value.faults}


def test_a_good_entry_and_its_line() -> None:
    entry = made()
    assert entry.fasteners == (3, 7, 8, 9) and not entry.late
    assert render(entry) == (
        "Loosened, fasteners 3, 7–9, 2026-03-18 12:40 UTC: For which work: valve exchange; S. Tamblyn, did it"
    )


def test_every_fault_is_said_at_once() -> None:
    found = faults("loosened", {"wy": "x"}, fasteners="0, 17", at=NOW + timedelta(days=1), basis="dreamt it")
    assert set(found) == {"wy", "why", "fasteners", "at", "basis"}
    assert "why" in found["wy"] and "1 to 16" in found["fasteners"] and "future" in found["at"]


@pytest.mark.parametrize(
    ("kind", "values", "field"),
    [
        ("drag measured", {"drag": "12"}, "drag"),
        ("drag measured", {"drag": "12 parsecs"}, "drag"),
        ("protrusion seen", {"threads": "-1"}, "threads"),
        ("parts fitted", {"part": "thing", "condition": "new"}, "part"),
        ("as found", {"leaking": "no", "marks": "none", "loose": "7-3"}, "loose"),
        ("checked", {"seen": "all marks in line", "result": "OK"}, "result"),
        ("hand-over", {"from": "A", "to": "S. Tamblyn", "pass": "2"}, "from"),
    ],
)
def test_each_form_is_checked(kind: str, values: dict[str, object], field: str) -> None:
    assert field in faults(kind, values, fasteners="3" if KINDS[kind].fasteners == "needed" else "")


def test_a_late_entry_needs_its_reason() -> None:
    long_ago = NOW - timedelta(days=3)
    assert "more than a day" in faults(at=long_ago)["reason"]
    assert made(at=long_ago, reason="the card lay in the cabin", basis="from paper").late


def test_an_unknown_kind_is_answered_with_near_ones() -> None:
    assert "loosened" in faults("losened")["kind"]


def test_numbers() -> None:
    assert fastener_numbers(" 1-3,7 ") == (1, 2, 3, 7) and fastener_numbers("") == ()
    for bad in ("a", "1-", "3-1", "1,,2", "9" * 1200):
        with pytest.raises(NumbersError):
            fastener_numbers(bad)


def test_the_table_of_kinds_is_sound() -> None:
    for kind in KINDS.values():
        names = [field.name for field in kind.fields]
        assert len(names) == len(set(names)) and kind.label and kind.meaning
        assert all(field.choices for field in kind.fields if field.form == "choice")
        assert all(field.quantity for field in kind.fields if field.form == "quantity")
    assert {"identity", "independent check", "revision"} <= set(GATES)


texts = st.text(max_size=30)


@given(
    st.sampled_from([*KINDS, "x"]), st.dictionaries(texts | st.sampled_from(["why", "lot", "drag", "result"]), texts),
    texts, texts, st.floats(), st.sampled_from([*BASES, "?"]), texts,
)  # fmt: skip
def test_nothing_but_an_entry_error(
    kind: str, values: dict[str, object], fasteners: str, name: str, uncertain: float, basis: str, reason: str
) -> None:
    try:
        entry = made(kind, values, fasteners=fasteners, name=name, at_uncertainty=uncertain, basis=basis, reason=reason)
    except EntryError:
        return
    again = from_json(to_json(entry), id=entry.id, by=entry.by, written_at=entry.written_at, seq=entry.seq)
    assert again == entry and again.values == entry.values and render(entry)
