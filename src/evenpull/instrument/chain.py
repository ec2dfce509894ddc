"""From the torque at the fastener to what is dialled on the tool: multiplier, adapter, resolution.

Order of the chain: fastener - multiplier (if any) - adapter - wrench. Torques in N.m, lengths in m, angles in rad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.joint.traced import Traced
from evenpull.quantities import Kind, from_si, in_words, to_si

ADAPTER = "FAA AC 43.13-1B par. 7-40 and fig. 7-2; US Army TM 9-254 for the angled adapter"
HAND_SHIFT = 0.010  # m, the shift of the hand for which the sensitivity is stated


def adapter_setting(torque: float, lever: float, adapter_length: float, angle: float = 0.0) -> float:
    """Wrench setting M_set = M L / (L + E cos alpha) in N.m.

    L = `lever`, from the drive centre to the hand reference; E = `adapter_length`, from the drive centre to the
    fastener centre; alpha between handle line and adapter (0 straight out, pi/2 square, pi folded back). ValueError
    for a lever that is not positive, a negative length, or an adapter folded back as far as the hand.
    """
    return torque / adapter_ratio(lever, adapter_length, angle)


def adapter_ratio(lever: float, adapter_length: float, angle: float = 0.0) -> float:
    """Torque at the fastener per torque at the drive, (L + E cos alpha)/L; see adapter_setting."""
    if not lever > 0:
        raise ValueError(f"the lever must be longer than zero: {lever} m")
    if not adapter_length >= 0:
        raise ValueError(f"the adapter length cannot be negative: {adapter_length} m; fold it back by the angle")
    effective = lever + adapter_length * math.cos(angle)
    if not effective > 0:
        raise ValueError(f"the adapter ({adapter_length} m) is folded back past the hand ({lever} m): no torque acts")
    return effective / lever


def hand_sensitivity(lever: float, adapter_length: float, angle: float = 0.0, shift: float = HAND_SHIFT) -> float:
    """Relative change of the torque at the fastener, as a positive share, when the hand moves by `shift` (m).

    The larger of both directions; zero without adapter and at a right angle, because then the wrench reading does not
    depend on where it is held.
    """
    ratio = adapter_ratio(lever, adapter_length, angle)
    if not 0 < shift < lever:
        raise ValueError(f"the shift must lie between zero and the lever: {shift} m")
    return max(abs(adapter_ratio(lever + s, adapter_length, angle) / ratio - 1) for s in (shift, -shift))


def angle_sensitivity(lever: float, adapter_length: float, angle: float, error: float) -> float:
    """Relative change of the torque at the fastener, as a positive share, when the adapter stands at `angle` +- `error`
    (rad). The larger of both directions, computed and not linearised: straight out the slope is zero, the change not.
    """
    ratio = adapter_ratio(lever, adapter_length, angle)
    if not 0 <= error < math.pi:
        raise ValueError(f"the error of the angle lies between zero and half a turn: {error} rad")
    return max(abs(adapter_ratio(lever, adapter_length, angle + s) / ratio - 1) for s in (error, -error))


def multiplier_setting(torque: float, ratio: float) -> float:
    """Torque in front of a torque multiplier, M / ratio, in N.m. `ratio` is the measured one, losses included."""
    if not ratio > 0:
        raise ValueError(f"the multiplier ratio must be greater than zero: {ratio}")
    return torque / ratio


def round_to_resolution(value: float, resolution: float) -> float:
    """Nearest multiple of the resolution (same unit), halves up. ValueError unless the resolution is positive."""
    if not resolution > 0:
        raise ValueError(f"the resolution must be greater than zero: {resolution}")
    # 12 significant figures before rounding: 2.5 steps must not become 2.4999999999999996
    steps = math.floor(float(f"{value / resolution:.12g}") + 0.5)
    return float(f"{steps * resolution:.12g}")


@dataclass(frozen=True, slots=True)
class ToolSetting:
    """What is dialled: `value` in the tool's unit, printed as `digits` and in `words`; `torque` is what then acts at
    the fastener (N.m) after rounding; `hand_sensitivity` per 10 mm."""

    value: float
    unit: str
    digits: str
    words: str
    torque: float
    chain: tuple[Traced, ...]
    hand_sensitivity: float


def tool_setting(
    torque: float,
    unit: str,
    resolution: float,
    *,
    lever: float | None = None,
    adapter_length: float = 0.0,
    adapter_angle: float = 0.0,
    multiplier_ratio: float = 1.0,
) -> ToolSetting:
    """Setting of a tool for `torque` (N.m) at the fastener, in the tool's `unit`, rounded to its `resolution` (N.m).

    ValueError for a torque or resolution that is not positive, for an adapter without a stated lever, and for a
    setting that rounds to zero.
    """
    if not torque > 0:
        raise ValueError(f"the torque must be greater than zero: {torque} N.m")
    chain = [_stated(torque)]
    ratio, sensitivity = multiplier_ratio, 0.0
    drive = _in_front(chain, torque, multiplier_ratio)
    if adapter_length != 0.0:
        if lever is None:
            raise ValueError("an adapter needs the lever of the wrench (drive centre to hand reference)")
        before = drive
        ratio *= adapter_ratio(lever, adapter_length, adapter_angle)
        drive = adapter_setting(drive, lever, adapter_length, adapter_angle)
        sensitivity = hand_sensitivity(lever, adapter_length, adapter_angle)
        symbol = chain[-1].symbol
        chain.append(Traced(
            "M_set", "torque at the wrench with the adapter", drive, "N.m",
            f"M_set = {symbol} L / (L + E cos(alpha))", ADAPTER,
            inputs={symbol: before, "L": lever, "E": adapter_length, "alpha": adapter_angle},
        ))
    return _dialled(chain, drive, unit, "torque", resolution, torque, ratio, sensitivity)


def pressure_setting(
    torque: float, torque_per_pressure: float, unit: str, resolution: float, *, multiplier_ratio: float = 1.0,
) -> ToolSetting:
    """Pressure dialled on the pump of a hydraulic tool for `torque` (N.m) at the fastener: p = M/c, in the gauge's
    `unit`, rounded to its `resolution` (Pa). c = `torque_per_pressure` in m3, as measured or by the maker's table.

    ValueError for a torque, factor or resolution that is not positive, and for a setting that rounds to zero.
    """
    if not torque > 0:
        raise ValueError(f"the torque must be greater than zero: {torque} N.m")
    if not torque_per_pressure > 0:
        raise ValueError(f"the torque per pressure must be greater than zero: {torque_per_pressure} m3")
    chain = [_stated(torque)]
    drive = _in_front(chain, torque, multiplier_ratio)
    pressure = drive / torque_per_pressure
    symbol = chain[-1].symbol
    chain.append(Traced(
        "p_set", "pressure for this torque", pressure, "Pa", f"p_set = {symbol} / c",
        "definition of the torque per pressure c", inputs={symbol: drive, "c": torque_per_pressure},
    ))
    return _dialled(chain, pressure, unit, "stress", resolution, torque, torque_per_pressure * multiplier_ratio, 0.0)


def _stated(torque: float) -> Traced:
    return Traced("M", "torque at the fastener", torque, "N.m", "stated", "target of this pass", "stated")


def _in_front(chain: list[Traced], torque: float, multiplier_ratio: float) -> float:
    """Torque in front of the multiplier; without one (ratio 1) that at the fastener, and no step is noted."""
    if multiplier_ratio == 1.0:
        return torque
    drive = multiplier_setting(torque, multiplier_ratio)
    chain.append(Traced(
        "M_in", "torque in front of the multiplier", drive, "N.m", "M_in = M / i",
        "definition of the measured ratio i, losses included", inputs={"M": torque, "i": multiplier_ratio},
    ))
    return drive


def _dialled(
    chain: list[Traced], drive: float, unit: str, kind: Kind, resolution: float, torque: float, ratio: float,
    sensitivity: float,
) -> ToolSetting:
    """Round `drive` (SI) to the scale; `ratio` is torque at the fastener per `drive`."""
    step = float(f"{from_si(resolution, unit):.9g}")
    value = round_to_resolution(from_si(drive, unit), step)
    if value <= 0:
        raise ValueError(f"{torque} N.m is less than half a step of the tool ({step:g} {unit})")
    dialled = to_si(value, unit, kind)
    symbol, si = ("M_dial", "N.m") if kind == "torque" else ("p_dial", "Pa")
    chain.append(Traced(
        symbol, f"setting rounded to {step:g} {unit}", dialled, si,
        f"nearest multiple of the resolution: {_digits(value, step)} {unit}", "resolution of the tool",
        inputs={chain[-1].symbol: drive, "resolution": resolution},
    ))
    digits = _digits(value, step)
    return ToolSetting(value, unit, digits, in_words(float(digits), unit), dialled * ratio, tuple(chain), sensitivity)


def _digits(value: float, step: float) -> str:
    """The value with as many decimals as the resolution has (at most four)."""
    places = next((n for n in range(5) if abs(step * 10**n - round(step * 10**n)) < 1e-6 * step * 10**n), 4)
    return f"{value:.{places}f}"
