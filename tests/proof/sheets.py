"""Seeded sheets for the tests of doubt: honest ones of many tools, and ones that were made up. All invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import lru_cache

import numpy as np

from evenpull.intake.record import Tightening
from evenpull.plan.model import Plan, Tool
from evenpull.quantities import measured, to_si
from tests.proof.build import START, plan, work

Kind = str
SCATTER = {"indicating": (0.002, 0.03), "powered": (0.001, 0.02), "setting": (0.004, 0.03), "hydraulic": (0.001, 0.02)}
STEPS = (0.01, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
COUNTS = (4, 8, 12, 16, 24, 32)


@dataclass(frozen=True)
class Case:
    """How one joint was tightened."""

    count: int
    kind: Kind
    step: float  # in the unit of the tool
    sigma: float  # share
    unit: str
    registered: bool  # the register knows the tool
    angles: float  # step of the angles (deg), 0 for none
    tools: int  # that work at the same time, each with a memory and a file of its own
    places: int  # decimal places that are written

    def __str__(self) -> str:
        return f"{self.count} x {self.kind} {self.step} {self.unit} {100 * self.sigma:.2f} %"


def honest_case(dice: np.random.Generator) -> Case:
    kind = str(dice.choice(["indicating", "indicating", "powered", "setting", "hydraulic"]))
    low, high = SCATTER[kind]
    step = float(dice.choice(STEPS))
    return Case(
        int(dice.choice(COUNTS)), kind, step, float(np.exp(dice.uniform(np.log(low), np.log(high)))),
        str(dice.choice(["N.m", "N.m", "N.m", "lbf.ft"])), bool(dice.random() < 0.8),
        float(dice.choice([0.0, 0.1, 1.0])), int(dice.choice([1, 1, 1, 2])),
        (0 if step >= 1 else 1 if step >= 0.1 else 2) + int(dice.random() < 0.2),
    )  # fmt: skip


@lru_cache(maxsize=64)
def _pulls(count: int) -> tuple[Plan, tuple[Tightening, ...]]:
    at = plan(count=count)
    return at, tuple(work(at))


def plan_of(case: Case) -> Plan:
    """The plan with the tools of the case, as far as the register knows them."""
    at, _ = _pulls(case.count)
    named = ("TW-1", "TW-4")[: case.tools]
    first = next(tool for tool in at.tools if tool.serial == "TW-1")
    made: list[Tool] = [
        replace(first, serial=serial, kind=case.kind, unit=case.unit,  # type: ignore[arg-type]
                resolution=measured(case.step, case.unit, "torque"))
        for serial in named
    ]  # fmt: skip
    return replace(at, tools=tuple(made) if case.registered else ())


def sheet(case: Case, dice: np.random.Generator) -> list[Tightening]:
    """What such tools write down in honest work: normal scatter round a mean off by up to 2 %, rounded to the step."""
    _, pulls = _pulls(case.count)
    n, factor = len(pulls), to_si(1.0, case.unit, "torque")
    aims = np.array([r.torque for r in pulls]) / factor
    off = dice.uniform(-0.02, 0.02, case.tools)
    bearer = np.arange(n) % case.tools
    values = aims * (1 + off[bearer] + case.sigma * dice.standard_normal(n))
    values = np.round(values / case.step) * case.step
    angles = 25 + 5 * dice.standard_normal(n)
    least = 2.0 if case.kind in ("powered", "hydraulic") else 4.0  # s, for the quickest
    times = np.cumsum(least + dice.exponential(8.0, n)) if case.tools == 1 else np.empty(n)
    if case.tools > 1:  # both pull at the same moment
        rounds = np.cumsum(least + dice.exponential(8.0, (n + 1) // 2))
        times = np.repeat(rounds, 2)[:n] + dice.uniform(0, 0.5, n)
    made = []
    for i, one in enumerate(pulls):
        text = f"{values[i]:.{case.places}f}"
        angle = "" if not case.angles else f"{round(angles[i] / case.angles) * case.angles:.{case.angles < 1:d}f}"
        made.append(replace(
            one, torque=float(text) * factor, torque_text=text, torque_unit=case.unit, angle_text=angle,
            time=START + timedelta(seconds=float(times[i])), tool=("TW-1", "TW-4")[bearer[i]],
            file_sha256=f"{bearer[i]:064d}", raw_sha256=f"{i:064d}",
        ))  # fmt: skip
    return made


def rewritten(records: list[Tightening], text: Callable[[int, Tightening], str]) -> list[Tightening]:
    """The records with other torques, as `text` writes them in their own unit."""
    made = []
    for i, one in enumerate(records):
        found = text(i, one)
        made.append(replace(one, torque_text=found, torque=float(found) * to_si(1.0, one.torque_unit, "torque")))
    return made


def constant(records: list[Tightening], dice: np.random.Generator) -> list[Tightening]:
    """One measured value of each pass stands in all rows of that pass."""
    first: dict[int | None, str] = {}
    for one in records:
        first.setdefault(one.pass_number, one.torque_text)
    return rewritten(records, lambda i, r: first[r.pass_number])


def fond_of_0_and_5(records: list[Tightening], dice: np.random.Generator) -> list[Tightening]:
    """The last digit made up by somebody who takes 0 or 5 half of the time."""
    ends = dice.choice(list("0123456789"), len(records), p=[0.27, 0.06, 0.06, 0.07, 0.06, 0.26, 0.06, 0.06, 0.06, 0.04])
    return rewritten(records, lambda i, r: r.torque_text[:-1] + str(ends[i]))


def typed(records: list[Tightening], dice: np.random.Generator) -> list[Tightening]:
    """Forty in a minute."""
    return [replace(r, time=START + timedelta(seconds=1.5 * i)) for i, r in enumerate(records)]


def hardly_varied(records: list[Tightening], dice: np.random.Generator) -> list[Tightening]:
    """Somebody writes the same value again and again, now and then one step more."""
    first: dict[int | None, float] = {}
    for one in records:
        first.setdefault(one.pass_number, float(one.torque_text))
    places = len(records[0].torque_text.partition(".")[2])
    more = dice.choice([0, 0, 0, 1], len(records))
    return rewritten(records, lambda i, r: f"{first[r.pass_number] + more[i] * 10.0**-places:.{places}f}")
