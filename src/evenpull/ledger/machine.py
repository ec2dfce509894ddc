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


_BACK = (
    ("loosened", "entry loosened, or a record in the loosening direction"),
    ("removed or replaced", "entry removed, or a record of that kind"),
    ("disturbed while doing something else", "entry disturbed"),
    ("found loose", "entry as found that names it"),
)
TRANSITIONS: tuple[Transition, ...] = (
    Transition("not fitted", "parts complete", "parts complete", "entries parts fitted: stack, lots, uses, drag"),
    Transition("disturbed", "parts complete again", "parts complete", "entries parts fitted after the disturbance"),
    Transition("parts complete", "tightened in all passes", "tightened", "accepted records of every pass since then"),
    Transition("tightened", "locked, marked, measured", "locked", "entries after the last pull of the fastener"),
    Transition("locked", "seen in order by a second person", "checked", "entry checked, after the last pull"),
    Transition("checked", "found not in order", "disturbed", "entry checked with that result"),
    *(Transition(state, event, "disturbed", proof) for state in STATES[2:] for event, proof in _BACK),
)


@dataclass(frozen=True)
class Debt:
    """What is owed on one fastener: which step, what is lacking, what caused it, and what closes it."""

    step: Step
    what: str  # "tightening", "stack", "lot of the bolt", "locking", "mark", ...
    text: str
    cause: str  # the entry or record that opened it, in words; "" for a first assembly


@dataclass(frozen=True)
class FastenerState:
    """Where a fastener stands. Nothing is owed only in the last state that the joint asks for."""

    unit: str
    fastener: int
    state: State
    debts: tuple[Debt, ...]
    disturbances: int  # how often it was loosened, removed, disturbed or found loose
    tightened_again: int  # records of the kind re-tighten after service


def state_of(disturbed: bool, owed: set[Step]) -> State:
    """The state that follows from what is still owed: the last one before the first step that is owed."""
    start: State = "disturbed" if disturbed else "not fitted"
    reached = start
    for step in STEPS:
        if step in owed:
            return reached
        reached = REACHED[step]
    return reached
