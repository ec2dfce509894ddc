"""Reference rows on preload, torque and nut factor."""

from __future__ import annotations

import re

from evenpull import catalogue, joint, statistics
from evenpull.quantities import Kind, from_si, to_si
from tests.reference.given import Given, agree
from tests.reference.sizes import check_area, head_kind, hole_series, needed_thread, thread_size

STRESS_AS_ROUNDED = 0.007  # share: stresses taken from a strength are printed in whole ksi
_METRIC_UNITS = frozenset({"N", "kN", "MN", "daN", "MPa", "GPa", "kPa", "Pa"})
_BOTH, _THREAD, _BEARING = ("mu", "mu_ges", "mu_tot"), ("muG", "mu_G", "mu_th"), ("muK", "mu_K", "mu_k", "mu_b")


def _mu(given: Given, *own: str) -> float:
    """The coefficient of one friction face, or the one that stands for both."""
    one, both = given.number(*own, below=1), given.number(*_BOTH, below=1)
    if one is not None and both is not None and not agree(one, both, 1e-9):
        raise given.error(f"{own[0]} and mu do not agree")
    return given.need(both if one is None else one, f"the coefficient of friction {own[0]}")


def _bearing(given: Given, size: joint.ThreadSize, head: str | None, series: str | None) -> float:
    """D_Km (m) from the row; d_w and d_h that it leaves out from the tables, for the head and hole it names."""
    direct = given.si("length", "DKm", "D_Km")
    d_w, d_h = given.si("length", "dw", "d_w"), given.si("length", "dh", "d_h")
    if direct is not None and d_w is None and d_h is None:
        return direct
    if d_w is None:
        d_w = catalogue.bearing_diameter(given.need(head, "d_w, or a kind of head,"), size.d, "metric").value
    if d_h is None:
        d_h = catalogue.clearance_hole(given.need(series, "d_h, or a series of holes,"), size.d, "metric").value
    mean = joint.D_Km(d_w, d_h)
    if direct is not None and not agree(direct, mean):
        raise given.error("D_Km is not the mean of d_w and d_h")
    return mean


def _utilisation(given: Given, austenitic: bool) -> float:
    """nu from the row or from "at 90 %"; tables of austenitic screws that leave it out are made for 0.9."""
    nu = given.number("nu", below=1 + 1e-9)
    said = {float(text) / 100 for text in re.findall(r"(\d+(?:\.\d+)?)\s*%", given.quantity)}
    if len(said) > 1 or (nu is not None and said and not agree(nu, next(iter(said)))):
        raise given.error("the utilisation is stated in two ways")
    found = nu if nu is not None else next(iter(said), 0.9 if austenitic else None)
    found = given.need(found, "the utilisation nu")
    if not 0 < found <= 1:
        raise given.error(f"a utilisation of {found:g} is not between 0 and 1")
    return found


def preload_torque_vdi(given: Given) -> float:
    if given.says("waisted", "necked", "reduced", "proof load", "proof stress", "tensile strength"):
        raise given.unknown()
    size = needed_thread(given, "metric")
    name = given.need(given.text("class", "property_class"), "the class")
    if not re.fullmatch(r"\d{1,2}\.\d|[ACF]\d?-?\d+", name):
        raise given.error(f"{name!r} is no class of metric bolts")
    found = joint.strength(name, size)
    mu_G = _mu(given, *_THREAD)
    austenitic = given.says("austenitic")
    if austenitic and not name.startswith("A"):
        raise given.error(f"class {name} is not austenitic")
    load = joint.F_M_zul(size, found, mu_G, _utilisation(given, austenitic))
    wanted = given.first_said({"torque": r"\b[Tt]orque\b", "load": r"\b(?:[Pp]reload|[Ll]oad|[Ff]orce)\b"})
    if wanted == "load":
        return given.out(load, "force", "kN")
    if wanted != "torque":
        raise given.unknown()
    # tables of austenitic screws are made for hexagon heads on medium holes and leave both out
    head, series = ("hexagon", "medium") if austenitic else (None, None)
    D_Km = _bearing(given, size, head_kind(given) or head, hole_series(given) or series)
    return given.out(joint.M_A(load, size, mu_G, _mu(given, *_BEARING), D_Km), "torque", "N.m")


