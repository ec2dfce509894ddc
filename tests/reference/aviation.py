"""Reference rows on torques of general aviation and on the drag of self-locking nuts."""

from __future__ import annotations

from typing import Any

from evenpull import joint
from evenpull.quantities import canonical_unit, from_si, to_si
from tests.reference.given import Given
from tests.reference.sizes import needed_thread

_SERIES = {"UNC": "coarse", "UN": "coarse", "UNF": "fine", "UNS": "fine"}


def _thread(given: Given) -> joint.ThreadSize:
    """The thread; a series stated beside it has to be its own."""
    size = needed_thread(given, "inch")
    if (series := given.text("series")) is not None:
        word = series.casefold().removesuffix("series").strip()
        word = {"unc": "coarse", "unf": "fine"}.get(word, word)
        if word not in _SERIES.values():
            raise given.error(f"series {series!r} is neither coarse nor fine")
        if _SERIES.get(size.designation.rpartition(" ")[2]) != word:
            raise given.error(f"{size.designation} is no {word} thread")
    return size


def _nut(given: Given) -> str:
    found = [nut for nut in ("tension", "shear") if given.says(nut, f"{nut}-type", f"{nut}-nut")]
    if len(found) != 1:
        raise given.error("the quantity has to name one type of nut, tension or shear,")
    return found[0]


def aviation_torque(given: Given) -> float:
    size, nut = _thread(given), _nut(given)
    finish = given.need(given.text("finish", "condition"), "the finish of the threads")
    words = finish.casefold().replace("-", " ")
    if "cadmium" not in words or "oil free" not in words:
        raise given.error(f"the table holds for oil-free cadmium-plated threads alone, not for {finish!r}")
    row = joint.aviation_torque(size, "shear" if nut == "shear" else "tension")
    if given.says("maximum allowable", "max allowable", "most allowed", "allowable"):
        stress = {"tension": "90 ksi", "shear": "54 ksi"}
        for kind, text in stress.items():
            if text in given.q and kind != nut:
                raise given.error(f"{text} belongs to {kind} nuts")
        return given.out(row.most, "torque", "lbf.in")
    low, high = given.says("low", "lower", "minimum"), given.says("high", "upper", "maximum")
    if not given.says("recommended") or low == high:
        raise given.unknown()
    drag = given.si("torque", "drag", "run_on", "friction_drag")
    value = row.low if low else row.high
    return given.out(value if drag is None else joint.torque_with_drag(value, drag), "torque", "lbf.in")


def prevailing_torque(given: Given) -> float:
    if given.says("final torque", "final", "total torque"):
        return _final(given)
    if not given.says("minimum", "least") or given.says("maximum"):
        raise given.unknown()
    prevailing, breakaway = given.says("prevailing"), given.says("breakaway", "break-away", "breakaway torque")
    if prevailing == breakaway or given.says("new"):
        raise given.unknown()
    row = joint.least_drag(_thread(given), "prevailing" if prevailing else "breakaway")
    return given.out(row.torque, "torque", "lbf.in")


def _range(given: Given) -> tuple[list[float], str] | None:
    """A list "range_lbf_in" of two torques, SI, with the unit it was given in."""
    found: tuple[list[Any], str] | None = given.series("torque", "range", "torque_range", "T_range")
    if found is None:
        return None
    values, unit = found
    if len(values) != 2:
        raise given.error(f"a range has two ends, not {len(values)}")
    return [to_si(value, unit, "torque") for value in values], canonical_unit(unit, "torque")


def _final(given: Given) -> float:
    """Recommended torque and drag: the middle of the range, or the end that the quantity names."""
    stated, drag = _range(given), given.si("torque", "run_on", "drag", "prevailing", "friction_drag", "T_drag")
    drag = given.need(drag, "the drag (run-on torque)")
    direct = given.measure("torque", "T", "torque", "recommended")
    condition = given.text("fastener", "nut_condition")
    if condition is not None and condition.casefold() not in ("new", "reused", "used"):
        raise given.error(f"fastener {condition!r} is neither new nor reused")
    size = _thread(given) if any(key in given.inputs for key in ("thread", "size", "designation")) else None
    if direct is not None:
        if stated is not None:
            raise given.error("a torque and a range are both given")
        return from_si(joint.torque_with_drag(direct.si, drag), given.named_unit("torque") or direct.unit or "N.m")
    if stated is None:
        row = joint.aviation_torque(given.need(size, "the range or the thread"), "shear" if _nut(given) == "shear"
                                    else "tension")
        low, high, unit = row.low, row.high, "lbf.in"
    else:
        (low, high), unit = stated
    base = joint.middle_of_range(low, high)
    ends = [given.says("low", "lower", "minimum"), given.says("high", "upper", "maximum")]
    middle = given.says("mid", "mid-range", "middle", "midrange", "mid-point")
    if sum([*ends, middle]) != 1:
        raise given.error("the quantity has to name the middle or one end of the range")
    if not middle:
        base = low if ends[0] else high
    return from_si(joint.torque_with_drag(base, drag), given.named_unit("torque") or unit)
