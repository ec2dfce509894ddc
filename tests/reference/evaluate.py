"""Reference rows computed with the library's public functions: evaluate(topic, quantity, inputs) -> float.

`inputs` is the row's JSON, with the unit in each key; the result is in the unit of the row. Nothing here looks up a
row; numbers come from the formulas and tables of evenpull.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Any

from evenpull import catalogue, instrument, joint, statistics
from evenpull.quantities import from_si, kind_of, to_si

Inputs = Mapping[str, Any]
INCH = 0.0254


class NotEvaluatedError(LookupError):
    """A topic, quantity or input that this module does not know; the message names what it knows."""


def evaluate(topic: str, quantity: str, inputs: Inputs) -> float:
    """Value of `quantity` in the unit of the reference table. Raises NotEvaluatedError for what is not covered."""
    if topic not in _TOPICS:
        raise NotEvaluatedError(f"topic {topic!r} is not covered; covered: {', '.join(sorted(_TOPICS))}")
    return float(_TOPICS[topic](quantity, inputs))


def _unknown(topic: str, quantity: str, inputs: Inputs) -> NotEvaluatedError:
    return NotEvaluatedError(f"{topic}: quantity {quantity!r} with inputs {dict(inputs)} is not covered")


def _metric(inputs: Inputs) -> joint.ThreadSize:
    if "d_mm" in inputs and "P_mm" in inputs:
        return joint.metric_thread(inputs["d_mm"] * 1e-3, inputs["P_mm"] * 1e-3)
    return joint.thread(inputs.get("thread") or inputs["size"])


def _inch(inputs: Inputs) -> joint.ThreadSize:
    if "D_in" in inputs and "n" in inputs:
        return joint.inch_thread(inputs["D_in"] * INCH, inputs["n"])
    return joint.thread(inputs["thread"])


def _thread_metric(quantity: str, inputs: Inputs) -> float:
    size = _metric(inputs)
    q = quantity.casefold()
    if "stress area" in q:
        return size.A_s * 1e6
    if "dt=" in q or "necked" in q:
        return joint.necked_diameter(size) * 1e3
    if "pitch diameter" in q:
        return size.d2 * 1e3
    if "internal" in q:
        return size.D1 * 1e3
    if "area" in q and ("d3" in q or "root" in q or "minor" in q):
        return size.A_d3 * 1e6
    if "d3" in q or "external" in q:
        return size.d3 * 1e3
    if "stress diameter" in q or "d0" in q:
        return joint.stress_diameter(size) * 1e3
    if "pitch" in q:
        return size.P * 1e3
    raise _unknown("thread_metric", quantity, inputs)


def _thread_inch(quantity: str, inputs: Inputs) -> float:
    size = _inch(inputs)
    q = quantity.casefold()
    if "area" in q:
        if "tensile" in q or "stress" in q:
            return size.A_s / INCH**2
        if "minor" in q or "root" in q:
            return size.A_d3 / INCH**2
    if "pitch diameter" in q:
        return size.d2 / INCH
    if "external" in q or "unr" in q or "root" in q:
        return size.d3 / INCH
    if "minor diameter" in q:
        return size.D1 / INCH
    raise _unknown("thread_inch", quantity, inputs)


def _head_dimensions(quantity: str, inputs: Inputs) -> float:
    size = str(inputs.get("size") or inputs.get("thread"))
    d = float(re.sub(r"[xX×].*", "", size.removeprefix("M"))) * 1e-3
    q = quantity.casefold()
    if "hole" in q:
        series = next((s for s in catalogue.HOLE_SERIES if s in q), None)
        if series is None:
            raise _unknown("head_dimensions", quantity, inputs)
        return catalogue.clearance_hole(series, d, "metric").value * 1e3
    if "dw" in q or "bearing" in q or "washer" in q:
        head = "hexagon"
        if "nut" in q:
            head = "hexagon nut"
        elif "socket" in q:
            head = "socket cap"
        elif "flange" in q:
            head = "flanged hexagon"
        elif "grade b" in q:
            head = "hexagon grade B"
        return catalogue.bearing_diameter(head, d, "metric").value * 1e3
    raise _unknown("head_dimensions", quantity, inputs)


def _stress_of(found: joint.Strength, quantity: str) -> float | None:
    q = quantity.casefold()
    if "proof load" in q or "sp" in re.split(r"\W+", q) or q.startswith("proof strength"):
        if found.S_p is None:
            raise NotEvaluatedError(f"{found.designation}: {found.source} gives no proof stress")
        return found.S_p
    if "yield" in q or "rp0.2" in q or "0.2 %" in q or "rel" in re.split(r"\W+", q):
        return found.R_p02
    if "tensile" in q:
        return found.R_m
    return None


def _class_and_size(text: str) -> tuple[str, float]:
    """"8.8 d<=16" -> ("8.8", 0.016); without a limit a small size stands for the class."""
    limit = r"\(?,?\s*(?:M|d)?\s*(?P<sign><=|<|>=|>|≤|≥)\s*(?P<d>[\d.]+)\s*(?:mm)?\)?"
    match = re.fullmatch(rf"\s*(?P<class>\S+)(?:\s*{limit})?\s*", text)
    if match is None:
        raise NotEvaluatedError(f"class {text!r} is not understood")
    if match["d"] is None:
        return match["class"], 0.010
    above = match["sign"] in (">", ">=", "≥")
    return match["class"], float(match["d"]) * 1e-3 * (1.0001 if above else 1.0)


def _strength_iso898(quantity: str, inputs: Inputs) -> float:
    q = quantity.casefold()
    if "thread" in inputs:
        size = joint.thread(inputs["thread"])
        found = joint.strength(_class_and_size(str(inputs["class"]))[0], size)
        if "proof load" in q and "stress under" not in q:
            load = joint.proof_load(size, found)
            if load is None:
                raise NotEvaluatedError(f"{found.designation} has no proof stress")
            return load
        if "ultimate" in q or "load fm" in q:
            return joint.ultimate_load(size, found)
        if "yield load" in q or "f0.2" in q:
            return joint.yield_load(size, found)
    else:
        name, d = _class_and_size(str(inputs["class"]))
        if "d_mm" in inputs:
            d = inputs["d_mm"] * 1e-3
        elif "size" in inputs:
            d = joint.thread(inputs["size"]).d
        found = joint.strength_at(name, d)
    stress = _stress_of(found, quantity)
    if stress is None:
        raise _unknown("strength_iso898", quantity, inputs)
    return from_si(stress, "MPa")


_SIZE = r"(\d+-\d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"


def _inches(text: str) -> float:
    whole, _, fraction = text.rpartition("-")
    if "/" in fraction:
        above, below = fraction.split("/")
        return float(whole or 0) + int(above) / int(below)
    return float(text)


def _size_in_range(text: str) -> float:
    """A diameter (m) that lies in a range as the tables write it: "1/4-3/4", "over 1-1-1/2", "<=2-1/2", "all"."""
    t = re.sub(r"\s*(?:in\.?|inch|incl\.?)\s*$", "", " ".join(text.split()).casefold())
    t = re.sub(r"\s+(?:to|thru|through)\s+", "-", t)
    if t == "all" or t == "":
        return 0.5 * INCH
    if match := re.fullmatch(rf"(?:<=|≤|to|up to|<)\s*{_SIZE}", t):
        return _inches(match[1]) * INCH
    if match := re.fullmatch(rf"(?:over|above|>)\s*{_SIZE}", t):
        return _inches(match[1]) * 1.0001 * INCH
    if match := re.fullmatch(_SIZE, t):
        return _inches(match[1]) * INCH
    if match := re.fullmatch(rf"(?:over |above |> ?)?{_SIZE}\s*-\s*{_SIZE}", t):
        low, high = _inches(match[1]), _inches(match[2])
        if low < high:
            return high * INCH
    raise NotEvaluatedError(f"size range {text!r} is not understood")


def _strength_inch(quantity: str, inputs: Inputs) -> float:
    name = str(inputs["spec"])
    if "grade" in inputs:
        grade = re.sub(r"^(?:grade|gr\.?)\s*", "", str(inputs["grade"]), flags=re.IGNORECASE)
        name += f" grade {grade}" if "J429" in name else f" {grade}"
    if "class" in inputs:
        name += f" cl.{re.sub(r'^(?:class|cl.?) *', '', str(inputs['class']))}"
    d = joint.thread(inputs["thread"]).d if "thread" in inputs else _size_in_range(str(inputs.get("size_in", "all")))
    stress = _stress_of(joint.strength_at(name, d), quantity)
    if stress is None:
        raise _unknown("strength_inch", quantity, inputs)
    return from_si(stress, "ksi")


def _strength_stainless(quantity: str, inputs: Inputs) -> float:
    name = str(inputs["class"])
    grade = str(inputs.get("grade", ""))
    if re.fullmatch(r"\d+", name):  # "70" with grade "A4" or "C1"
        name = f"{'A' if grade.startswith('A') else grade}-{name}"
    d = joint.thread(inputs["thread"]).d if "thread" in inputs else 0.010
    found = joint.strength_at(name, d)
    q = quantity.casefold()
    stress = found.R_p02 if "0.2" in q or "rpf" in q else _stress_of(found, quantity)
    if stress is None:
        raise _unknown("strength_stainless", quantity, inputs)
    return from_si(stress, "MPa")


def _nut_proof(quantity: str, inputs: Inputs) -> float:
    """"nut proof load (style 1)", "... (style 2 for class 12)": the style named for this class, or without one."""
    size = joint.thread(inputs["thread"])
    nut_class = str(inputs["class"])
    style = inputs.get("style")
    if style is None and (match := re.search(r"style (\d)(?: for class ([\d, /and]+))?", quantity)):
        named = re.findall(r"\d+", match[2] or "")
        if not named or nut_class in named:
            style = int(match[1])
    if "stress" in quantity.casefold():
        return from_si(joint.nut_row(size, nut_class, style).S_p, "MPa")
    return joint.nut_proof_load(size, nut_class, style)


def _length(inputs: Inputs, name: str) -> float:
    for unit in ("mm", "in", "m", "ft", "cm"):
        if f"{name}_{unit}" in inputs:
            return to_si(inputs[f"{name}_{unit}"], unit, "length")
    raise NotEvaluatedError(f"there is no length {name} in {dict(inputs)}")


def _wrench_extension(quantity: str, inputs: Inputs) -> float:
    """Torque stays in whatever unit it came in: the rule is a ratio of lengths."""
    torque = next((inputs[k] for k in ("T", "T_Nm", "T_lbf_in", "T_lbf_ft", "T_inlb", "T_ftlb", "M_Nm") if k in inputs),
                  None)
    if torque is None:
        torque = next((v for k, v in inputs.items() if k[:1] in "TM" and "_" in k), None)
    if torque is None:
        raise _unknown("wrench_extension", quantity, inputs)
    lever, length = _length(inputs, "L"), _length(inputs, "A") if any(k.startswith("A_") for k in inputs) else 0.0
    direction = str(inputs.get("direction", "")).casefold()
    if "angle_deg" in inputs:
        angle = math.radians(inputs["angle_deg"])
    elif "short" in direction or "back" in direction:
        angle = math.pi
    elif "square" in direction or "90" in direction or "perpendicular" in direction or "right angle" in direction:
        angle = math.pi / 2
    else:
        angle = 0.0
    if length < 0:  # written as a negative extension
        length, angle = -length, math.pi - angle
    if "true torque" in quantity or "actual" in quantity or "T=S" in quantity:
        return torque * instrument.adapter_ratio(lever, length, angle)
    return instrument.adapter_setting(torque, lever, length, angle)


_RESULT_UNIT = {"torque": "N.m", "force": "N", "stress": "MPa", "length": "mm", "mass": "kg", "area": "mm2",
                "angle": "deg", "temperature": "degC"}


def _units(quantity: str, inputs: Inputs) -> float:
    """"1 lbf.in" -> N.m, "1 ksi" -> MPa; the unit after "in" or "to", where one is named, wins."""
    match = re.fullmatch(r"\s*([\d.]+)\s*([^\s]+)(?:\s+(?:in|to|->)\s+(\S+))?\s*", quantity)
    if match is None:
        raise _unknown("units", quantity, inputs)
    from evenpull.quantities import UnitError, canonical_unit

    for kind in ("torque", "force", "stress", "length", "angle", "area", "mass", "temperature"):
        try:
            name = canonical_unit(match[2], kind)  # type: ignore[arg-type]
        except UnitError:
            continue
        wanted = canonical_unit(match[3], kind_of(name)) if match[3] else _RESULT_UNIT[kind]
        return from_si(to_si(float(match[1]), name, kind_of(name)), wanted)
    raise _unknown("units", quantity, inputs)


def _bearing(inputs: Inputs, size: joint.ThreadSize) -> float:
    """D_Km from the row, or of a hexagon head on a medium hole."""
    if "DKm_mm" in inputs:
        return float(inputs["DKm_mm"]) * 1e-3
    d_w = inputs["dw_mm"] * 1e-3 if "dw_mm" in inputs else catalogue.bearing_diameter("hexagon", size.d, "metric").value
    d_h = inputs["dh_mm"] * 1e-3 if "dh_mm" in inputs else catalogue.clearance_hole("medium", size.d, "metric").value
    return joint.D_Km(d_w, d_h)


def _preload_torque_vdi(quantity: str, inputs: Inputs) -> float:
    size = joint.thread(inputs["thread"])
    found = joint.strength(str(inputs["class"]), size)
    mu_G = inputs.get("muG", inputs.get("mu"))
    nu = inputs.get("nu")
    if nu is None:
        percent = re.search(r"(\d+(?:\.\d+)?)\s*%", quantity)
        nu = float(percent[1]) / 100 if percent else 0.9
    load = joint.F_M_zul(size, found, mu_G, nu)
    q = quantity.casefold()
    if "torque" in q:
        mu_K = inputs.get("muK", mu_G)
        return joint.M_A(load, size, mu_G, mu_K, _bearing(inputs, size))
    if "preload" in q:
        return from_si(load, "kN")
    raise _unknown("preload_torque_vdi", quantity, inputs)


def _nut_factor(quantity: str, inputs: Inputs) -> float:
    q = quantity.casefold()
    if "preloads_kN" in inputs:
        return _described(quantity, inputs)
    if "condition" in inputs:
        found = _printed(str(inputs["condition"]))
        if "lower" in q:
            return found.low
        if "upper" in q:
            return found.high
        if found.low == found.high:
            return found.low
        raise _unknown("nut_factor", quantity, inputs)
    if "K" in inputs and "bolt_stress_psi" in inputs:
        area = inputs["As_in2"] * INCH**2 if "As_in2" in inputs else joint.thread(inputs["thread"]).A_s
        diameter = inputs["D_in"] * INCH if "D_in" in inputs else joint.thread(inputs["thread"]).d
        load = to_si(inputs["bolt_stress_psi"], "psi", "stress") * area
        return from_si(joint.torque_from_nut_factor(load, inputs["K"], diameter), "lbf.ft")
    if {"T_Nm", "F_kN"} <= inputs.keys():
        diameter = inputs["d_mm"] * 1e-3 if "d_mm" in inputs else joint.thread(inputs["thread"]).d
        return joint.nut_factor_from_test(inputs["T_Nm"], inputs["F_kN"] * 1e3, diameter)
    if {"muG", "thread"} <= inputs.keys():
        size = joint.thread(inputs["thread"])
        return joint.nut_factor(size, inputs["muG"], inputs.get("muK", inputs["muG"]), _bearing(inputs, size))
    raise _unknown("nut_factor", quantity, inputs)


def _printed(condition: str) -> catalogue.NutFactor:
    """The condition itself, or the one that is left when one word no table knows (a maker's name) is taken out."""
    known = {word for found in catalogue.nut_factors() for word in re.findall(r"[a-z0-9]+", found.condition.casefold())}
    words = re.findall(r"[a-z0-9]+", condition.casefold())
    strange = [word for word in words if word not in known]
    if len(strange) == 1:
        words.remove(strange[0])
    return catalogue.printed_nut_factor(" ".join(words))


def _described(quantity: str, inputs: Inputs) -> float:
    found = statistics.describe(inputs["preloads_kN"])
    q = quantity.casefold()
    if "standard deviation" in q:
        value = found.deviation
    elif "variation" in q:
        value = found.variation
    elif "median" in q:
        value = found.median
    elif "mean" in q:
        value = found.mean
    elif "min" in q or "lowest" in q:
        value = found.minimum
    elif "max" in q or "highest" in q:
        value = found.maximum
    else:
        raise _unknown("nut_factor", quantity, inputs)
    if value is None:
        raise _unknown("nut_factor", quantity, inputs)
    return value


_TOPICS: dict[str, Callable[[str, Inputs], float]] = {
    "thread_metric": _thread_metric,
    "thread_metric_fine": _thread_metric,
    "thread_inch": _thread_inch,
    "head_dimensions": _head_dimensions,
    "strength_iso898": _strength_iso898,
    "strength_inch": _strength_inch,
    "strength_stainless": _strength_stainless,
    "nut_proof": _nut_proof,
    "wrench_extension": _wrench_extension,
    "units": _units,
    "preload_torque_vdi": _preload_torque_vdi,
    "nut_factor": _nut_factor,
}
