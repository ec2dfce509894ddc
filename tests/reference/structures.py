"""Rows of structural bolting (AISC/RCSC, EN 1993-1-8, EN 1090-2) and of flange target torques (ASME PCC-1)."""

from __future__ import annotations

import math
import re

from evenpull import joint
from evenpull.catalogue import flange as flange_table
from evenpull.catalogue import structural as table
from evenpull.joint.service import flange as flange_rules
from evenpull.joint.service import structural as rules
from evenpull.quantities import to_si
from tests.reference.given import Given, agree
from tests.reference.sizes import check_area, inches, needed_thread

FACES = {"both faces normal": "both normal", "one face sloped": "one sloped", "both faces sloped": "both sloped"}
PRINTED_SHARE = 0.04  # 0.70 F_u A_t is rounded to the kip or kN, up to 4 % of the smallest


def structural(given: Given) -> float:
    """Pretension, preload, torque steps, rotations and limits of k-classes."""
    for words, found in (
        (r"pretension", _pretension), (r"combined method", _combined), (r"nut rotation|rotation from snug", _turn),
        (r"step torque|reference torque|mr", _torque), (r"preload|fp,c\*?", _preload),
        (r"k_?i|k_?m|individual|mean|v_?k|coefficient of variation", _k_class),
    ):
        if given.says(words):
            return found(given)
    raise given.unknown()


def _size(given: Given) -> joint.ThreadSize:
    """The bolt's thread: coarse, UNC or ISO."""
    text = given.text("size_in")
    if text is None:
        return needed_thread(given, "metric")
    try:
        value = inches(text)
    except ValueError as error:
        raise given.error(f"the size {text!r} is not understood") from error
    match = next((name for name in flange_sizes() if agree(inches(name), value, 1e-9)), None)
    if match is None:
        raise given.error(f"the size {text!r} is not one of {', '.join(flange_sizes())}")
    return joint.thread(f"{match} UNC")


def flange_sizes() -> tuple[str, ...]:
    """Inch sizes as the tables name them."""
    return tuple(row.size for row in flange_table.flange_torques("inch", coated=False))


def _pretension(given: Given) -> float:
    """0.70 F_u A_t; bolt, size and strength have to belong together in one edition of the table."""
    size = _size(given)
    bolt = given.need(given.text("bolt", "grade"), "the bolt")
    F_u = given.need(given.si("stress", "Fu", "F_u"), "the tensile strength Fu")
    area = given.need(given.si("area", "As", "A_s", "At", "A_t"), "the stress area As")
    check_area(given, size)
    rows = [row for row in table.pretensions() if row.bolt == bolt and row.size == rules.turn_size(size)]
    if not rows:
        raise given.error(f"{bolt} {size.designation} is not in the table; bolts: "
                          f"{', '.join(table.structural_bolts())}")
    if not any(agree(F_u, row.F_u, 0.01) for row in rows):
        raise given.error(f"a tensile strength of {F_u / 1e6:.0f} MPa is not that of {bolt} {size.designation}")
    value = float(rules.structural_pretension(F_u, area))
    if not any(agree(value, row.value, PRINTED_SHARE) for row in rows):
        raise given.error("the pretension is not that of the table")
    return given.out(value, "force", "kip" if size.system == "inch" else "kN")


def _turn(given: Given) -> float:
    length = given.need(given.text("bolt_length", "length"), "the bolt length")
    faces = given.need(given.text("faces"), "the faces")
    kind = next((name for words, name in FACES.items() if faces.casefold().startswith(words)), None)
    if kind is None or not re.fullmatch(r"[a-z ]+(?:<=\s*1:20)?", faces.casefold().strip()):
        raise given.error(f"the faces {faces!r} are not understood; known: {', '.join(FACES)}")
    return math.degrees(table.turn_of_nut(_middle(given, length, 12), kind).angle)


def _middle(given: Given, text: str, longest: float) -> float:
    """A length inside "<=4d", ">4d-8d", "t<2d", "2d<=t<6d", "6d<=t<=10d", in diameters."""
    plain = re.sub(r"\s", "", text.casefold()).replace("≤", "<=")
    if not re.fullmatch(r"(?:t?<=?|>)?\d+(?:\.\d+)?d(?:(?:<=?t<=?|-|to)\d+(?:\.\d+)?d)?", plain):
        raise given.error(f"the length {text!r} is not understood; write it as <=4d, >4d-8d or 2d<=t<6d")
    bounds = [float(found) for found in re.findall(r"(\d+(?:\.\d+)?)d", plain)]
    if len(bounds) == 1:
        bounds = [bounds[0], longest + 1] if plain.startswith(">") else [0.0, bounds[0]]
    if not bounds[0] < bounds[1]:
        raise given.error(f"the length {text!r} does not rise")
    return sum(bounds) / 2


def _combined(given: Given) -> float:
    length = given.need(given.text("clamp_length", "t", "clamped_thickness"), "the clamped length")
    return math.degrees(table.combined_rotation(_middle(given, length, 10)))


def _class(given: Given) -> str | None:
    found = re.search(r"(?:class|cl\.?)\s*(\d+\.\d)", given.q)
    return found[1] if found else given.text("class", "cls")


