"""Textbook rows that are no joint in tension: power screws, bolt circles, grips and lengths, the exponential fit."""

from __future__ import annotations

import math
import re

from evenpull import joint
from evenpull.joint.springs.frusta import series
from evenpull.quantities import from_si
from tests.reference import stiffness
from tests.reference.given import INCH, Given

_INCH_KEY = re.compile(r"_(?:in|in2|ksi|psi|Mpsi|kpsi|kip|lbf|lbf_in|Mlbf_in|kip_in)$")


def is_inch(given: Given) -> bool:
    """Whether a row is written in inches: by its units, else by its thread."""
    if any(_INCH_KEY.search(str(key)) for key in given.inputs):
        return True
    return "-" in str(given.inputs.get("thread", "")) and not str(given.inputs["thread"]).startswith("M")


def screws(given: Given) -> float:
    """Power screws: raising, lowering, thread alone, collar alone, efficiency (Shigley section 8-2)."""
    load = given.need(given.measure("force", "F", "load"), "the load F")
    pitch, starts = given.si("length", "p", "pitch"), given.number("starts", "n_starts")
    lead = given.si("length", "lead", "l")
    if lead is None:
        lead = given.need(pitch, "the lead or pitch") * (starts or 1)
    elif pitch is not None and not math.isclose(lead, pitch * (starts or 1), rel_tol=2e-3):
        raise given.error("lead is not pitch times starts")
    d_m, d = given.si("length", "dm", "d_m"), given.si("length", "d")
    if d_m is None:
        d_m = float(joint.square_mean_diameter(given.need(d, "d_m or d"), given.need(pitch or lead, "the pitch")))
    f, f_c, d_c = given.number("f", below=1), given.number("fc", "f_c", below=1), given.si("length", "dc", "d_c")
    f = given.need(f, "the friction f")
    half, form = given.si("angle", "half_angle", "alpha"), given.text("thread", "form")
    angles = {"square": 0.0, "acme": math.radians(14.5), "trapezoidal": math.radians(15)}
    if form is not None and form.casefold() not in angles:
        raise given.error(f"the thread {form!r} is none of {', '.join(angles)}")
    if half is None:
        half = angles[given.need(form, "half_angle or the form of thread").casefold()]
    elif form is not None and not math.isclose(half, angles[form.casefold()], abs_tol=1e-6):
        raise given.error("the half angle is not that of the thread")
    if (f_c is None) != (d_c is None):
        raise given.error("friction and diameter of the collar belong together")
    collar = 0.0 if f_c is None or d_c is None else float(joint.collar_torque(load.si, f_c, d_c))
    alone = float(joint.T_textbook(load.si, d_m, lead, f, 0.0, d_m, half))
    inch = (load.unit or "").endswith("lbf") or load.unit == "kip"
    usual = "lbf.in" if inch else "N.m"
    if given.says("efficiency"):
        return float(joint.efficiency(load.si, lead, alone if given.says("thread") else alone + collar))
    if given.says("collar"):
        if not collar:
            raise given.error("the collar is missing")
        return given.out(collar, "torque", usual)
    if given.says("self-locking", "self locking"):
        return float(joint.self_locking_friction(lead, d_m, half))
    if given.says("lower", "lowering"):
        down = float(joint.torque_to_lower(load.si, d_m, lead, f, half))
        return given.out(down if given.says("thread") else down + collar, "torque", usual)
    if given.says("torque"):
        return given.out(alone if given.says("thread") else alone + collar, "torque", usual)
    raise given.unknown()


def circle(given: Given) -> float:
    """Largest bolt load on a circle under a moment; the quantity names which of the models."""
    moment = given.need(given.measure("torque", "M", "moment"), "the moment M")
    R = given.need(given.si("length", "R", "radius"), "the radius R")
    N = given.need(given.number("N", "n_bolts"), "the number of bolts N")
    if int(N) != N:
        raise given.error(f"the number of bolts is whole, not {N}")
    exact, discrete = given.says("arc", "exact arc"), given.says("discrete")
    simple = given.q.replace(" ", "").find("2m/(rn)") >= 0
    if exact + simple + discrete != 1 or not given.says("largest", "maximum", "max", "greatest"):
        raise given.error("the quantity has to name the model: exact arc, 2M/(RN) or discrete")
    if discrete and (said := re.search(r"discrete (\d+)", given.q)) and int(said[1]) != N:
        raise given.error("the number of bolts is stated in two ways")
    if exact and (arc := re.search(r"(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)\s*deg", given.q)):
        width = float(arc[2]) - float(arc[1])
        if not math.isclose(width, 360 / N, rel_tol=1e-3):
            raise given.error(f"an arc of {width:g} deg is not that of one of {N:g} bolts")
    load = joint.bolt_on_circle_arc(moment.si, R, N) if exact else joint.bolt_on_circle(moment.si, R, N)
    return from_si(float(load), "lbf" if (moment.unit or "").startswith("lbf") else "N")


