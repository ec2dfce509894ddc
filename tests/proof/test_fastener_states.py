"""Every row of the table of transitions, driven by entries and records."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from evenpull.intake.record import Tightening
from evenpull.ledger.entry import Entry
from evenpull.ledger.machine import STATES, TRANSITIONS, Transition
from evenpull.plan.model import Plan
from evenpull.proof import prove
from evenpull.proof.surroundings import Surroundings
from tests.proof.build import START, plan, record
from tests.proof.test_ledger import N_M, asking, entry

Facts = tuple[list[Tightening], list[Entry]]


def _joint() -> Plan:
    asked = asking(check=True, locking="wire", protrusion=(1.0, 4.0), single_use=("nut",), drag_window=N_M)
    short = plan(count=1, passes="[50, 100]", strict_passes=False)
    return replace(short, spec=replace(short.spec, parts=asked.spec.parts, gates=asked.spec.gates))


AT = _joint()


def _pull(hour: float, number: int, **changes: object) -> Tightening:
    return record(AT, 1, number, int(hour * 120), **changes)


def _steps(undone: bool) -> dict[str, Facts]:
    """What has to be there for each state, beside what the states before it have."""
    start: list[Entry] = [entry("disturbed", -1, fasteners=(1,), seq=1)] if undone else []
    return {
        "disturbed" if undone else "not fitted": ([], start),
        "parts complete": ([], [
            entry("parts fitted", 0, fasteners=(1,), seq=2, part="nut", condition="new"),
            entry("drag measured", 0, fasteners=(1,), seq=3, drag="9 N.m"),
        ]),
        "tightened": ([_pull(1, 1), _pull(2, 2)], []),
        "locked": ([], [
            entry("locking fitted", 3, fasteners=(1,), seq=4, device="wire"),
            entry("protrusion seen", 3, fasteners=(1,), seq=5, threads="2"),
        ]),
        "checked": ([], [entry("checked", 4, seq=6, seen="wire and mark", result="in order")]),
    }  # fmt: skip


def _until(state: str, undone: bool) -> Facts:
    records: list[Tightening] = []
    entries: list[Entry] = []
    for name, (pulled, said) in _steps(undone).items():
        records += pulled
        entries += said
        if name == state:
            return records, entries
    raise AssertionError(state)


BACK: dict[str, tuple[Tightening | Entry, ...]] = {
    "pulled again": (_pull(6, 2, event="touch-up"),),
    "protrusion outside its window": (entry("protrusion seen", 6, fasteners=(1,), seq=9, threads="9"),),
    "a pull not accepted": (_pull(6, 2, torque=200.0),),
    "part not fit, never undone": (entry("parts fitted", 6, seq=9, part="nut", condition="used"),),
    "part not fit, undone before": (entry("drag measured", 6, fasteners=(1,), seq=9, drag="3 N.m"),),
    "loosened": (entry("loosened", 6, fasteners=(1,), seq=9), _pull(6, 2, direction="loosen", event="loosen")),
    "removed or replaced": (entry("removed", 6, fasteners=(1,), seq=9), _pull(6, 2, event="replace")),
    "disturbed while doing something else": (entry("disturbed", 6, fasteners=(1,), seq=9),),
    "found loose": (entry("as found", 6, seq=9, leaking="no", marks="broken", loose="1"),),
    "found not in order": (
        entry("checked", 6, seq=9, seen="turned by hand", result="not in order"),
        entry("follow-up done", 6, fasteners=(1,), seq=9, result="not in order"),
    ),
}


def _state(records: list[Tightening], entries: list[Entry]) -> str:
    return prove(AT, records, around=Surroundings(entries=tuple(entries))).states[0].state


@pytest.mark.parametrize("row", TRANSITIONS, ids=lambda row: f"{row.before}, {row.event}")
def test_the_row_is_what_happens(row: Transition) -> None:
    for undone in (False, True):
        if row.before not in _steps(undone):
            continue
        if (row.event == "part not fit, never undone" and undone) or (
            row.event == "part not fit, undone before" and not undone
        ):
            continue
        records, entries = _until(row.before, undone)
        assert _state(records, entries) == row.before
        if row.event in BACK:
            for fact in BACK[row.event]:
                if row.before == "parts complete" and isinstance(fact, Tightening) and fact.event == "replace":
                    continue  # nothing was pulled before it: the parts stated are those of the new fastener
                pulled, said = list(records), list(entries)
                (pulled if isinstance(fact, Tightening) else said).append(fact)  # type: ignore[arg-type]
                assert _state(pulled, said) == row.after, fact
        else:
            assert _state(*_until(row.after, undone)) == row.after


def test_the_table_knows_every_state_and_every_cause() -> None:
    assert {row.before for row in TRANSITIONS} | {row.after for row in TRANSITIONS} == set(STATES)
    forward = {row.event for row in TRANSITIONS} - BACK.keys()
    assert {row.event for row in TRANSITIONS} == forward | BACK.keys() and len(forward) == 5
    for event in ("loosened", "disturbed while doing something else", "found loose", "removed or replaced"):
        assert {row.before for row in TRANSITIONS if row.event == event} == set(STATES) - {"disturbed"}


def test_what_is_proven_already_is_passed_at_once() -> None:
    records, entries = _until("checked", False)
    late = [e for e in entries if e.kind != "parts fitted"]
    assert _state(records, late) == "not fitted"
    assert _state(records, entries) == "checked"


def test_the_life_of_a_fastener_is_told_in_time() -> None:
    records, entries = _until("checked", True)
    again = _pull(6, 2, event="re-tighten after service")
    state = prove(AT, [*records, again], around=Surroundings(entries=tuple(entries))).states[0]
    assert state.tightened_again == 1 and state.disturbances == 1 and state.state == "tightened"
    whens = [one.when for one in state.history]
    assert len(whens) == 1 + 2 + 3 + 2 + 1 and whens == sorted(whens)
    assert whens[0] == f"{START - timedelta(hours=1):%Y-%m-%d %H:%M} UTC" and "valve exchange" in state.history[0].what
    assert {debt.what for debt in state.debts} == {"locking", "protrusion", "independent check"}
    assert all(debt.closed_by and "disturbed on" in debt.cause for debt in state.debts)
