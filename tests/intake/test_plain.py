"""Records as JSON and back, and the cells of a row."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from evenpull.intake import Cells, canonical_tightening, from_json, to_json
from tests.intake.samples import GOOD, cell, read


def test_there_and_back() -> None:
    found = read(GOOD, cell(7, "x"), cell(2, "31.02.2026"), "")
    for item in (*found.tightenings, *found.unread, *found.set_aside):
        plain = to_json(item)
        assert from_json(json.loads(rfc8785.dumps(plain))) == item
    assert to_json(found.tightenings[0])["time"] == "2026-03-17T09:12:00Z"
    whole = from_json(json.loads(rfc8785.dumps(to_json(read(cell(7, "90")).tightenings[0]))))
    assert isinstance(whole.torque, float)  # type: ignore[union-attr]


@given(
    torque=st.one_of(st.none(), st.integers(0, 10**17).map(float), st.floats(0, 1e17)),
    angle=st.one_of(st.none(), st.integers(-1000, 1000).map(float), st.floats(-1e3, 1e3)),
    operator=st.text(st.characters(exclude_categories=["Cs"])),
)
def test_the_short_way_to_the_canonical_text_of_a_record_gives_the_same(
    torque: float | None, angle: float | None, operator: str
) -> None:
    row = replace(read(GOOD).tightenings[0], torque=torque, angle=angle, operator=operator)
    body = to_json(row)
    assert list(body) == sorted(body)  # the short way does not sort
    assert canonical_tightening(body) == rfc8785.dumps(body)


def test_what_is_no_record_is_refused() -> None:
    plain = to_json(read(GOOD).tightenings[0])
    with pytest.raises(ValueError, match="no kind of record"):
        from_json(plain | {"record": "other"})
    with pytest.raises(ValueError, match=r"not known \['extra'\]"):
        from_json(plain | {"extra": 1})
    del plain["tool"]
    with pytest.raises(ValueError, match=r"missing \['tool'\]"):
        from_json(plain)


def test_cells_are_a_mapping_that_can_be_hashed() -> None:
    cells = Cells(("a", "b", "c"), ("1", "2"))
    assert dict(cells) == {"a": "1", "b": "2"} == cells
    assert "c" not in cells and len(cells) == 2
    assert hash(cells) == hash(Cells(("a", "b", "c"), ("1", "2")))
    with pytest.raises(ValueError, match="3 cells for 2 columns"):
        Cells(("a", "b"), ("1", "2", "3"))
    assert hash(read(GOOD).tightenings[0])
