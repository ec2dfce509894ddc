"""Reference rows computed with the library's public functions: evaluate(topic, quantity, inputs) -> float.

`inputs` is the row's JSON, with the unit in each key; the result is in the unit of the row. Nothing here looks up a
row; numbers come from the formulas and tables of evenpull. Every input has to be used, and what is stated twice has to
agree; otherwise the row is refused.
"""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

# Also usable when loaded by its path from anywhere: the helper modules beside it are found from the repository's root.
if (root := str(Path(__file__).resolve().parents[2])) not in sys.path:
    sys.path.insert(0, root)

from evenpull import catalogue, instrument, joint
from evenpull.quantities import Kind, UnitError, canonical_unit, from_si, to_si
from tests.reference.aviation import aviation_torque, prevailing_torque
from tests.reference.endurance import fatigue
from tests.reference.given import KINDS, Given, NotEvaluatedError, Value
from tests.reference.nasa import nasa_preload
from tests.reference.sizes import head_kind, hole_series, needed_thread, thread_size
from tests.reference.sizing import sizing
from tests.reference.strengths import nut_proof, strength_inch, strength_iso898, strength_stainless
from tests.reference.structures import flange_pcc1, structural
from tests.reference.surfaces import surface_pressure
from tests.reference.textbook import textbook
from tests.reference.tightening import embedding, friction, iso16047, tightening_factor, torque_angle
from tests.reference.torques import nut_factor, preload_torque_vdi
from tests.reference.vdi import joint_example_vdi

__all__ = ["NotEvaluatedError", "evaluate"]
Inputs = Mapping[str, Any]


def evaluate(topic: str, quantity: str, inputs: Inputs) -> float:
    """Value of `quantity` in the unit of the reference table.

    Raises NotEvaluatedError (a ValueError) for what is not covered, for an input that is missing, not used or not a
    number, and for inputs that contradict each other; other ValueErrors come from the library.
    """
    if not isinstance(topic, str) or not isinstance(quantity, str) or not isinstance(inputs, Mapping):
        raise NotEvaluatedError("topic and quantity have to be texts, inputs a mapping of names to values")
    if topic not in _TOPICS:
        raise NotEvaluatedError(f"topic {topic!r} is not covered; covered: {', '.join(sorted(_TOPICS))}")
    given = Given(topic, quantity, inputs)
    try:
        value = float(_TOPICS[topic](given))
    except catalogue.NotInCatalogue as error:
        raise given.error(str(error)) from error
    given.require_all_used()
    if not math.isfinite(value):
        raise given.error("the result is not finite")
    return value


def _refuse_limits(given: Given) -> None:
    """Only basic sizes are computed, no limits of size of a tolerance class and nothing derived from a diameter."""
    if given.says("max", "maximum", "min", "minimum", "tolerance", r"\d[ghe]", r"\d[ab]", "allowance", "angle", "lead",
                  "circumference", "radius", "ratio", "depth", "height", "engagement", "tap", "drill"):
        raise given.unknown()


def _thread_metric(given: Given) -> float:
    size = needed_thread(given, "metric")
    if given.topic == "thread_metric_fine" and "x" not in size.designation:
        raise given.error(f"{size.designation} is a coarse thread")
    _refuse_limits(given)
    q = given.q
    root = given.says("d3", "root", "external")
    if "area" in q:
        if given.says("stress area"):
            return given.out(size.A_s, "area", "mm2")
        if (root or given.says("minor.*")) and not given.says("shear", "surface", "internal", "necked"):
            return given.out(size.A_d3, "area", "mm2")
        raise given.unknown()
    if "necked" in q or "dt=" in q:
        share = re.search(r"dt\s*=\s*(\S+?)\s*\*?\s*d3", q)
        if share is not None and share[1].rstrip("*") != "0.9":
            raise given.unknown()
        return given.out(joint.necked_diameter(size), "length", "mm")
    if given.says("major", "nominal") and "diameter" in q and not given.says("minor", "pitch"):
        return given.out(size.d, "length", "mm")
    if given.says("stress diameter", "d0"):
        return given.out(joint.stress_diameter(size), "length", "mm")
    return given.out(_pitch_or_minor(given, size, root), "length", "mm")


