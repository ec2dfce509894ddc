"""Reference rows on friction, embedding, tightening factors, nut rotation and torque-tension tests."""

from __future__ import annotations

import math
import re

from evenpull import catalogue
from evenpull.joint.parts.strengths import strength
from evenpull.joint.tightening import friction_test, scatter, turning
from evenpull.joint.tightening.torque import F_M_zul, nut_factor_from_test
from tests.reference.given import INCH, Given, agree
from tests.reference.sizes import needed_thread, thread_size

LBF = 4.4482216152605
EDITIONS = 0.15  # share by which permissible preloads of different editions may differ
IMPLIED = {"C": 1.6, "D": 2.5, "E": 4.0}  # what the printed loads of the classes of tools come to
_FORCES = {"N": 1.0, "kN": 1e3, "MN": 1e6, "GN": 1e9, "lbf": LBF, "kip": 1e3 * LBF, "klbf": 1e3 * LBF,
           "Mlbf": 1e6 * LBF, "lb": LBF, "Mlb": 1e6 * LBF}
_LENGTHS = {"m": 1.0, "mm": 1e-3, "um": 1e-6, "in": INCH, "cm": 1e-2}


def _end(given: Given) -> int:
    """0 for the lower, 1 for the upper end of a range."""
    lower = given.says("lower", "lowest", "minimum", "min", "least")
    upper = given.says("upper", "highest", "maximum", "max", "greatest", "largest")
    if lower == upper:
        raise given.unknown()
    return 1 if upper else 0


def friction(given: Given) -> float:
    name = given.need(given.text("class", "friction_class"), "the friction class").upper()
    if not given.says("friction class", "class"):
        raise given.unknown()
    limit = catalogue.friction_class(name)[_end(given)]
    return given.need(limit, f"an upper limit of friction class {name}")


_WHERE = (
    ("thread", r"\bthreads?\b"), ("face", r"\b(?:head|nut|bearing)\b"),
    ("inner", r"\b(?:inner|inside|internal)\b|interface"),
)


def embedding(given: Given) -> float:
    if not given.says("embedding", "f_?z"):
        raise given.unknown()
    Rz = given.need(given.text("Rz_um", "Rz"), "the roughness Rz").replace(" ", "").replace("to", "-")
    loading = given.need(given.text("loading", "load"), "the loading").casefold()
    if re.search(r"\b(?:axial|tension|compression|longitudinal)\b", loading):
        loading = "axial"
    elif re.search(r"\b(?:shear|transverse)\b", loading):
        loading = "shear"
    row = catalogue.embedding({"10-40": "10-<40", "40-160": "40-<160"}.get(Rz, Rz), loading)
    where = given.need(given.text("where", "place"), "the kind of face").casefold()
    found = [name for name, pattern in _WHERE if re.search(pattern, where)]
    if len(found) != 1:
        raise given.error(f"{where!r} is no kind of face that embeds")
    return given.out(getattr(row, found[0]), "length", "um")


def _method(given: Given, text: str) -> str:
    """The method of the catalogue that a row's words mean."""
    t = text.casefold()

    def has(*words: str) -> bool:
        return all(re.search(word, t) for word in words)

    wrench = has(r"torque.?(?:\w+ )?wrench|manual torque|torque[ -]controlled.*wrench")
    estimated, tested = has(r"estimat|assum|table"), has(r"test|experiment|measured|known|original part")
    rules = (
        (has("ultraso"), "ultrasonic elongation control"),
        (has("elongation|extensometer|stretch|gau?ge rod"), "elongation measured mechanically"),
        (has("yield"), "yield controlled tightening"),
        (has("angle"), "angle-controlled tightening (torque and angle)"),
        (has("hydraulic|tensioning|tensioner"), "hydraulic tensioning"),
        (has("re-?tightening"), "power screwdriver, set with retightening torque"),
        (wrench and estimated and has(r"class a\b"), "torque wrench, friction estimated, class A"),
        (wrench and estimated and has(r"class b\b"), "torque wrench, friction estimated, class B"),
        (wrench and estimated, "torque wrench, friction estimated"),
        (wrench and tested, "torque wrench, friction tested"),
        (has("impact|impulse"), "impact or impulse wrench"),
        (has("screwdriver|power driver|nutrunner|nut runner"), "power screwdriver, set with retightening torque"),
    )
    for holds, name in rules:
        if holds:
            return name
    raise given.error(f"the method {text!r} is not one of: {', '.join(catalogue.tightening_methods())}")


