"""The life of one fastener as a state machine: what moves it on, what throws it back, and what is owed in each state.

The table below is the machine; docs/ledger.md and its drawing are made from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

State = Literal["not fitted", "disturbed", "parts complete", "tightened", "locked", "checked"]
Step = Literal["parts", "tighten", "lock", "check"]  # in this order; a step that the joint does not ask for is passed
STATES: tuple[State, ...] = ("not fitted", "disturbed", "parts complete", "tightened", "locked", "checked")
STEPS: tuple[Step, ...] = ("parts", "tighten", "lock", "check")
REACHED: dict[Step, State] = {
    "parts": "parts complete", "tighten": "tightened", "lock": "locked", "check": "checked",
}  # fmt: skip


@dataclass(frozen=True)
class Transition:
    """`event` in words; `proof` is what the program takes for it."""

    before: State
    event: str
    after: State
    proof: str


UNDONE: tuple[tuple[str, str], ...] = (
    ("loosened", "entry loosened, or a record in the loosening direction"),
    ("removed or replaced", "entry removed, or a record of that kind"),
    ("disturbed while doing something else", "entry disturbed"),
    ("found loose", "entry as found that names it"),
    ("found not in order", "entry checked or follow-up done with that result"),
)
_FITTED = "entries parts fitted (stack, lots, new or used) and the drag"
_UNFIT = "a later entry or record: used once too often, lot blocked, stack not complete, drag outside its window"
TRANSITIONS: tuple[Transition, ...] = (
    Transition("not fitted", "parts complete", "parts complete", f"{_FITTED}, as the joint asks"),
    Transition("disturbed", "parts complete again", "parts complete", f"{_FITTED}, later than what undid it"),
    Transition("parts complete", "tightened in all passes", "tightened",
               "an accepted record in every pass, known to be later than what undid it"),
    Transition("tightened", "locked, marked, measured", "locked",
               "entries locking fitted, mark made, protrusion seen, as the joint asks, later than its last pull"),
    Transition("locked", "seen in order by a second person", "checked",
               "entry checked by no operator of the joint, later than its last pull, its lock and its mark"),
    *(Transition(state, "pulled again", "tightened", "an accepted record: lock, mark and check are owed anew")
      for state in STATES[4:]),
    *(Transition(state, "protrusion outside its window", "tightened", "a later entry protrusion seen")
      for state in STATES[4:]),
    *(Transition(state, "a pull not accepted", "parts complete", "the record that counts is not accepted or not judged")
      for state in STATES[3:]),
    *(Transition(state, "part not fit, never undone", "not fitted", _UNFIT) for state in STATES[2:]),
    *(Transition(state, "part not fit, undone before", "disturbed", _UNFIT) for state in STATES[2:]),
    *(Transition(state, event, "disturbed", proof) for event, proof in UNDONE
      for state in STATES if state != "disturbed"),
)  # fmt: skip
CLOSED_BY: dict[str, str] = {
    "parts": "an entry parts fitted that states it, later than what undid the fastener",
    "drag": "a drag measured inside its window, as an entry or in a record, later than what undid the fastener",
    "tightening": "an accepted record in every pass, known to be later than what undid the fastener",
    "locking": "an entry locking fitted with that device, later than the last pull",
    "mark": "an entry mark made, later than the last pull",
    "protrusion": "an entry protrusion seen, later than the last pull",
    "independent check": "an entry checked, in order, by no operator of the joint, later than its last pull and lock",
}


@dataclass(frozen=True)
class Debt:
    """What is owed on one fastener: which step, what is lacking, what caused it, and what closes it."""

    step: Step
    what: str  # "tightening", "stack", "lot of the bolt", "locking", "mark", ...
    text: str
    cause: str  # the entry or record that opened it, in words; "" for a first assembly

    @property
    def closed_by(self) -> str:
        """What closes it, in words."""
        return CLOSED_BY.get(self.what, CLOSED_BY["parts"])


@dataclass(frozen=True)
class Happening:
    """One thing in the life of a fastener, as entered or recorded. `when`: "" when it is not known."""

    when: str
    what: str
    by: str


@dataclass(frozen=True)
class FastenerState:
    """Where a fastener stands by what was entered and recorded; decisions of people do not move it. Nothing is owed
    only in the last state that the joint asks for."""

    unit: str
    fastener: int
    state: State
    debts: tuple[Debt, ...]
    disturbances: int  # how often it was loosened, removed, disturbed or found loose
    tightened_again: int  # records of the kind re-tighten after service
    faults: tuple[str, ...] = ()  # parts that must not be there, measures outside their windows
    excepted: tuple[str, ...] = ()  # what a person with the authority excepted, with name and authority
    history: tuple[Happening, ...] = ()  # in time
    unproven: tuple[int, ...] = ()  # passes without an accepted record

    @property
    def owed(self) -> tuple[str, ...]:
        """All that is still lacking, in words, and what caused it at the end; () when the fastener is done."""
        found = [debt.text for debt in self.debts]
        found += self.faults
        if self.unproven and not any(debt.what == "tightening" for debt in self.debts):
            found.append(f"not accepted in pass {', '.join(map(str, self.unproven))}")
        if causes := dict.fromkeys(debt.cause for debt in self.debts if debt.cause):
            found.append(f"since: {'; '.join(causes)}")
        return tuple(found)


def state_of(disturbed: bool, owed: set[Step]) -> State:
    """The state that follows from what is still owed: the last one before the first step that is owed."""
    start: State = "disturbed" if disturbed else "not fitted"
    reached = start
    for step in STEPS:
        if step in owed:
            return reached
        reached = REACHED[step]
    return reached
