"""A finding read from whatever a form or a fact may hold: read, or refused by the error that is said."""

from __future__ import annotations

from contextlib import suppress

from hypothesis import given
from hypothesis import strategies as st

from evenpull.review.found import FOUND_KINDS, Found, from_json, to_json
from evenpull.review.given import ASKED, read_found
from evenpull.review.suspects import ReviewError

GOOD = {"serial": "TW-0233", "kind": "out of tolerance", "at": "2026-05-04 10:30", "certificate": "KNC-26-0602",
        "words": "reads six percent high"}  # fmt: skip
TEXTS = st.text(max_size=20) | st.sampled_from(
    [*FOUND_KINDS, "2026-05-04 10:30", "2026-05-04", "9999-12-31", "0001-01-01 00:00", "1 %", "-1 %", "nan", "inf",
     "1e400", "120 N.m", "0 N.m", "-3 N.m", "12", "\u0664"]
)  # fmt: skip
NUMBERS = st.integers() | st.floats()
VALUES = st.none() | st.booleans() | NUMBERS | st.text(max_size=9) | st.lists(st.floats(), max_size=4)


@given(st.dictionaries(st.sampled_from([one.name for one in ASKED]), TEXTS))
def test_any_form_gives_a_finding_or_its_faults(values: dict[str, str]) -> None:
    with suppress(ReviewError):
        assert isinstance(read_found(GOOD | values), Found)


@given(st.sampled_from(sorted(to_json(read_found(GOOD)))), VALUES, st.booleans())
def test_a_damaged_finding_is_refused(name: str, value: object, gone: bool) -> None:
    """One that `to_json` wrote comes back; with one value lost it is refused, with another value it is read or
    refused."""
    body = to_json(read_found(GOOD))
    assert from_json(body) == read_found(GOOD)
    if gone:
        del body[name]
    else:
        body[name] = value
    try:
        from_json(body)
    except (KeyError, ValueError):
        return
    assert not gone