def _named_method(given: Given) -> None:
    if (text := given.text("method")) is not None:
        _method(given, text)


def tightening_factor(given: Given) -> float:
    if given.says("preload", "load", "force") and given.says("minimum", "min", "least", "lowest", "fm,min", "fmmin") \
            and not given.says("scatter"):
        return _least_preload(given)
    share = given.number("scatter_pm_percent", "scatter_percent", below=100)
    if share is not None:
        _named_method(given)  # only the scatter counts; the method says where it comes from
        return scatter.alpha_A_from_scatter(share / 100)
    alpha = given.number("alphaA", "alpha_A")
    if alpha is not None and given.says("scatter"):
        _named_method(given)
        return 100 * scatter.scatter_from_alpha_A(alpha)
    if not given.says("alphaa", "alpha_a", "tightening factor"):
        raise given.unknown()
    method = given.need(given.text("method"), "the method of tightening")
    return catalogue.tightening_factor(_method(given, method))[_end(given)]


def _least_preload(given: Given) -> float:
    table = given.need(given.si("force", "FM_Tab", "F_M_Tab", "FM_max", "FM"), "the tabulated preload FM_Tab")
    alpha = given.need(given.number("alphaA_implied", "alphaA", "alpha_A"), "the tightening factor alphaA")
    kind = given.text("tool_scatter_class")
    if kind is not None and not re.fullmatch(r"[A-F]", kind):
        raise given.error(f"{kind!r} is no class of tools")
    if kind is not None and not agree(IMPLIED.get(kind, alpha), alpha):
        raise given.error(f"tools of class {kind} and alphaA = {alpha:g} do not agree")
    name, mu = given.text("class", "property_class"), given.number("mu", below=1)
    if "size" in given.inputs or "thread" in given.inputs:
        size = needed_thread(given, "metric")
        if name is not None and mu is not None:
            load = F_M_zul(size, strength(name, size), mu)
            if not agree(load, table, EDITIONS):
                raise given.error(f"FM_Tab = {table / 1e3:.4g} kN is no preload of {size.designation} class {name}, "
                                  f"about {load / 1e3:.3g} kN")
    return given.out(scatter.least_preload(table, alpha), "force", "N")


def _stiffness(given: Given, *symbols: str) -> float | None:
    """Stiffness in N/m from a key "kb_Mlbf_in" (force and length)."""
    found = []
    for symbol in symbols:
        given.known[f"{symbol}_N_mm"] = None
        for key, raw in given.inputs.items():
            match = re.fullmatch(rf"{symbol}_([A-Za-z]+)_(?:per_)?([a-z]+)", str(key))
            if match and match[1] in _FORCES and match[2] in _LENGTHS:
                given.used.add(key)
                found.append(given._checked(key, raw, True) * _FORCES[match[1]] / _LENGTHS[match[2]])
    if any(not agree(value, found[0]) for value in found):
        raise given.error(f"the stiffness {symbols[0]} is stated in two ways")
    return found[0] if found else None


def _resilience(given: Given, name: str, *symbols: str) -> float | None:
    """Resilience in m/N from a key "deltaS_mm_N", "deltaS_1e-6_mm_N"."""
    for symbol in symbols:
        given.known[f"{symbol}_mm_N"] = None
        for key, raw in given.inputs.items():
            match = re.fullmatch(rf"{symbol}_(1e-\d+_?)?([a-z]+)_(?:per_)?([A-Za-z]+)", str(key))
            if match and match[2] in _LENGTHS and match[3] in _FORCES:
                given.used.add(key)
                factor = float(match[1].rstrip("_")) if match[1] else 1.0
                return given._checked(key, raw, True) * factor * _LENGTHS[match[2]] / _FORCES[match[3]]
    stiffness = _stiffness(given, name)
    return None if stiffness is None else 1 / stiffness


def _pitch(given: Given) -> float:
    per_inch = given.number("threads_per_in", "N_per_in")
    size = thread_size(given, None)
    P = size.P if size is not None else given.si("length", "P", "p", "pitch")
    if per_inch is not None:
        if P is not None and not agree(P, INCH / per_inch):
            raise given.error("pitch and threads per inch do not agree")
        P = INCH / per_inch
    return given.need(P, "the pitch P or the threads per inch")


