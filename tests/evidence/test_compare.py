"""A later bundle against an earlier one and against receipts: appended only, rewritten, or not to be said."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.evidence import make_checkpoint
from evenpull.evidence.compare import CompareError, State, compare, read_receipt, read_state
from evenpull.evidence.sign import generate
from evenpull.evidence.succession import key_chain
from tests.evidence.bundles import AT
from tests.evidence.rich import Log


def grown(steps: int = 5) -> Log:
    log = Log()
    for number in range(steps):
        log.add("tightening", {"fastener": number}, {"torque": 90.5 + number})
        if number == 1:
            log.renew()
    return log


def test_a_later_bundle_holds_the_earlier_one(tmp_path: Path) -> None:
    log = grown(2)
    first, second, receipt = tmp_path / "first.zip", tmp_path / "second.zip", tmp_path / "receipt.txt"
    log.bundle(first, [])
    receipt.write_bytes(b"\r\n " + log.states[1].text.strip() + b"\r\n\r\n")  # as it comes out of an e-mail
    log.add("tightening", {"fastener": 9})
    log.renew()
    chosen = {s.size for s in log.successions}
    log.bundle(second, [], chosen)
    for earlier in (first, receipt, second):
        found = compare(read_state(second), read_state(earlier))
        assert found.verdict == "accepted", (earlier, found)
    assert "added 2 facts since" in compare(read_state(second), read_state(first)).text
    back = compare(read_state(first), read_state(second))
    assert back.verdict == "not judged" and "other way round" in back.text
    alone = compare(read_state(receipt), read_state(second))
    assert alone.verdict == "not judged"
    assert compare(State(log.states[1]), State(log.states[0])).verdict == "not judged"
    same = State(log.states[1], key_chain([], log.successions[0].old))
    assert compare(read_state(receipt), same).verdict == "accepted"


def test_without_a_proof_nothing_is_said(tmp_path: Path) -> None:
    log = grown()
    path = tmp_path / "b.zip"
    few = [log.states[1]]  # the state before the key took over must be there; no other is
    log.bundle(path, [], {log.successions[0].size}, earlier=few)
    found = compare(read_state(path), State(log.states[3]))
    assert found.verdict == "not judged" and "--since" in found.text
    log.bundle(path, [], earlier=few)  # all facts: each earlier state follows from them
    assert compare(read_state(path), State(log.states[3])).verdict == "accepted"


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_rewritten_log_is_told_from_an_honest_one(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """The holder of the key changes one old fact and signs everything again; any receipt from after it tells."""
    honest, forged, path = grown(), Log(), tmp_path_factory.mktemp("f") / "b.zip"
    place = data.draw(st.integers(0, len(honest.facts) - 1).filter(lambda n: n != honest.successions[0].size))
    forged.key = honest.began
    for number in range(5):
        bodies = [{"fastener": number}, {"torque": 90.5 + number}]
        for offset in range(2):
            if len(forged.facts) + offset == place:
                bodies[offset] = {"torque": 1.0}
        forged.add("tightening", *bodies)
        if number == 1:
            forged.renew()
    forged.bundle(path, [])
    state = data.draw(st.sampled_from(honest.states))
    found = compare(read_state(path), State(state))
    if state.size <= honest.successions[0].size:  # from then on the forger's new key is another one
        assert found.verdict == ("not accepted" if place < state.size else "accepted")
        assert place >= state.size or "REWRITTEN" in found.text
    else:
        assert found.verdict == "not accepted"


def test_another_key_and_a_changed_receipt_are_refused(tmp_path: Path) -> None:
    log = grown()
    path, state = tmp_path / "b.zip", log.states[0]
    log.bundle(path, [])
    other = make_checkpoint(state.size, bytes.fromhex(state.root), AT, generate())
    found = compare(read_state(path), State(other))
    assert found.verdict == "not accepted" and other.key in found.text
    text = state.text.decode()
    for changed in (text.replace('"size":2', '"size":3'), text.replace("2026", "2025")):
        found = compare(read_state(path), State(read_receipt(changed.encode())))
        assert found.verdict == "not accepted" and "signature does not fit" in found.text
    for bad in (b"", b"{}", text.encode()[:-20], text.upper().encode(), b"x" * 3000):
        with pytest.raises(CompareError):
            read_receipt(bad)
    (tmp_path / "bad.zip").write_bytes(path.read_bytes().replace(b'"fastener":1', b'"fastener":7'))
    (tmp_path / "other.txt").write_bytes(b"x" * 5000)
    for bad_path in ("bad.zip", "other.txt"):
        with pytest.raises(CompareError, match=bad_path):
            read_state(tmp_path / bad_path)