def _pitch_or_minor(given: Given, size: joint.ThreadSize, root: bool) -> float:
    if given.says("pitch diameter"):
        return size.d2
    internal = given.says("internal") or re.search(r"\bD1\b", given.quantity) is not None
    named = given.says("d3", "d1") or (given.says("minor", "root", "core") and "diameter" in given.q)
    if named and internal != root:
        return size.D1 if internal else size.d3
    if re.fullmatch(r"(?:thread )?pitch(?: p)?", given.q.strip()):
        return size.P
    raise given.unknown()


def _thread_inch(given: Given) -> float:
    size = needed_thread(given, "inch")
    _refuse_limits(given)
    if given.says("area"):
        tensile, minor = given.says("tensile stress area", "stress area", "tensile area"), given.says("minor.*", "root")
        if tensile == minor or given.says("shear", "surface", "internal"):
            raise given.unknown()
        return given.out(size.A_s if tensile else size.A_d3, "area", "in2")
    if given.says("major diameter", "nominal diameter"):
        return given.out(size.d, "length", "in")
    root = given.says("external", "unr", "root")
    if given.says("basic minor diameter") and not root:
        return given.out(size.D1, "length", "in")
    return given.out(_pitch_or_minor(given, size, root), "length", "in")


def _head_dimensions(given: Given) -> float:
    size = thread_size(given, "metric")
    d = given.si("length", "d", "D") if size is None else size.d
    d = given.need(d, "the size")
    if given.says("hole"):
        if given.says("tapped", "pilot", "drill"):
            raise given.unknown()
        series = given.need(hole_series(given), f"the series of holes ({', '.join(catalogue.HOLE_SERIES)}), in words,")
        return given.out(catalogue.clearance_hole(series, d, "metric").value, "length", "mm")
    if given.says("dw", "d_w", "bearing") and not given.says("max", "maximum", "height", "thickness"):
        head = given.need(head_kind(given), "the kind of head, in words,")
        return given.out(catalogue.bearing_diameter(head, d, "metric").value, "length", "mm")
    raise given.unknown()


_IN_LINE, _SQUARE, _FOLDED = 1.0, 0.0, -1.0  # cosine of the angle between handle and adapter
_DIRECTIONS = (
    (_IN_LINE, r"lengthen\w*|extend\w*|outward|forward|straight out"),
    (_FOLDED, r"shorten\w*|folded back|back|backwards?|towards? the (?:handle|hand)"),
    (_SQUARE, r"square|90|90°|perpendicular|right angles?|along the drive(?: axis)?"),  # the last changes no lever
)


def _cosine(given: Given, length: float) -> tuple[float, float]:
    """Adapter length without sign, and the cosine of its angle, from angle, direction and sign of the length."""
    angle = given.measure("angle", "angle", "theta", "alpha", positive=False)
    direction = given.text("direction")
    said: set[float] = set()
    if direction is not None:
        text = direction.casefold()
        said = {cosine for cosine, words in _DIRECTIONS if re.search(rf"(?<!\w)(?:{words})(?!\w)", text)}
        if not said and text.strip() in ("in line", "inline", "straight"):
            said = {_FOLDED if length < 0 else _IN_LINE}
        if len(said) != 1:
            raise given.error(f"direction {direction!r} is not understood")
    cosine = next(iter(said), None)
    if angle is not None:
        stated = math.cos(angle.si)
        if length < 0 or (cosine is not None and abs(stated - cosine) > 1e-6):
            raise given.error("angle, direction and sign of the adapter length do not agree")
        return length, stated
    if length < 0:
        if cosine not in (None, _FOLDED):
            raise given.error("direction and sign of the adapter length do not agree")
        return -length, _FOLDED
    if cosine is None and given.says("angled", "cos", "angle"):
        raise given.error("the angle of the adapter is missing")
    return length, _IN_LINE if cosine is None else cosine


