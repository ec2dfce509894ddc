"""A line of a card and the memory of the tool tell of one pull: once where they agree, open where they do not."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from evenpull.intake.record import Particular, Tightening
from evenpull.proof import decide
from evenpull.proof.model import Disposition
from tests.proof.build import only, plan, prove, work


def on_card(record: Tightening, torque: str = "") -> Tightening:
    """The same pull as a card tells it: no counter, no time of the row."""
    text = torque or record.torque_text
    return replace(
        record, counter=None, epoch="", time=None, time_text="", file_sha256="c" * 64, raw_sha256="d" * 64,
        torque_text=text, torque=float(text), angle=None, angle_text="",
        particulars={"card": Particular("KN-XX-001-JWEV-85"), "card_line": Particular(str(record.fastener)),
                     "keyed_by": Particular("A. Thorsby")},
    )  # fmt: skip


def test_a_card_that_the_memory_confirms_stands_once():
    at = plan()
    tool = work(at)
    cards = [on_card(r) for r in tool if r.pass_number == 1]
    proof = prove(at, [*tool, *cards])
    assert proof.flags == () and proof.records == len(tool) and proof.repeated == len(cards)
    assert decide(at, proof).state == "released"


def test_a_card_that_the_memory_contradicts_is_open_until_a_person_says_which_was_the_pull():
    at = plan()
    tool = work(at)
    one = next(r for r in tool if r.pass_number == 1 and r.fastener == 2)
    card = on_card(one, f"{float(one.torque_text) + 1:.1f}")
    proof = prove(at, [*tool, card])
    flag = only(proof, "card and tool differ")
    assert flag.blocking and set(flag.records) == {one.key, card.key} and "the card says" in flag.text
    assert decide(at, proof).state == "not released"
    said = Disposition(flag.key, "engineering review", "the paper was read again: a slip of the pen", "Q. Lead",
                       datetime(2026, 3, 20, tzinfo=UTC))  # fmt: skip
    after = prove(at, [*tool, card], dispositions=[said])
    assert flag.key not in {one.key for one in after.open_flags} and flag.key in {one.key for one in proof.open_flags}