def _preload(given: Given) -> float:
    """0.7 f_ub A_s, or with f_yb for the national value; stated strength and class have to agree."""
    if given.says("torque"):
        raise given.unknown()
    size = _size(given)
    national = "*" in given.quantity or given.says("fyb", "f_yb")
    name = _class(given)
    known = None if name is None else table.en_strength(name)[1 if national else 0]
    stated = given.si("stress", "fyb", "f_yb") if national else given.si("stress", "fub", "f_ub")
    if stated is not None and known is not None and not agree(stated, known, 0.01):
        raise given.error(f"{stated / 1e6:.0f} MPa is not the strength of class {name}")
    if national and name is not None and not any(key.startswith("A") for key in given.inputs):
        return given.out(table.en_national_preload(name, size.designation), "force", "kN")  # the rounded table
    strength = given.need(known if stated is None else stated, "the class, or the strength fub")
    area = given.need(given.si("area", "As", "A_s"), "the stress area As")
    check_area(given, size)
    return given.out(float(rules.structural_pretension(strength, area)), "force", "kN")


def _torque(given: Given) -> float:
    size = _size(given)
    load = given.need(given.si("force", "Fp_C", "FpC", "F_pC"), "the preload Fp_C")
    k = given.number("km", "k_m", "k", below=1)
    K1 = re.search(r"=\s*0\.125\s*\*?\s*d", given.quantity)  # the reference torque of class K1 names its factor itself
    if K1 is not None:
        if k is not None and not agree(k, table.en()["k_reference_K1"]):
            raise given.error("km is not the factor that the quantity names")
        k = float(table.en()["k_reference_K1"])
    k = given.need(k, "km")
    M_r = float(rules.reference_torque(k, size.d, load))
    first, second = (float(step) for step in rules.torque_steps(M_r))
    if given.says("second", "second-step", r"1\.1\d?\*?mr"):
        return given.out(second, "torque", "N.m")
    if given.says("first", "first-step", r"0\.75\*?mr"):
        return given.out(first, "torque", "N.m")
    if given.says("reference"):
        return given.out(M_r, "torque", "N.m")
    raise given.unknown()


def _k_class(given: Given) -> float:
    k_class = given.need(given.text("k_class", "class"), "the k-class")
    what = ("variation" if given.says("variation", "v_?k", "vk") else
            "mean" if given.says("mean", "k_?m") else "individual" if given.says("individual", "k_?i") else None)
    if what is None:
        raise given.unknown()
    low, high = table.k_limits(k_class, what)
    lower, upper = given.says("lower", "min", "minimum", "least"), given.says("upper", "max", "maximum", "largest")
    if what == "variation" and not lower:
        return high  # it has no lower limit
    if lower == upper:
        raise given.error("name the lower or the upper limit")
    return low if lower else high


def flange_pcc1(given: Given) -> float:
    """Target torque of the table, scaled to the stated prestress; pitch and root area have to be the size's."""
    coated = not given.says("non-coated", "uncoated", "non coated")
    if not given.says("coated", "non-coated", "uncoated"):
        raise given.unknown()
    if (metric := "size_in" not in given.inputs):
        row = _metric_row(given, coated)
    else:
        text = given.need(given.text("size_in"), "the size")
        try:
            value = inches(text)
        except ValueError as error:
            raise given.error(f"the size {text!r} is not understood") from error
        name = next((name for name in flange_sizes() if agree(inches(name), value, 1e-9)), text)
        row = flange_table.flange_torque("inch", name, coated)
        n = given.need(given.number("threads_per_in", "n", "tpi"), "the threads per inch")
        size = joint.inch_thread(value * 0.0254, n)
        usual = joint.thread(f"{name} UNC").P if value <= 1 else 0.0254 / 8
        if not agree(size.P, usual, 1e-6):
            raise given.error(f"the table holds for {0.0254 / usual:g} threads per inch in this size")
        area = given.si("area", "root_area", "Ar")
        if area is not None and not agree(area, size.A_d3, 0.006):
            raise given.error(f"the root area is not that of {name}, {size.A_d3 / 0.0254**2:.4f} in2")
    stress = given.si("stress", "prestress", "prestress_on_root_area") or _prestress(given)
    torque = flange_rules.table_torque(row.torque, row.prestress, row.prestress if stress is None else stress)
    return given.out(float(torque), "torque", "lbf.ft" if not metric else "N.m")


def _metric_row(given: Given, coated: bool) -> flange_table.FlangeTorque:
    """The row of Table 1M; above M27 the table holds for pitch 3, whether the size says so or not."""
    text = given.need(given.text("size"), "the size").replace("-", "x").replace(" ", "")
    P = given.si("length", "P", "pitch")
    name = text.partition("x")[0]
    sizes = [row.size for row in flange_table.flange_torques("metric", coated)]
    match = next((size for size in sizes if size.partition("x")[0] == name), None)
    if match is None:
        return flange_table.flange_torque("metric", text, coated)  # refused with the sizes there are
    d = float(name.removeprefix("M")) * 1e-3
    pitch = float(match.partition("x")[2]) * 1e-3 if "x" in match else joint.thread(match).P
    size = joint.metric_thread(d, pitch)
    if ("x" in text and not agree(float(text.partition("x")[2]) * 1e-3, pitch, 1e-6)) or not agree(P or pitch, pitch):
        raise given.error(f"the table holds for pitch {pitch * 1e3:g} mm in this size")
    stated = given.si("area", "root_area", "Ar")
    if stated is not None and not agree(stated, size.A_d3, 0.006):
        raise given.error(f"the root area is not that of {match}, {size.A_d3 * 1e6:.4g} mm2")
    return flange_table.flange_torque("metric", match, coated)


def _prestress(given: Given) -> float | None:
    """The rows write the unit in the middle of the key: "prestress_ksi_on_root_area"."""
    for unit in ("ksi", "MPa"):
        value = given.number(f"prestress_{unit}_on_root_area")
        if value is not None:
            return to_si(value, unit, "stress")
    return None