def torque_angle(given: Given) -> float:
    P = _pitch(given)
    angle = given.measure("angle", "angle", "theta", "phi")
    if given.says("travel", "advance"):
        turned = given.need(angle, "the angle").si
        for text in re.findall(r"(\d+(?:\.\d+)?)\s*(?:deg|°)", given.quantity):
            if not agree(math.radians(float(text)), turned):
                raise given.error(f"the {text} deg of the quantity and the angle do not agree")
        for text in re.findall(r"P\s*/\s*(\d+(?:\.\d+)?)", given.quantity):
            if not agree(2 * math.pi / float(text), turned):
                raise given.error(f"P/{text} of the quantity and the angle do not agree")
        return given.out(turning.travel(P, turned), "length", "mm")
    if angle is None and given.says("rotation", "angle", "turn", "turns"):
        name = given.text("case")  # the worked example that the stiffnesses come from
        if name is not None and not re.match(r"[A-Za-z]{1,4}-?\d+\b", name):
            raise given.error(f"{name!r} is no name of an example")
        load = given.need(given.si("force", "F", "F_M", "FM", "Fi", "F_i"), "the load F")
        S = given.need(_resilience(given, "kb", "deltaS", "delta_S"), "the stiffness kb")
        P_ = given.need(_resilience(given, "km", "deltaP", "delta_P"), "the stiffness km")
        snug = given.si("force", "F_snug", "Fsnug", "F_s")
        turn = (turning.elastic_angle(load, P, S, P_) if snug is None
                else turning.angle_from_snug(load, snug, P, S, P_))
        if given.says("in turns", "turns") and not given.says("deg"):
            return turn / (2 * math.pi)
        return given.out(turn, "angle", "deg")
    raise given.unknown()


def iso16047(given: Given) -> float:
    size = thread_size(given, None)
    P = size.P if size is not None else given.need(given.si("length", "P"), "the pitch P")
    d2 = given.si("length", "d2", "d_2")
    if size is not None and d2 is not None and not agree(d2, size.d2):
        raise given.error(f"d2 is not that of {size.designation}, {size.d2 * 1e3:.5g} mm")
    if d2 is None and size is not None:
        d2 = size.d2
    D_b, D_o = given.si("length", "Db", "D_b"), given.si("length", "Do", "D_o", "dw")
    d_h = given.si("length", "dh", "d_h")
    if D_o is not None and d_h is not None:
        mean = friction_test.D_b(D_o, d_h)
        if D_b is not None and not agree(D_b, mean):
            raise given.error("Db is not the mean of Do and dh")
        D_b = mean
    T, T_th = given.si("torque", "T", "M", "MA"), given.si("torque", "Tth", "T_th", "MG")
    F = given.need(given.si("force", "F"), "the load F")
    bearing = given.si("torque", "Tb", "T_b")
    if bearing is not None:
        if T is not None and T_th is not None and not agree(bearing, T - T_th):
            raise given.error("Tb is not T - Tth")
        T_th = T - bearing if T_th is None and T is not None else T_th
        T = T_th + bearing if T is None and T_th is not None else T
    wanted = given.first_said({
        "mu_tot": r"\bmu_tot\b|(?i:total (?:coefficient of )?friction)",
        "mu_th": r"\bmu_th\b|(?i:thread (?:coefficient of )?friction)",
        "mu_b": r"\bmu_b\b|(?i:bearing (?:surface )?(?:coefficient of )?friction)",
        "K": r"\bK\b|(?i:torque coefficient|nut factor)",
    })
    try:
        if wanted == "mu_th":
            return friction_test.mu_th(given.need(T_th, "the thread torque Tth"), F, P, given.need(d2, "d2"))
        torque = given.need(T, "the torque T")
        if wanted == "mu_tot":
            return friction_test.mu_tot(torque, F, P, given.need(d2, "d2"), given.need(D_b, "Db"))
        if wanted == "mu_b":
            return friction_test.mu_b(torque, given.need(T_th, "the thread torque Tth"), F, given.need(D_b, "Db"))
    except ValueError as error:
        raise given.error(str(error)) from error
    if wanted == "K":
        return nut_factor_from_test(torque, F, given.need(size, "the thread").d)
    raise given.unknown()