def nut_factor(given: Given) -> float:
    described = _described(given)
    if described is not None:
        return described
    if (condition := given.text("condition")) is not None:
        return _by_condition(given, condition)
    wanted = given.first_said({
        "torque": r"\b[Tt]orque\b(?! coefficient)", "K": r"[Nn]ut factor|[Tt]orque coefficient|\bK\b",
        "load": r"(?i:\b(?:preload|load|clamp|tension|force)\b)|\bF\b",
    })
    if wanted == "K":
        return _K(given)
    if wanted is None:
        raise given.unknown()
    K = given.need(given.number("K", below=1), "the nut factor K")
    for text in re.findall(r"\bK\s*=\s*(0?\.\d+)", given.quantity):
        if not agree(float(text), K):
            raise given.error(f"K = {K:g} and the {text} of the quantity do not agree")
    d, size = _diameter(given)
    if wanted == "load":
        torque = given.need(_torque(given), "the torque")
        usual = "kN" if torque[1] in ("N.m", "kN.m", "N.cm", "N.mm", "cN.m") else (
            "lbf" if torque[1].startswith("lbf") else None)
        unit = given.need(given.named_unit("force") or usual, "the unit of the load, in the quantity,")
        return from_si(joint.load_from_nut_factor(torque[0], K, d), unit)
    load, system = _load(given, d, size)
    # tables that start from a bolt stress in psi print lbf.ft; from a load in lbf both lbf.ft and lbf.in are usual
    usual_torque = {"metric": "N.m", "psi": "lbf.ft"}.get(system)
    unit = given.need(given.named_unit("torque") or usual_torque, "the unit of the torque, in the quantity,")
    return from_si(joint.torque_from_nut_factor(load, K, d), unit)


def _torque(given: Given) -> tuple[float, str] | None:
    found = given.measure("torque", "T", "M", "MA", "M_A", "torque")
    return None if found is None else (found.si, str(found.unit))


def _diameter(given: Given) -> tuple[float, joint.ThreadSize | None]:
    size = thread_size(given, None)
    d = given.si("length", "d", "D")
    if size is not None:
        d = size.d
    return given.need(d, "the diameter or the thread"), size


def _load(given: Given, d: float, size: joint.ThreadSize | None) -> tuple[float, str]:
    """Load (N), and which units it was given in: "metric", "psi" or "mixed"."""
    force = given.measure("force", "F", "F_M", "FM", "Fi", "F_i", "P", "W", "preload", "load")
    if force is not None:
        return force.si, "metric" if force.unit in _METRIC_UNITS else "mixed"
    stress = given.measure("stress", "bolt_stress", "stress", "sigma")
    grade = given.text("SAE_grade", "grade")
    if grade is not None:
        said = re.search(r"(\d+(?:\.\d+)?)\s*%\s*of\s*(yield|proof)", given.q)
        if said is None:
            raise given.error("the grade says nothing without a share of its yield or proof strength")
        strength = joint.strength_at(f"SAE J429 grade {re.sub(r'^(?:grade|gr[.]?) *', '', grade.casefold())}", d)
        full = strength.R_p02 if said[2] == "yield" else strength.S_p
        share = float(said[1]) / 100 * given.need(full, "the proof stress of the grade")
        if stress is None:
            stress_si, unit = share, "psi"
        elif not agree(stress.si, share, STRESS_AS_ROUNDED):
            raise given.error(f"the stress is not {said[0]} of grade {grade}, {from_si(share, 'psi'):.0f} psi")
        else:
            stress_si, unit = stress.si, str(stress.unit)
    else:
        found = given.need(stress, "the load or the bolt stress")
        stress_si, unit = found.si, str(found.unit)
    area = given.si("area", "As_nom", "As", "A_s", "At", "A_t")
    if size is not None:
        check_area(given, size)
        area = size.A_s if area is None else area  # tables are made with the area as printed
    system = "metric" if unit in _METRIC_UNITS else "psi" if unit in ("psi", "ksi") else "mixed"
    if size is not None and (size.system == "metric") != (system == "metric"):
        system = "mixed"
    return stress_si * given.need(area, "the stress area"), system


