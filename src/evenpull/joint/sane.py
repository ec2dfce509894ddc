"""Inputs that no joint has, refused once by the name of their field, before anything is computed with them.

The ranges are wide: they keep out slips of unit, infinities and what would divide by zero, not unusual joints. A rule
set refuses by itself what only it cannot use.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, Literal, NamedTuple, Union, get_args, get_origin, get_type_hints

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.traced import Band


class Range(NamedTuple):
    """From `low` to `high`, both allowed; with `above` the lower end itself is not, with `below` the upper one."""

    low: float
    high: float
    unit: str = ""
    above: bool = False
    below: bool = False

    def holds(self, value: float) -> bool:
        low = self.low < value if self.above else self.low <= value
        return low and (value < self.high if self.below else value <= self.high)

    def __str__(self) -> str:
        if self.above or (self.low > 0 and self.unit):
            start = "has to be finite and greater than zero" + (f", at least {self.low:g}" if self.low > 0 else "")
        else:
            start = "has to be finite and not negative" if self.low == 0 else f"has to be {self.low:g} or more"
        return f"{start}, {'below' if self.below else 'at most'} {self.high:g} {self.unit}".rstrip()


# common practice, no source: far beyond any bolted joint on either side
LENGTH, LENGTH_0 = Range(0, 100, "m", above=True), Range(0, 100, "m")
SIGNED_LENGTH, DEPTH = Range(-100, 100, "m"), Range(0, 0.01, "m")
AREA, AREA_0, INERTIA = Range(0, 1e4, "m2", above=True), Range(0, 1e4, "m2"), Range(0, 1e4, "m4", above=True)
STRESS, STRESS_0, MODULUS = Range(0, 1e11, "Pa", above=True), Range(0, 1e11, "Pa"), Range(1e3, 1e13, "Pa")
FORCE, FORCE_0 = Range(0, 1e10, "N", above=True), Range(0, 1e10, "N")
SIGNED_FORCE, STIFFNESS = Range(-1e10, 1e10, "N"), Range(1.0, 1e16, "N/m")
TORQUE, TORQUE_0, SIGNED_TORQUE = Range(0, 1e9, "N.m", above=True), Range(0, 1e9, "N.m"), Range(-1e9, 1e9, "N.m")
ANGLE, ANGLE_0 = Range(0, 1e3, "rad", above=True), Range(0, 1e3, "rad")
FRICTION, SHARE, LEFT = Range(0, 2), Range(0, 1, below=True), Range(0, 1, above=True)
RATIO, SAFETY, ANY_SAFETY = Range(0, 2, above=True, below=True), Range(1, 1e3), Range(0, 1e3, above=True)
TEMPERATURE, EXPANSION = Range(-273.15, 3000, "degC"), Range(-1e-3, 1e-3, "1/K")
COUNT, COUNT_0 = Range(1, 1e6), Range(0, 1e6)
NOTHING = 1e-15  # in SI: smaller values are left over from a subtraction

RANGES: Mapping[str, Mapping[str, Range]] = {
    "ThreadSize": dict.fromkeys(("d", "P", "d2", "D1", "d3"), LENGTH) | dict.fromkeys(("A_s", "A_d3"), AREA),
    "Strength": dict.fromkeys(("R_m", "R_p02", "S_p"), STRESS),
    "Material": {"E": MODULUS, "alpha": EXPANSION} | dict.fromkeys(("R_m", "R_p02", "p_G", "tau_B"), STRESS),
    "Section": {"length": LENGTH, "d": LENGTH, "d_i": LENGTH_0},
    "Bolt": {"d_w": LENGTH, "d_i": LENGTH_0, "length": LENGTH},
    "Counterpart": {"engagement": LENGTH, "d_w": LENGTH, "nut_proof_stress": STRESS},
    "Layer": dict.fromkeys(("length", "d_h", "D_A", "slot_length", "chamfer"), LENGTH),
    "Gasket": {"stiffness": STIFFNESS, "thickness": LENGTH, "E": MODULUS, "area": AREA, "relaxation": SHARE},
    "Friction": dict.fromkeys(("mu_G", "mu_K", "K"), FRICTION),
    "Tightening": {
        "alpha_A": Range(1, 100), "tool_scatter": SHARE, "torque": TORQUE, "preload": FORCE, "prevailing": TORQUE_0,
        "snug_torque": TORQUE, "angle": ANGLE, "angle_scatter": ANGLE_0, "transfer_loss": SHARE,
    },
    "Eccentricity": dict.fromkeys(("s_sym", "a"), SIGNED_LENGTH) | {"I_Bers": INERTIA, "I_BT": INERTIA, "A_D": AREA,
                                                                    "u": LENGTH},
    "Loads": {
        "F_A_max": SIGNED_FORCE, "F_A_min": SIGNED_FORCE, "F_Q": FORCE_0, "M_Y": SIGNED_TORQUE, "q_F": COUNT,
        "q_M": COUNT, "r_a": LENGTH, "mu_T": Range(0, 2, above=True), "sealing_pressure": STRESS_0,
        "sealing_area": AREA_0, "F_Kerf": FORCE_0, "n": Range(0, 1), "cycles": Range(0, 1e15, above=True),
    },
    "Service": dict.fromkeys(("T_assembly", "T_S", "T_P"), TEMPERATURE) | dict.fromkeys(
        ("E_S_ratio", "E_P_ratio", "R_p02_ratio"), RATIO) | {"relaxation": SHARE},
    "Embedding": {"f_Z": DEPTH, "inner_interfaces": COUNT_0},
    "StructuralInput": {"k_m": LEFT, "V_k": SHARE, "gamma_M3": Range(1, 10)},
    "SpaceInput": {
        "Gamma": SHARE, "c_min": LEFT, "c_max": Range(1, 100), "n_f": COUNT, "creep": FORCE_0, "relaxation": SHARE,
        "dP_thermal_max": FORCE_0, "dP_thermal_min": FORCE_0,
    } | dict.fromkeys(("FF", "FS_u", "FS_y", "FS_sep"), ANY_SAFETY),
    "FlangeInput": dict.fromkeys(
        ("target_stress", "S_b_max", "S_b_min", "S_f_max", "S_g_seat", "S_g_op", "S_g_max", "S_g_target", "p_max"),
        STRESS) | dict.fromkeys(("gasket_area", "pressure_area"), AREA) | dict.fromkeys(
        ("rotation_f_max", "rotation_g_max"), ANGLE) | {"relaxation_share": LEFT, "bolts": COUNT},
    "AviationInput": {"drag": TORQUE_0},
    "Limits": {"nu": LEFT, "S_e": STRESS, "n_d": ANY_SAFETY, "required_preload": FORCE, "largest_preload": FORCE}
    | dict.fromkeys(("S_F", "S_D", "S_G", "S_P", "S_A"), SAFETY),
    "JointCase": {"elastic_interaction": SHARE},
}


def positive(value: float, field: str) -> float:
    """The value, for a rule set that cannot do with the 0 which the range allows. CaseError names the field."""
    if not value > 0:
        raise CaseError(f"{field} has to be finite and greater than zero, not {value}")
    return value


def refuse_senseless(case: JointCase, *, pushed: bool = False) -> None:
    """CaseError that names the first field (and the range it may have) which is of another type, not finite, out of
    any joint's range, or at odds with its neighbours. A joint that is only pushed together is refused unless `pushed`.
    """
    _walk(case, "")
    if not pushed and case.loads.F_A_max < 0:
        raise CaseError(f"loads.F_A_max has to be finite and not negative, not {case.loads.F_A_max} N: state 0 where "
                        "the joint is only pushed together, and the push as loads.F_A_min")
    if not case.layers:
        raise CaseError("layers: there is at least one clamped part")
    _thread(case)
    strength = case.bolt.strength
    if not strength.R_p02 <= strength.R_m:
        raise CaseError(f"bolt.strength: R_p02 = {strength.R_p02:g} Pa is above R_m = {strength.R_m:g} Pa")
    if strength.S_p is not None and strength.S_p > strength.R_m:
        raise CaseError(f"bolt.strength: S_p = {strength.S_p:g} Pa is above R_m = {strength.R_m:g} Pa")
    for number, section in enumerate(case.bolt.sections, 1):
        if not section.d_i < section.d:
            raise CaseError(f"bolt.sections[{number}]: a bore of {section.d_i} m does not fit into {section.d} m")
    if not case.bolt.d_i < case.bolt.thread.d3:
        raise CaseError(f"bolt.d_i: the bore has to be smaller than the root d3 = {case.bolt.thread.d3:.6g} m, not "
                        f"{case.bolt.d_i}")
    if case.loads.F_A_min > case.loads.F_A_max:
        raise CaseError(f"loads.F_A_min = {case.loads.F_A_min} N is greater than loads.F_A_max = "
                        f"{case.loads.F_A_max} N")
    _spans(case)


def _thread(case: JointCase) -> None:
    t = case.bolt.thread
    if not 0 < t.d3 < t.D1 < t.d2 < t.d or not t.A_d3 < t.A_s < math.pi / 4 * t.d**2:
        raise CaseError(f"bolt.thread {t.designation}: its diameters and areas have to rise d3 < D1 < d2 < d, "
                        "A_d3 < A_s < pi/4 d^2")
    if abs(t.d - 0.649519 * t.P - t.d2) > 0.02 * t.P or not 0.85 < t.A_d3 / (math.pi / 4 * t.d3**2) < 1.15:
        raise CaseError(f"bolt.thread {t.designation}: d2 = d - 0.649519 P and A_d3 = pi/4 d3^2 do not hold for its "
                        "sizes; take the thread from the table, or correct d, P, d2, d3 and A_d3")


def _spans(case: JointCase) -> None:
    """Sizes of bolt and parts within a factor that a joint can have."""
    d = case.bolt.thread.d
    for field, length, least in (
        ("layers: clamped length", case.l_K, 1e-6), ("bolt.d_w", case.bolt.d_w, 0.1),
        *((f"bolt.sections[{i}].d", s.d, 0.01) for i, s in enumerate(case.bolt.sections, 1)),
    ):
        if not least * d <= length <= 1e4 * d:
            raise CaseError(f"{field} of {length:g} m does not go with a thread of {d:g} m: is the unit right?")


def _walk(value: Any, path: str) -> None:
    """Every field below `value`, of a dataclass, by its annotation and its range."""
    kind: Any = type(value)
    ranges = RANGES.get(kind.__name__, {})
    for name, hint in _hints(kind):
        _field(getattr(value, name), hint, f"{path}{name}", ranges.get(name))


@cache
def _hints(cls: type) -> tuple[tuple[str, Any], ...]:
    hints = get_type_hints(cls)
    return tuple((field.name, hints[field.name]) for field in fields(cls))


def _field(value: Any, hint: Any, path: str, allowed: Range | None) -> None:
    options = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    if value is None:
        if type(None) not in options:
            raise CaseError(f"{path}: has to be stated, not None")
        return
    hint = next(option for option in options if option is not type(None))
    if get_origin(hint) is Literal:
        if value not in get_args(hint):
            raise CaseError(f"{path}: one of {', '.join(map(str, get_args(hint)))}, not {value!r}")
    elif get_origin(hint) is tuple:
        _sequence(value, get_args(hint)[0], path)
    elif hint in (float, int):
        _number(value, hint, path, allowed)
    elif hint is Band:
        _band(value, path, allowed)
    elif isinstance(hint, type):
        if not isinstance(value, hint):
            raise CaseError(f"{path}: {hint.__name__} is needed, not {value!r}")
        if is_dataclass(value):
            _walk(value, f"{path}.")


def _sequence(value: Any, item: type, path: str) -> None:
    if not isinstance(value, tuple):
        raise CaseError(f"{path}: a tuple of {item.__name__} is needed, not {value!r}")
    for number, part in enumerate(value, 1):
        name = getattr(part, "name", "")
        if not isinstance(part, item):
            raise CaseError(f"{path}[{number}]: {item.__name__} is needed, not {part!r}")
        _walk(part, f"{path}[{number}] ({name})." if name else f"{path}[{number}].")


def _number(value: Any, hint: type, path: str, allowed: Range | None) -> None:
    if isinstance(value, bool) or not isinstance(value, int if hint is int else int | float):
        raise CaseError(f"{path}: a {'whole number' if hint is int else 'number'} is needed, not {value!r}")
    if not math.isfinite(value):
        raise CaseError(f"{path} {allowed or 'has to be finite'}, not {value}")
    if 0 < abs(value) < NOTHING and allowed is not SIGNED_LENGTH:
        raise CaseError(f"{path} of {value} is less than anything of a joint: state 0 or leave it out")
    if allowed is not None and not allowed.holds(value):
        raise CaseError(f"{path} {allowed}, not {value}")


def _band(value: Any, path: str, allowed: Range | None) -> None:
    if not isinstance(value, Band):
        raise CaseError(f"{path}: a band of least, nominal and most is needed, not {value!r}")
    for name, one in _ends(value):
        _number(one, float, f"{path}.{name}", allowed)


def _ends(band: Band) -> Iterator[tuple[str, float]]:
    return ((name, getattr(band, name)) for name in ("low", "nominal", "high"))