def _wrench_extension(given: Given) -> float:
    """The rule is a ratio of lengths: a torque without unit stays in the unit that it came in."""
    wanted = given.measure("torque", "T", "M", "MA", "M_A", "torque", bare=True)
    shown = given.measure("torque", "S", "setting", "reading", bare=True)
    lever = given.need(given.measure("length", "L", "lever", "l_T", bare=True), "the lever L")
    adapter = given.measure("length", "A", "E", "extension", "adapter", "l_A", bare=True, positive=False)
    adapter = given.need(adapter, "the adapter length A")
    if (lever.unit is None) != (adapter.unit is None):
        raise given.error("lever and adapter length both need a unit, or neither")
    length, cosine = _cosine(given, adapter.si)
    said = given.first_said({
        "setting": r"(?i:\bsetting\b|\bwrench reading\b|\bindicated\b)|\bS\s*=\s*T",
        "torque": r"(?i:\b(?:true|actual|applied) torque\b|\btorque at the \w+)|\bT\s*=\s*S",
    })
    angle = math.acos(cosine)
    if said == "setting" and shown is None:
        given_torque = given.need(wanted, "the torque T at the fastener")
        return _as_given(given, given_torque, instrument.adapter_setting(given_torque.si, lever.si, length, angle))
    if said == "torque" and wanted is None:
        setting = given.need(shown, "the wrench setting S")
        return _as_given(given, setting, setting.si * instrument.adapter_ratio(lever.si, length, angle))
    raise given.unknown()


def _as_given(given: Given, source: Value, result: float) -> float:
    return result if source.unit is None else given.out(result, "torque", source.unit)


_RESULT_UNIT: dict[Kind, str] = {
    "torque": "N.m", "force": "N", "stress": "MPa", "length": "mm", "mass": "kg", "area": "mm2", "angle": "deg",
    "temperature": "degC",
}
_POUND = ("lb", "lbs", "pound", "pounds")  # a force or a mass: only the unit asked for tells which


def _kinds(text: str) -> dict[Kind, str]:
    found: dict[Kind, str] = {}
    for kind in KINDS:
        try:
            found[kind] = canonical_unit("lb" if text.casefold() in _POUND else text, kind)
        except UnitError:
            continue
    return found


def _units(given: Given) -> float:
    """"1 lbf.in" -> N.m, "1 ksi" -> MPa; the unit after "in" or "to", where one is named, wins."""
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(\S.*?)(?:\s+(?:in|to|->)\s+(\S.*?))?\s*", given.quantity)
    if match is None:
        raise given.unknown()
    from_units = _kinds(match[2])
    if match[3] is None and not from_units:
        raise given.error(f"the unit {match[2]!r} is not known")
    to_units = _kinds(match[3]) if match[3] else {kind: _RESULT_UNIT[kind] for kind in from_units}
    common = [kind for kind in from_units if kind in to_units]
    if len(common) > 1:
        raise given.error(
            f"{match[2]!r} may be a unit of {' or of '.join(common)}: write it so that it is one, as lbf or lbm"
        )
    if not common:
        raise given.error(f"{match[2]!r} cannot be expressed in {match[3]!r}")
    kind = common[0]
    if match[3] is None and from_units[kind] == to_units[kind]:
        raise given.error(f"{from_units[kind]} is the unit of the result: name another one behind \"in\"")
    return from_si(to_si(float(match[1]), from_units[kind], kind), to_units[kind])


_TOPICS: dict[str, Callable[[Given], float]] = {
    "thread_metric": _thread_metric,
    "thread_metric_fine": _thread_metric,
    "thread_inch": _thread_inch,
    "head_dimensions": _head_dimensions,
    "strength_iso898": strength_iso898,
    "strength_inch": strength_inch,
    "strength_stainless": strength_stainless,
    "nut_proof": nut_proof,
    "wrench_extension": _wrench_extension,
    "units": _units,
    "aviation_torque": aviation_torque,
    "prevailing_torque": prevailing_torque,
    "nasa_preload": nasa_preload,
    "joint_example_textbook": textbook,
    "joint_example_vdi": joint_example_vdi,
    "fatigue": fatigue,
    "preload_torque_vdi": preload_torque_vdi,
    "nut_factor": nut_factor,
    "torque_angle": torque_angle,
    "iso16047": iso16047,
    "embedding": embedding,
    "tightening_factor": tightening_factor,
    "friction": friction,
    "structural": structural,
    "flange_pcc1": flange_pcc1,
    "sizing": sizing,
    "surface_pressure": surface_pressure,
}
