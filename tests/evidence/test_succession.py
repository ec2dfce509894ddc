"""A key takes over only when both keys say so, and each checkpoint belongs to the key that was in force."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.evidence.checkpoint import make_checkpoint
from evenpull.evidence.sign import SecretKey, generate
from evenpull.evidence.succession import Succession, SuccessionError, key_chain, make_succession, read_succession
from tests.evidence.bundles import AT


def handed_over(*sizes: int) -> tuple[list[SecretKey], list[Succession]]:
    keys, made = [generate()], []
    for number, size in enumerate(sizes):
        keys.append(generate())
        last = make_checkpoint(size, bytes([number]) * 32, AT, keys[-2])
        made.append(make_succession(last, AT + timedelta(days=number), keys[-2], keys[-1]))
    return keys, made


def test_which_key_must_have_signed() -> None:
    keys, made = handed_over(4, 9)
    chain = key_chain(made, keys[2].public)
    assert [key.fingerprint for key in chain.keys] == [key.public.fingerprint for key in keys]
    for size, owner in ((1, 0), (4, 0), (5, 1), (9, 1), (10, 2), (1000, 2)):
        assert chain.at(size) == keys[owner].public
    assert key_chain([], keys[0].public).at(7) == keys[0].public
    assert [read_succession(m.body) for m in made] == made


def test_a_broken_chain_is_refused() -> None:
    keys, made = handed_over(4, 9)
    for statements, last in (
        (made[1:] + made[:1], keys[1]), (made[:1], keys[2]), ([made[0], made[0]], keys[1]), (made, keys[0]),
    ):  # fmt: skip
        with pytest.raises(SuccessionError):
            key_chain(statements, last.public)
    back = make_succession(make_checkpoint(12, bytes(32), AT, keys[2]), AT, keys[2], keys[0])
    with pytest.raises(SuccessionError, match="second time"):
        key_chain([*made, back], keys[0].public)
    with pytest.raises(SuccessionError, match="itself"):
        make_succession(make_checkpoint(4, bytes(32), AT, keys[0]), AT, keys[0], keys[0])
    with pytest.raises(SuccessionError, match="signed the last checkpoint"):
        make_succession(make_checkpoint(4, bytes(32), AT, keys[1]), AT, keys[0], keys[1])


@given(st.data())
def test_a_changed_statement_is_refused(data: st.DataObject) -> None:
    """One character of one field, in every field: both signatures cover all of it."""
    _, (made,) = handed_over(4)
    body = made.body
    name = data.draw(st.sampled_from(sorted(body)))
    if name == "size":
        body["size"] = data.draw(st.one_of(st.integers(-3, 2000), st.booleans(), st.just("4")).filter(lambda n: n != 4))
    else:
        place = data.draw(st.integers(0, len(body[name]) - 1))
        other = data.draw(st.sampled_from("0123456789abcdefABC Z").filter(lambda c: c != body[name][place]))
        body[name] = body[name][:place] + other + body[name][place + 1 :]
    with pytest.raises(SuccessionError):
        read_succession(body)


def test_what_is_no_statement_is_refused() -> None:
    for bad in (None, [], {}, {"form": "evenpull key succession 1"}, "x"):
        with pytest.raises(SuccessionError):
            read_succession(bad)
    _, (made,) = handed_over(4)
    with pytest.raises(SuccessionError):
        read_succession({**made.body, "more": 1})
