"""Values of records as they were written, in the unit in which they were written, gathered for the tests of doubt."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Plan, Tool
from evenpull.quantities import to_si
from evenpull.statistics.rounding import lattice_step

REPEAT_HAND, REPEAT_POWERED = 0.002, 0.001  # share: pulls scatter at least so much; common practice, no source
Source = tuple[str, str]  # tool, unit
Step = tuple[float, bool]  # in that unit; whether the register knows it
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
BY_HAND = ("indicating", "setting")  # kinds; a tool that the register does not know may be any
_PRINTS_SETTING = ("setting", "hydraulic", "")  # kinds whose written value may be what was dialled; "": not known


@dataclass(frozen=True, slots=True)
class Written:
    """A torque as written: `digits` with a point as decimal sign and no other sign; `factor`: N.m of its unit."""

    value: float
    digits: str
    factor: float

    @property
    def places(self) -> int:
        return len(self.digits.partition(".")[2])


@lru_cache(maxsize=64)
def factor_of(unit: str) -> float:
    """N.m of one torque unit by our name."""
    return to_si(1.0, unit, "torque")


def written(record: Tightening) -> Written | None:
    """The torque of a record as written; None when its text is no plain number, or not that of the value read."""
    if record.torque is None or not record.torque_unit:
        return None
    text = record.torque_text.strip().lstrip("+-")
    factor = factor_of(record.torque_unit)
    value = abs(record.torque) / factor
    # a comma or a point may be the decimal sign or part the thousands: the value that was read tells which
    for digits in (text.replace(",", "."), text.replace(",", ""), text.replace(".", "").replace(",", ".")):
        if _NUMBER.fullmatch(digits) and math.isclose(float(digits), value, rel_tol=1e-9, abs_tol=1e-12):
            return Written(float(digits), digits, factor)
    return None


def says_setting(found: Written, record: Tightening, one: Pass, tool: Tool | None) -> bool:
    """The value may be what was dialled and not what was reached, so that it says nothing on scatter.

    A click-type wrench reads nothing back: who writes its pulls down writes its setting, time and again the same. So
    does a pump that is set to a pressure. Values of an indicating or powered tool are readings.
    """
    kind = "" if tool is None else tool.kind
    if kind not in _PRINTS_SETTING:
        return False
    if kind != "hydraulic" and found.places == 0:
        return True
    half = 0.5 * 10.0**-found.places * (1 + 1e-9)
    aims = [s.value for s in one.settings_of(record.fastener) if s.tool == record.tool]
    aims.append(one.torque_of(record.fastener) / found.factor)
    return any(abs(found.value - aim) <= half for aim in aims)


def measured_values(
    found: Iterable[tuple[Tightening, Pass | None]], tools: Mapping[str, Tool]
) -> dict[str, Written]:
    """The values that were measured, by the key of the record.

    A tool half of whose values in one unit may be what was dialled writes its setting: those are left out. Of a tool
    that reads back a few are the setting by chance, and they stay.
    """
    values: dict[str, Written] = {}
    dialled: dict[Source, list[str]] = defaultdict(list)
    count: Counter[Source] = Counter()
    for record, one in found:
        value = written(record)
        if value is None or record.key in values:
            continue
        values[record.key] = value
        place = source(record)
        count[place] += 1
        if one is not None and says_setting(value, record, one, tools.get(record.tool)):
            dialled[place].append(record.key)
    for place, keys in dialled.items():
        if 2 * len(keys) >= count[place]:
            for key in keys:
                del values[key]
    return values


@dataclass(frozen=True)
class Readings:
    """Measured values of one tool in one unit and one pass, in sequence. `off`: value less what was aimed at."""

    records: tuple[Tightening, ...]
    digits: tuple[str, ...]
    values: NDArray[np.float64]
    off: NDArray[np.float64]
    step: float  # of the tool where the register knows it, else the coarsest on which all the values stand
    known_step: bool
    places: int
    least: float  # standard deviation that such a tool has at least
    by_hand: bool
    one_aim: bool  # all fasteners had the same target

    @property
    def mean(self) -> float:
        return float(self.values.mean())

    @property
    def deviation(self) -> float:
        return float(self.off.std(ddof=1)) if len(self.off) > 1 else 0.0

    def without(self, start: int, length: int) -> NDArray[np.float64]:
        """`off` without a run."""
        return np.delete(self.off, slice(start, start + length))


def readings(
    pairs: Iterable[tuple[Tightening, Written, Pass]], tool: Tool | None, steps: Mapping[Source, Step]
) -> Readings:
    """Gather values of one tool and unit. `tool`: its entry in the register, None where it has none."""
    members = list(pairs)
    found = [w for _, w, _ in members]
    values = np.array([w.value for w in found])
    aims = np.array([one.torque_of(r.fastener) / w.factor for r, w, one in members])
    places = max(w.places for w in found)
    step, known = steps[source(members[0][0])]
    by_hand = tool is not None and tool.kind in BY_HAND
    share = REPEAT_HAND if by_hand else REPEAT_POWERED
    return Readings(
        tuple(r for r, _, _ in members), tuple(padded(w.digits, places) for w in found), values, values - aims, step,
        known, places, share * abs(float(values.mean())), by_hand, bool(np.ptp(aims) <= 1e-9 * abs(aims[0])),
    )  # fmt: skip


def padded(digits: str, places: int) -> str:
    """A number with as many decimal places as others; a spreadsheet leaves out zeros at the end."""
    have = len(digits.partition(".")[2])
    return digits if have == places else digits + ("." if have == 0 else "") + "0" * (places - have)


def step_of(digits: Sequence[str], factor: float, tool: Tool | None) -> tuple[float, bool]:
    """(step of the values in the unit written, whether the register knows it). Where they do not stand on the step of
    the register, or it has none, it is the coarsest on which all of them stand; one value for all: the last digit."""
    places = max(len(d.partition(".")[2]) for d in digits)
    fine = 10.0**-places
    whole = [round(float(d) / fine) for d in set(digits)]
    if tool is not None and tool.resolution.si > 0:
        step = tool.resolution.si / factor
        if step <= fine * (1 + 1e-9):
            return fine, True
        if all(abs(w * fine / step - round(w * fine / step)) * step <= 0.5 * fine * (1 + 1e-9) for w in whole):
            return step, True
    return fine * max(1, lattice_step(whole)), False


def steps_of(found: Iterable[tuple[Tightening, Written]], tools: Mapping[str, Tool]) -> dict[Source, Step]:
    """Step of each tool in each unit, from all that it has written there: one pass alone may show one value only."""
    digits: dict[Source, set[str]] = defaultdict(set)
    factors: dict[Source, float] = {}
    for record, value in found:
        digits[source(record)].add(value.digits)
        factors[source(record)] = value.factor
    return {
        place: step_of(tuple(shown), factors[place], tools.get(place[0])) for place, shown in digits.items()
    }


def source(record: Tightening) -> Source:
    return record.tool, record.torque_unit


def tools_of(plan: Plan) -> dict[str, Tool]:
    """Serial -> entry of the register."""
    return {tool.serial: tool for tool in plan.tools}
