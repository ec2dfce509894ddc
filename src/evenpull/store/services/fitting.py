"""Which tools are fit for the pulls of a joint: the fitness gate on the facts of this dossier. Reading only."""

from __future__ import annotations

from datetime import UTC, date, datetime

from evenpull.equipment.gate import Table
from evenpull.equipment.holdings import Holdings
from evenpull.equipment.tool_fitness import ToolFitness
from evenpull.plan import make_plan
from evenpull.plan.model import Plan
from evenpull.store.services import facts, kept_tools, register

STATES = 4  # of the register, whose judgements are remembered

_made: dict[int, ToolFitness] = {}


def tool_fitness() -> ToolFitness:
    """The judge of tools for what both registers say now. One for each state of them: it remembers what it found."""
    return facts.once("tool fitness", lambda: _of(kept_tools.holdings()))


def _of(held: Holdings) -> ToolFitness:
    """By identity: it keeps its holdings, so that no other can have their place while it is here."""
    found = _made.get(id(held))
    if found is None or found.held is not held:
        found = ToolFitness(held)
        while len(_made) >= STATES:
            _made.pop(next(iter(_made)), None)
        _made[id(held)] = found
    return found


def table(joint_id: str, day: date | None = None, until: date | None = None, *, others: bool = True) -> Table:
    """Every allowed tool of a joint with reasons, risk, setting and place in the order, for work from `day` (today)
    to `until`; with `others` those too that would be fit but are not allowed. UnknownJoint with near ids."""
    spec, today = register.specification(joint_id), day or datetime.now(UTC).date()
    plan = make_plan(spec, register.tools_in_force(today, spec.tools_allowed), today)
    return table_of(plan, today, until, others=others)


def table_of(plan: Plan, day: date, until: date | None = None, *, others: bool = True) -> Table:
    """The same for a plan that is made already. Without `others` the allowed tools alone."""
    return tool_fitness().table(plan, day, until, others=others)
