"""The envelope's text is put together from parts; it must be the canonical JSON of the whole."""

from __future__ import annotations

from dataclasses import asdict

from hypothesis import given
from hypothesis import strategies as st

from evenpull.evidence.canonical import canonical
from evenpull.evidence.fact import Envelope

# Surrogates cannot be written as UTF-8; RFC 8785 refuses them, and so does the database.
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
FLOATS = st.floats(allow_nan=False, allow_infinity=False)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | TEXT | FLOATS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)


@given(st.integers(0, 2**40), TEXT, TEXT, TEXT, TEXT, PLAIN)
def test_parts_give_the_canonical_whole(seq: int, kind: str, joint: str, key: str, author: str, body: object) -> None:
    envelope = Envelope(seq, kind, joint, key, author, "2026-03-01T10:00:00Z", "2026-03-01T10:00:01Z", body)
    assert envelope.canonical() == canonical(asdict(envelope))
    assert envelope.canonical(canonical(body)) == envelope.canonical()
