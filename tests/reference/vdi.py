"""Rows of whole joint examples in the manner of VDI 2230-1: the chain of the rule set, step by step."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

from evenpull import joint
from evenpull.joint import rules
from evenpull.joint.case import Embedding, JointCase, Loads, Service, Tightening
from evenpull.joint.result import RuleResult
from evenpull.joint.service.working import F_S_max, tension_stress, working_stress
from evenpull.joint.tightening.turning import elastic_angle
from tests.reference.given import Given, NotEvaluatedError
from tests.reference.stiffness import vdi_geometry


def joint_example_vdi(given: Given) -> float:
    """One quantity of an example; moduli are those of room temperature, as in the rows."""
    title = given.text("example")
    if title is not None and not re.fullmatch(r"[A-Z]+\d+\b.*", title):
        raise given.error(f"the title {title!r} of an example begins with its number")
    case = _case(given)
    for pattern, found in _QUANTITIES:
        if given.says(pattern):
            try:
                return found(given, case, rules.apply("vdi2230", case))
            except NotEvaluatedError:
                raise
            except ValueError as error:
                raise given.error(str(error)) from error
    raise given.unknown()


def _case(given: Given) -> JointCase:
    case = vdi_geometry(given)
    alpha_A = given.need(given.number("alphaA", "alpha_A"), "alphaA")
    F_A, F_Kerf = (given.measure("force", name, positive=False) for name in ("F_A", "F_Kerf"))
    f_Z = given.need(given.measure("length", "fZ", "f_Z", positive=False), "fZ")
    for measured in (F_A, F_Kerf, f_Z):
        if measured is not None and measured.si < 0:
            raise given.error(f"input {measured.key!r} must not be negative")
    T = [20.0 + _change(given, f"dT_{part}_K") for part in ("S", "P")]
    return replace(
        case,
        tightening=Tightening(alpha_A=alpha_A),
        loads=Loads(F_Kerf=given.need(F_Kerf, "F_Kerf").si, F_A_max=given.need(F_A, "F_A").si,
                    n=given.need(given.number("n"), "the load introduction factor n")),
        embedding=Embedding(f_Z=f_Z.si),
        service=Service(T_assembly=20.0, T_S=T[0], T_P=T[1], E_S_ratio=1.0, E_P_ratio=1.0, R_p02_ratio=1.0),
    )


def _change(given: Given, key: str) -> float:
    """A change of temperature in K, 0 when the row states none."""
    value = given.raw(key)
    if key not in given.inputs:
        return 0.0
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not abs(value) < 1000:
        raise given.error(f"input {key!r} has to be a number of kelvin, not {value!r}")
    return float(value)


def _step(symbol: str, factor: float) -> Callable[[Given, JointCase, RuleResult], float]:
    return lambda given, case, result: result.by_symbol(symbol).value * factor


def _torque(given: Given, case: JointCase, result: RuleResult) -> float:
    greatest = given.says("fm,max", "fmmax")
    if greatest == given.says("fm,zul", "fmzul"):
        raise given.unknown()
    F = result.by_symbol("F_M_max" if greatest else "F_M_zul").value
    mean = result.by_symbol("D_Km").value
    return float(joint.M_A(F, case.bolt.thread, case.friction.mu_G.nominal, case.friction.mu_K.nominal, mean))


def _rotation(given: Given, case: JointCase, result: RuleResult) -> float:
    load = "F_M_min" if given.says("fm,min", "fmmin") else "F_M_zul" if given.says("fm,zul", "fmzul") else "F_M_max"
    F = result.by_symbol(load).value
    S, P = (result.by_symbol(symbol).value for symbol in ("delta_S", "delta_P"))
    return math.degrees(float(elastic_angle(F, case.bolt.thread.P, S, P)))


def _stress(given: Given, case: JointCase, result: RuleResult) -> float:
    """As the rows write it: F_Mzul + Phi F_A - dF_Vth, also where the temperature takes load away."""
    F_M, F_SA, dF, A_0, tau = (result.by_symbol(symbol).value
                               for symbol in ("F_M_zul", "F_SA_max", "dF_Vth", "A_0", "tau"))
    return float(working_stress(tension_stress(F_S_max(F_M, F_SA, dF), A_0), tau)) * 1e-6


def _sufficient(given: Given, case: JointCase, result: RuleResult) -> float:
    return float(next(check for check in result.checks if check.symbol == "F_M_zul").holds is True)


_QUANTITIES: tuple[tuple[str, Callable[[Given, JointCase, RuleResult], float]], ...] = (
    (r"deltas|delta_s|bolt resilience", _step("delta_S", 1e9)),
    (r"deltap|delta_p|resilience of (?:the )?clamped parts", _step("delta_P", 1e9)),
    (r"tan of (?:the )?cone angle|tan phi", _step("tan_phi", 1.0)),
    (r"limiting diameter|da,gr", _step("D_A_Gr", 1e3)),
    (r"load factor", _step("Phi", 1.0)),
    (r"embedding", _step("F_Z", 1.0)),
    (r"thermal", _step("dF_Vth", 1.0)),
    (r"sufficient", _sufficient),
    (r"tightening torque|torque", _torque),
    (r"rotation", _rotation),
    (r"working stress|sigma_red,b", _stress),
    (r"surface pressure", _step("p_M_K", 1e-6)),
    (r"minimum assembly preload|least assembly preload", _step("F_M_min", 1.0)),
    (r"maximum assembly preload|greatest assembly preload", _step("F_M_max", 1.0)),
    (r"permissible assembly preload", _step("F_M_zul", 1.0)),
    (r"additional bolt load|fsa", _step("F_SA_max", 1.0)),
    (r"residual clamp load|fkr", _step("F_KR_min", 1.0)),
)
