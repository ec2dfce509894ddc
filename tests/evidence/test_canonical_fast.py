"""The fast way of writing canonical JSON against the library that knows all of RFC 8785."""

from __future__ import annotations

import math

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.evidence.canonical import CanonicalError, canonical

texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
numbers = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(2**53) + 1, 2**53 - 1)
values = st.recursive(
    st.none() | st.booleans() | numbers | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=20,
)


@settings(max_examples=1500, deadline=None)
@given(values)
def test_both_write_the_same(value: object) -> None:
    assert canonical(value) == rfc8785.dumps(value)


EDGES = [1e-7, 1e-6, 5e-5, 1e-4, 0.1, -0.0, 1e15, 1e16, 1e21, 1e22, 2.0**53, 333333333.33333329, 5e-324, 1.79e308]


@pytest.mark.parametrize("value", EDGES)
def test_numbers_at_the_edges(value: float) -> None:
    """Some of them from the table of RFC 8785, appendix B."""
    assert canonical([value]) == rfc8785.dumps([value])


def test_keys_beyond_ascii_are_sorted_by_utf_16() -> None:
    """RFC 8785, 3.2.3: the euro sign, an emoji and others; bytes and UTF-16 units sort the last two differently."""
    value = {"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\U0001f600": 5, "\u0080": 6, "\u00f6": 7}
    assert canonical(value) == rfc8785.dumps(value)


@pytest.mark.parametrize("value", [math.nan, math.inf, 2**53, "\ud800", {1: 2}, object(), b"x"])
def test_what_has_no_canonical_form(value: object) -> None:
    with pytest.raises((CanonicalError, TypeError)):
        canonical([value])