def _K(given: Given) -> float:
    """K from a test (torque and load), or from the friction coefficients of thread and bearing face."""
    torque = _torque(given)
    if torque is not None:
        d, size = _diameter(given)
        return joint.nut_factor_from_test(torque[0], _load(given, d, size)[0], d)
    if not any(key in given.inputs for key in (*_THREAD, *_BOTH)):
        given.known.update(dict.fromkeys((*_THREAD, *_BOTH, "F_kN", "condition", "preloads_kN")))
        raise given.error("a condition, a torque with its load, or the coefficients of friction are missing")
    size = needed_thread(given, "metric")
    D_Km = _bearing(given, size, head_kind(given), hole_series(given))
    return joint.nut_factor(size, _mu(given, *_THREAD), _mu(given, *_BEARING), D_Km)


def _by_condition(given: Given, condition: str) -> float:
    if not given.says("k", "nut factor"):
        raise given.unknown()
    found = _printed(condition)
    lower, upper = given.says("lower", "lowest", "min", "minimum"), given.says("upper", "highest", "max", "maximum")
    if lower != upper:
        return found.low if lower else found.high
    if not lower and found.low == found.high and not given.says("mean", "average", "scatter", "variation"):
        return found.low
    raise given.error(f"K of {found.condition!r} is a range: name its lower or its upper end")


def _printed(condition: str) -> catalogue.NutFactor:
    """The condition itself; a maker's name, one capital word that no table knows, may stand before a product."""
    known = {word for found in catalogue.nut_factors() for word in re.findall(r"[a-z0-9]+", found.condition.casefold())}
    words = re.findall(r"[A-Za-z0-9]+", condition)
    strange = [word for word in words if word.casefold() not in known]
    products = [re.findall(r"[a-z0-9]+", found.condition) for found in catalogue.nut_factors()
                if found.condition.startswith("with ")]
    rest = [word.casefold() for word in words if word not in strange]
    rest = rest if rest[:1] == ["with"] else ["with", *rest]
    if len(strange) == 1 and strange[0][0].isupper() and rest in products:
        return catalogue.printed_nut_factor(" ".join(rest))
    return catalogue.printed_nut_factor(condition)


_STATISTICS = {
    "deviation": ("standard deviation",), "variation": ("variation",), "median": ("median",),
    "mean": ("mean", "average"), "minimum": ("min", "minimum", "lowest", "smallest"),
    "maximum": ("max", "maximum", "highest", "largest"),
}


def _described(given: Given) -> float | None:
    """A statistic of a list of loads or torques, in the unit of the list unless the quantity names another."""
    kinds: dict[Kind, tuple[str, ...]] = {
        "force": ("preloads", "loads", "forces", "preload", "load", "F"), "torque": ("torques", "torque", "T"),
    }
    lists = [(kind, found) for kind, names in kinds.items() if (found := given.series(kind, *names)) is not None]
    if not lists:
        return None
    if len(lists) > 1:
        raise given.error("there is more than one list")
    kind, (values, unit) = lists[0]
    asked = [name for name, words in _STATISTICS.items() if given.says(*words)]
    if len(asked) != 1 or given.says("error", "population") or "(n)" in given.quantity:
        raise given.unknown()
    value = float(given.need(getattr(statistics.describe(values), asked[0]), "a second value"))
    if asked[0] == "variation":
        return value * 100 if given.says("percent", ".*%.*") else value
    return given.out(to_si(value, unit, kind), kind, unit)
