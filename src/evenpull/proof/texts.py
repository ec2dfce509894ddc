"""Plain words with numbers for findings: places, lists of fasteners, a value against its limit."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from evenpull.intake.record import Tightening
from evenpull.plan.model import Pass, Specification
from evenpull.quantities import show, unit_shown

NEAR = 1e-9  # relative; a value on the end of a window counts as inside


def counted(number: int, one: str, many: str = "") -> str:
    """ "1 record", "3 records"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def some(items: Sequence[str], most: int = 6) -> str:
    """The first items, and how many more there are."""
    more = f" and {len(items) - most} more" if len(items) > most else ""
    return ", ".join(items[:most]) + more


def pass_label(one: Pass) -> str:
    """ "pass 3", or the name of a check pass."""
    return one.name if one.check else f"pass {one.number}"


def unit_label(spec: Specification, unit_id: str) -> str:
    """ "workpiece 8731" in a series, "" else."""
    if spec.series is None:
        return ""
    return f"{spec.series.unit_name} {unit_id or '(not stated)'}"


def at_place(spec: Specification, unit_id: str, fastener: int | None, one: Pass | None) -> str:
    """ "workpiece 8731, fastener 7, pass 3": as much of it as there is."""
    parts = [unit_label(spec, unit_id), f"fastener {fastener}" if fastener is not None else ""]
    parts.append(pass_label(one) if one is not None else "")
    return ", ".join(part for part in parts if part) or "joint"


def record_label(record: Tightening) -> str:
    """How a person finds the record again: tool and counter, else file row; with its time as written."""
    if record.tool and record.counter is not None:
        name = f"{record.tool} no. {record.counter}"
    else:
        name = f"row {record.row} of file {record.file_sha256[:8]}"
    return f"{name}, {record.time_text}" if record.time_text else name


@lru_cache(maxsize=4096)
def newton_metres(torque: float) -> str:
    """Torque (N.m) with four figures and its unit."""
    return show(torque, "N.m")


def torque_text(record: Tightening) -> str:
    """The torque in N·m; as written beside it when it was written in another unit."""
    if record.torque is None:
        return "no torque"
    text = newton_metres(record.torque)
    if record.torque_unit in ("N.m", ""):
        return text
    return f"{text} ({record.torque_text} {unit_shown(record.torque_unit)} as written)"


def against(value: float, limit: float) -> tuple[str, str]:
    """Two torques (N.m) with as many figures as it takes to see that they differ."""
    for digits in range(4, 13):
        one, other = show(value, "N.m", digits), show(limit, "N.m", digits)
        if one != other:
            return one, other
    return f"{value!r} N·m", f"{limit!r} N·m"


@lru_cache(maxsize=1024)
def window_text(lower: float, upper: float) -> str:
    """ "332.5 to 367.5 N·m"."""
    return f"{newton_metres(lower).split()[0]} to {newton_metres(upper)}"


def below(value: float, lower: float) -> bool:
    return value < lower - NEAR * abs(lower)


def above(value: float, upper: float) -> bool:
    return value > upper + NEAR * abs(upper)
