"""Open items: no path leads to a release with a debt open. Cases after public accident patterns, and random lives."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any, Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.intake.record import Particular, Tightening
from evenpull.ledger.entry import Entry
from evenpull.plan.model import GateRules, PartRules, Plan
from evenpull.proof import ACTIONS, decide, prove
from evenpull.proof.model import Proof
from evenpull.proof.surroundings import Surroundings
from evenpull.quantities import parse
from tests.proof.build import START, disposed, flags, only, plan, record, verdict, work

AFTER = START + timedelta(hours=8)
N_M = (parse("5 N.m", "torque"), parse("20 N.m", "torque"))


def entry(
    kind: str, hours: float = 8, by: str = "Q. Arkwright", fasteners: tuple[int, ...] = (), seq: int = 1, **values: str
) -> Entry:
    at = START + timedelta(hours=hours)
    subject: Literal["lot", "joint"] = "lot" if kind.startswith("lot") else "joint"
    given = {"why": "valve exchange"} if kind in ("loosened", "removed", "disturbed") else values
    name = "KN-XX-001" if subject == "joint" else "KL-1"
    known = f"{kind} {hours} {fasteners} {seq}"
    return Entry(known, kind, subject, name, "", fasteners, at, 0.0, "did it", "why", by, at, given, seq)


def asking(joint_class: str = "B", check: bool = False, **parts: Any) -> Plan:
    at = plan(joint_class=joint_class)
    spec = replace(at.spec, parts=PartRules(**parts), gates=GateRules(independent_check=check))
    return replace(at, spec=spec)


def proven(at: Plan, *entries: Entry, records: list[Tightening] | None = None, **around: Any) -> Proof:
    return prove(at, work(at) if records is None else records, around=Surroundings(entries=entries, **around))


def again(at: Plan, fastener: int, hours: float, passes: tuple[int, ...] = (1, 2, 3)) -> list[Tightening]:
    """The fastener pulled again, so many hours after the work began."""
    first = int(hours * 120)
    return [record(at, fastener, number, first + number) for number in passes]


@pytest.mark.parametrize("kind", ["loosened", "removed", "disturbed"])
def test_touched_for_access_and_never_put_back(kind: str) -> None:
    at = plan()
    proof = proven(at, entry(kind, fasteners=(2,)))
    assert "valve exchange" in only(proof, "open item").text and verdict(proof, 2, 3) == "not accepted"
    assert not decide(at, proof).signable
    part = proven(at, entry(kind, fasteners=(2,)), records=[*work(at), *again(at, 2, 10, (3,))])
    assert "in pass 1, 2" in only(part, "open item").text and not decide(at, part).signable
    whole = proven(at, entry(kind, fasteners=(2,)), records=[*work(at), *again(at, 2, 10)])
    assert not flags(whole, "open item") and {c.verdict for c in whole.cells} == {"accepted"}


def test_clocks_that_overlap_close_nothing() -> None:
    at = plan()
    unsure = replace(entry("disturbed", 9.9, fasteners=(2,)), at_uncertainty=3600.0)
    assert only(proven(at, unsure, records=[*work(at), *again(at, 2, 10)]), "open item").blocking


def test_locking_mark_and_protrusion_after_the_last_pull() -> None:
    at = asking(locking="split pin", witness_mark=True, protrusion=(1.0, 4.0))
    said = {f.text.split(":")[1].split()[0] for f in flags(proven(at), "open item")}
    assert said == {"locking", "mark", "protrusion"}
    right = [
        entry("locking fitted", device="Split pin 4 mm"), entry("mark made"), entry("protrusion seen", threads="2"),
    ]  # fmt: skip
    assert not flags(proven(at, *right), "open item") and decide(at, proven(at, *right)).signable
    early = [replace(e, at=START - timedelta(hours=1)) for e in right]
    assert len(flags(proven(at, *early), "open item")) == 3
    other = proven(at, entry("locking fitted", device="wire"), *right[1:])
    assert "split pin" in only(other, "open item").text
    short = proven(at, *right[:2], entry("protrusion seen", threads="0,5", fasteners=(3,)), right[2])
    assert flags(short, "part not fit") == [] or "0.5" in only(short, "part not fit").text


def test_a_reused_self_locking_nut_and_its_drag() -> None:
    at = asking(single_use=("nut",), drag_window=N_M)
    new = entry("parts fitted", 0, part="nut", condition="new")
    drag = entry("drag measured", -1, drag="9 N.m")
    assert not flags(proven(at, new, drag), "open item") and not flags(proven(at, new, drag), "part not fit")
    used = proven(at, entry("parts fitted", 0, part="nut", condition="used"), drag)
    assert "used once only" in only(used, "part not fit").text and not decide(at, used).signable
    weak = proven(at, new, entry("drag measured", -1, drag="3 N.m", fasteners=(2,)), drag)
    assert not flags(weak, "open item")
    last = proven(at, new, drag, entry("drag measured", 0, drag="3 N.m", fasteners=(2,)))
    assert "below its window" in only(last, "part not fit").text
    assert "not measured" in only(proven(at, new), "open item").text
    seen = [replace(r, particulars={"drag": Particular("9", "N.m", 9.0)}) for r in work(at)]
    assert not flags(proven(at, new, records=seen), "open item")


def test_after_a_removal_parts_are_asked_again() -> None:
    at = asking(single_use=("nut",), stack=("bolt", "washer", "nut"))
    fitted = entry("parts fitted", 0, part="nut", condition="new", complete="yes")
    assert not flags(proven(at, fitted), "open item")
    off = entry("removed", 8, fasteners=(2,))
    texts = [f.text for f in flags(proven(at, fitted, off, records=[*work(at), *again(at, 2, 10)]), "open item")]
    assert len(texts) == 2 and all(text.startswith("fastener 2:") for text in texts)
    back = entry("parts fitted", 9, part="nut", condition="new", complete="yes", fasteners=(2,))
    assert not flags(proven(at, fitted, off, back, records=[*work(at), *again(at, 2, 10)]), "open item")


def test_the_gasket_stays_while_one_fastener_holds() -> None:
    at = asking(single_use=("gasket",))
    numbers = tuple(range(1, at.spec.fasteners.count + 1))
    gasket = entry("parts fitted", -1, part="gasket", condition="new")
    struck = entry("disturbed", 8, fasteners=(2,))
    one = proven(at, gasket, struck, records=[*work(at), *again(at, 2, 10)])
    assert not flags(one, "open item") and decide(at, one).signable  # the joint was never open
    most = proven(at, gasket, entry("removed", 8, fasteners=numbers[1:]))
    assert all("gasket" not in flag.text for flag in flags(most, "open item"))
    records = [*work(at), *(r for n in numbers for r in again(at, n, 20 + n))]
    opened = proven(at, gasket, entry("removed", 8, fasteners=numbers), records=records)
    assert "fasteners 1–4: new or used gasket not stated" in only(opened, "open item").text
    # one after the other, over two days: nobody says that they were never all undone at once
    turns = [entry("removed", 8 + n, fasteners=(n,), seq=n) for n in numbers]
    assert flags(proven(at, gasket, *turns, records=records), "open item")
    other = entry("parts fitted", 18, part="gasket", condition="new", seq=99)
    assert not flags(proven(at, gasket, entry("removed", 8, fasteners=numbers), other, records=records), "open item")


def test_uses_lots_and_blocked_lots() -> None:
    at = asking(most_uses={"bolt": 3}, lots_needed=("bolt",))
    third = entry("parts fitted", 0, part="bolt", condition="used", use="3", lot="KL-1")
    assert not flags(proven(at, third), "part not fit") and not flags(proven(at, third), "open item")
    fourth = entry("parts fitted", 0, part="bolt", condition="used", use="4", lot="KL-1")
    assert "at most 3" in only(proven(at, fourth), "part not fit").text
    lots = {"KL-1": (entry("lot blocked", 9),)}
    assert "blocked" in only(proven(at, third, lots=lots), "part not fit").text
    free = {"KL-1": (entry("lot blocked", 9), entry("lot unblocked", 10, seq=2))}
    assert not flags(proven(at, third, lots=free), "part not fit")


def test_found_loose_twice_stops() -> None:
    at = plan()
    loose = {"leaking": "no", "marks": "broken", "loose": "2-3"}
    first, second = entry("as found", 8, **loose), entry("as found", 30, seq=2, **(loose | {"loose": "3"}))
    pulled = [*work(at), *(r for n in (2, 3) for r in again(at, n, 10 + n)), *again(at, 3, 40)]
    once = proven(at, first, records=pulled[:-3])
    assert not flags(once, "loose again") and not flags(once, "open item")
    proof = proven(at, first, second, records=pulled)
    assert "fastener 3 was found loose 2 times" in only(proof, "loose again").text
    assert not decide(at, proof).signable


def test_a_check_that_finds_something_opens_the_fastener_again() -> None:
    at = asking(check=True)
    good = entry("checked", 8, seen="marks in line", result="in order")
    bad = entry("checked", 9, fasteners=(4,), seen="turned by hand", result="not in order", seq=2)
    assert decide(at, proven(at, good)).signable
    assert not decide(at, proven(at, good, bad)).signable
    pulled = [*work(at), *again(at, 4, 10)]
    assert not decide(at, proven(at, good, bad, records=pulled)).signable  # nobody has seen it since
    seen = entry("checked", 12, seen="marks in line", result="in order", seq=3)
    assert decide(at, proven(at, good, bad, seen, records=pulled)).signable


def test_states_follow_the_machine() -> None:
    at = asking(check=True, locking="wire", single_use=("nut",))
    fitted = entry("parts fitted", 0, part="nut", condition="new")
    wire, seen = entry("locking fitted", 8, device="wire"), entry("checked", 9, seen="all", result="in order")

    def states(*entries: Entry, records: list[Tightening] | None = None) -> set[str]:
        return {one.state for one in proven(at, *entries, records=records).states}

    assert states(records=[]) == {"not fitted"}
    assert states(fitted, records=[]) == {"parts complete"}
    assert states(fitted) == {"tightened"} and states(fitted, wire) == {"locked"}
    assert states(fitted, wire, seen) == {"checked"}
    assert states(fitted, wire, seen, entry("disturbed", 10, fasteners=(1, 2, 3, 4))) == {"disturbed"}


ACTS = st.lists(
    st.tuples(
        st.sampled_from(["pull", "pull", "pull", "loosen", "loosened", "removed", "disturbed", "found loose", "parts",
                         "lock", "check"]),
        st.integers(1, 2), st.integers(1, 2),
    ),
    max_size=24,
)  # fmt: skip


def _life(at: Plan, acts: list[tuple[str, int, int]], full: bool) -> tuple[list[Tightening], list[Entry], bool]:
    """Records and entries of a life, one act an hour, and whether something is owed at its end by a model of its own:
    a fastener that was undone needs both passes, new parts, the lock and the check after them."""
    records, entries = [], []
    undone = {1: False, 2: False}
    lacks = {n: {"1", "2", "parts", "lock", "check"} for n in (1, 2)}
    if full:
        acts = [("parts", 1, 1), ("parts", 2, 1), *(("pull", n, p) for p in (1, 2) for n in (1, 2)), ("lock", 1, 1),
                ("lock", 2, 1), ("check", 1, 1), ("check", 2, 1), *acts]  # fmt: skip
    for hour, (act, n, p) in enumerate(acts, start=1):
        place = hour * 120
        if act == "pull":
            records.append(record(at, n, p, place))
            lacks[n] = (lacks[n] - {str(p)}) | {"lock", "check"}
        elif act == "loosen":
            records.append(record(at, n, None, place, direction="loosen", event="loosen"))
        elif act == "found loose":
            entries.append(entry("as found", hour, seq=hour, leaking="no", marks="broken", loose=str(n)))
        elif act in ("loosened", "removed", "disturbed"):
            entries.append(entry(act, hour, fasteners=(n,), seq=hour))
        elif act == "parts":
            entries.append(entry("parts fitted", hour, fasteners=(n,), seq=hour, part="nut", condition="new"))
            lacks[n].discard("parts")
        elif act == "lock":
            entries.append(entry("locking fitted", hour, fasteners=(n,), seq=hour, device="wire"))
            lacks[n].discard("lock")
        else:
            entries.append(entry("checked", hour, fasteners=(n,), seq=hour, seen="x", result="in order"))
            lacks[n].discard("check")
        if act in ("loosen", "found loose", "loosened", "removed", "disturbed"):
            undone[n] = True
            lacks[n] = {"1", "2", "parts", "lock", "check"}
    pulled_at_all = {n: any(r.fastener == n and r.direction == "tighten" for r in records) for n in (1, 2)}
    owed = any(lacks[n] if undone[n] or pulled_at_all[n] else lacks[n] & {"parts", "check"} for n in (1, 2))
    return records, entries, owed


@settings(max_examples=150, deadline=None)
@given(ACTS, st.booleans(), st.randoms(use_true_random=False))
def test_no_life_ends_in_a_release_with_a_debt_open(acts: list[tuple[str, int, int]], full: bool, dice: Any) -> None:
    base = plan(count=2, passes="[50, 100]", strict_passes=False)
    rules = PartRules(single_use=("nut",), locking="wire")
    at = replace(base, spec=replace(base.spec, parts=rules, gates=GateRules(independent_check=True)))
    records, entries, owed = _life(at, acts, full)
    around = Surroundings(entries=tuple(entries))
    proof = prove(at, records, around=around)
    # then somebody decides on all that is open, as the rules let him, several times over
    decided = []
    for turn in range(3):
        for flag in proof.open_flags:
            # leaving a record out says that it belongs elsewhere, which is another life
            action = dice.choice([a for a in ACTIONS if a not in ("not this joint", "superseded")])
            decided.append(disposed(flag, action, hours=100.0 + turn))
        proof = prove(at, records, around=around, dispositions=decided)
    decision = decide(at, proof, around)
    assert not (decision.signable and owed), (acts, [f.text for f in proof.flags])
    if full and not acts:
        assert decision.signable and not owed
    # the same in another order of receipt
    mixed, said = list(records), list(entries)
    dice.shuffle(mixed)
    dice.shuffle(said)
    assert prove(at, mixed, around=Surroundings(entries=tuple(said)), dispositions=decided).flags == proof.flags
    # one more loosening always takes the release away
    more = [*entries, entry("disturbed", 500, fasteners=(1,), seq=999)]
    later = prove(at, records, around=Surroundings(entries=tuple(more)), dispositions=decided)
    assert not decide(at, later).signable