def fits(given: Given) -> float:
    """Member stiffness by the exponential fit, of one material or of two halves in series (Shigley eq. 8-23)."""
    d, grip = (given.need(given.si("length", name), name) for name in ("d", "l"))
    found, inch = {}, is_inch(given)
    for word, names in (("iron", ("ci", "iron")), ("steel", ("st", "steel")), ("aluminium", ("al", "aluminum"))):
        pairs = [pair for name in names if (pair := given.raw(f"A_B_{name}")) is not None]
        E = stiffness.modulus(given, *(f"E_{name}" for name in names))
        if not pairs and E is None:
            continue
        if E is None or not pairs or not isinstance(pairs[0], (list, tuple)) or len(pairs[0]) != 2:
            raise given.error(f"modulus and the pair A, B of {word} belong together")
        found[word] = float(joint.member_stiffness_fit(E, d, grip, *pairs[0]))
    said = [word for word in found if given.says(word, {"aluminium": "aluminum"}.get(word, word))]
    if not said:
        raise given.error("the quantity has to name the material")
    if given.says("half", "halves", "series"):
        if len(said) != 2:
            raise given.error("two halves need two materials")
        value = float(series(*(2 * found[word] for word in said)))
    elif len(said) == 1:
        value = found[said[0]]
    else:
        raise given.unknown()
    return stiffness.out_stiffness(value, inch)


# mm, first choice of the textbook's Table A-17
_PREFERRED = (10, 12, 16, 20, 25, 30, 40, 50, 60, 80, 100, 120, 160, 200)
_NUT = 0.9  # height of a standard hexagon nut over d, at most: enough to choose the next preferred length


def _short(case: str) -> str:
    """The diameter with which a case begins: "M14" of "M14x2: ...", "1/2" of "1/2-13 cap screw"."""
    match = re.match(r"M\d+(?:\.\d+)?|#?\d+(?:-\d+/\d+|/\d+)?", case)
    return re.escape(match[0]) if match else r"\A\Z"


def grips(given: Given) -> float:
    """Grips and bolt lengths of a list "M14x2: plates 14+14, washer 3.5; M12 cap screw h=20" (Shigley Table 8-7)."""
    text = given.need(given.text("cases"), "the cases")
    cases = [part.strip() for part in text.split(";") if part.strip()]
    wanted = [case for case in cases if re.search(rf"(?<![\w/]){_short(case)}(?![\w/])", given.quantity)]
    if not wanted:  # no thread is named: the first bolt, or the first screw
        wanted = [case for case in cases if ("cap screw" in case) == given.says("cap screw")][:1]
    if len(wanted) != 1:
        raise given.error("the quantity fits no case, or several")
    size = joint.thread(wanted[0].split(":")[0].split()[0])
    unit = 1e-3 if size.system == "metric" else INCH
    numbers = {key: float(value) for key, value in re.findall(r"\b(h|t2|washer)\s*=?\s*(\d+(?:\.\d+)?)", wanted[0])}
    plates = re.search(r"plates?\s+([\d.+ ]+)", wanted[0])
    if "cap screw" in wanted[0]:
        return _cap_screw(given, size, numbers) / unit
    if plates is None:
        raise given.error("the plates of the case are missing")
    grip = (sum(float(t) for t in plates[1].split("+")) + numbers.get("washer", 0.0)) * unit
    return _bolt_lengths(given, size, grip, unit) / unit


def _cap_screw(given: Given, size: joint.ThreadSize, numbers: dict[str, float]) -> float:
    unit = 1e-3 if size.system == "metric" else INCH
    if "h" not in numbers:
        raise given.error("h of the case is missing")
    h, t_2 = numbers["h"] * unit, numbers["t2"] * unit if "t2" in numbers else size.d
    if given.says("effective grip", "grip"):
        return float(joint.cap_screw_grip(h, t_2, size.d))
    if given.says("minimum length", "least length", "length"):
        return float(joint.cap_screw_length(h, size.d))
    raise given.unknown()


def _bolt_lengths(given: Given, size: joint.ThreadSize, grip: float, unit: float) -> float:
    said = re.search(r"\bL\s*=\s*(\d+(?:\.\d+)?)", given.quantity)
    if given.says("grip") and not given.says("unthreaded", "threaded", "shank", "effective"):
        return grip
    limit = re.search(r"L\s*<=\s*(\d+(?:\.\d+)?)", given.quantity)
    least = grip + _NUT * size.d
    if said is not None:
        L = float(said[1]) * unit
    elif limit is not None:
        L = min(float(limit[1]) * unit, least)
    elif size.system == "metric":
        L = next(one for one in _PREFERRED if one * 1e-3 >= least) * 1e-3
    else:
        L = math.ceil(least / (0.25 * INCH) - 1e-9) * 0.25 * INCH
    L_T = float(joint.thread_length(size.d, L, size.system))
    if given.says("threaded length", "lt", "thread length"):
        return L_T
    shank = float(joint.shank_in_grip(L, L_T, grip))
    if given.says("unthreaded", "shank"):
        return shank
    if given.says("threaded"):
        return grip - shank
    if given.says("length"):
        return L
    raise given.unknown()
