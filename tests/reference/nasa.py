"""Reference rows on preload limits in the manner of NASA-STD-5020, and on the uncertainty of methods."""

from __future__ import annotations

import re

from evenpull import joint
from evenpull.catalogue.preload_uncertainty import preload_uncertainty
from evenpull.joint.service import preload_limits as limits
from evenpull.quantities import from_si
from tests.reference.given import Given, Value
from tests.reference.sizes import thread_size


def nasa_preload(given: Given) -> float:
    if (method := given.text("method")) is not None:
        return _uncertainty(given, method)
    return _limit(given)


def _uncertainty(given: Given, method: str) -> float:
    words = given.says("uncertainty"), given.says("accuracy")
    if words[0] == words[1]:
        raise given.error("the quantity has to say preload uncertainty (NASA) or accuracy (Machinery's Handbook)")
    row = preload_uncertainty(method, "nasa" if words[0] else "machinery")
    low = given.says("low", "lower", "best", "least")
    if low and given.says("high", "upper", "worst", "greatest"):
        raise given.unknown()
    return 100 * (row.low if low else row.high)


def _diameter(given: Given) -> float:
    size = thread_size(given, None)
    return given.need(given.si("length", "D", "d") if size is None else size.d, "the diameter D")


def _share(given: Given) -> float:
    """Share of P_pi_min lost by short-term relaxation: "5 % of Ppi-min", "none", or a number."""
    text = given.text("relaxation") if isinstance(given.inputs.get("relaxation"), str) else None
    if text is None:
        number = given.measure("length", "relaxation", bare=True, positive=False)
        return given.need(None if number is None else number.si, "the relaxation")
    if text.casefold() in ("none", "0", "no"):
        return 0.0
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*%\s*(?:of\s+P_?pi[-_]?min.*)?", text)
    if match is None:
        raise given.error(f"the relaxation {text!r} is not understood")
    return float(match[1]) / 100


def _force(given: Given, *symbols: str) -> Value | None:
    found = given.measure("force", *symbols, positive=False)
    if found is not None and found.si < 0:
        raise given.error(f"input {found.key!r} is a loss or an increase and not negative")
    return found


def _least(given: Given, nominal: float) -> float:
    Gamma, c_min = given.number("Gamma", "gamma", "G", below=1), given.number("c_min")
    Gamma, c_min = given.need(Gamma, "Gamma"), given.need(c_min, "c_min")
    critical = given.need(given.flag("separation_critical"), "separation_critical")
    n_f = given.number("n_f", "nf", "n_fasteners", "fasteners")
    shared = "sqrt" in given.q or "nf" in given.q
    if shared and critical:
        raise given.error("Gamma/sqrt(nf) belongs to joints that are not separation-critical")
    if critical:
        return float(joint.P_pi_min(nominal, c_min, Gamma))
    return float(joint.P_pi_min_shared(nominal, c_min, Gamma, given.need(n_f, "the number of fasteners nf")))


def _limit(given: Given) -> float:
    torque = given.measure("torque", "T_nom", "T", "torque")
    load = given.measure("force", "P_pi_nom", "Ppi_nom")
    inch = False
    if torque is not None:
        running = given.measure("torque", "T_run", "running_torque", "T_prevailing", positive=False)
        free = torque.si - (0.0 if running is None else running.si)
        K = given.need(given.number("K_nom", "K", below=1), "the nut factor K_nom")
        nominal = float(joint.P_pi_nom(free, K, _diameter(given)))
        inch = (torque.unit or "").startswith("lbf")
    else:
        found = given.need(load, "the nominal torque or preload")
        nominal, inch = found.si, (found.unit or "").endswith("lbf")
    c_max, Gamma = given.number("c_max"), given.number("Gamma", "gamma", "G", below=1)
    least = _least(given, nominal)
    greatest = float(joint.P_pi_max(nominal, given.need(c_max, "c_max"), given.need(Gamma, "Gamma")))
    creep, up = _force(given, "P_creep", "P_pc"), _force(given, "P_thermal_max", "dP_t_max")
    down = _force(given, "P_thermal_min_loss", "P_thermal_min", "dP_t_min")
    tested = _force(given, "P_relaxation", "P_pr")
    relaxation = tested.si if tested is not None else float(limits.short_term_relaxation(least, _share(given)))
    wanted = re.sub(r"[\s_-]", "", given.quantity.split("=")[0].casefold())
    name = re.sub(r"p(?:pi?)(?:nom|max|min)$|ppr$", "", wanted)
    values = {"nominalinitialpreload": nominal, "maximuminitialpreload": greatest, "minimuminitialpreload": least,
              "relaxation": relaxation}
    if name == "maximumpreload":
        values[name] = float(limits.P_p_max(greatest, given.need(up, "the thermal increase").si))
    elif name == "minimumpreload":
        values[name] = float(limits.P_p_min(least, relaxation, given.need(creep, "the loss by creep").si,
                                            given.need(down, "the thermal loss").si))
    if name not in values:
        raise given.unknown()
    return from_si(values[name], given.named_unit("force") or ("lbf" if inch else "N"))
