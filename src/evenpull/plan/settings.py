"""What is dialled on each tool for each pass, and why a tool may not do a pass."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from evenpull.instrument import ToolSetting, pressure_setting, tool_setting
from evenpull.plan.model import PressureScale, Setting, Tool
from evenpull.quantities import from_si, in_words, show, to_si

CLOSE = 1e-9  # relative; a value on the end of a scale or window counts as inside


def certificate_problem(tool: Tool, on: date) -> str:
    """Why the certificate does not cover the day; "" when it does."""
    if on < tool.certificate_from:
        return f"certificate {tool.certificate} begins on {tool.certificate_from}, after {on}"
    if on > tool.certificate_until:
        return f"certificate {tool.certificate} ran out on {tool.certificate_until}, before {on}"
    return ""


def setting_for(tool: Tool, pass_number: int, torque: float, window: tuple[float, float], on: date) -> Setting:
    """Setting of one tool for one pass: `torque` and `window` in N.m at the fastener, `on` the day of the work.

    A tool that cannot do the pass gets its setting all the same, with the reasons in `problems`.
    """
    adapter = tool.adapter_length.si if tool.adapter_length is not None else 0.0
    angle = tool.adapter_angle.si if tool.adapter_angle is not None else 0.0
    lever = tool.lever.si if tool.lever is not None else None
    problems = [text] if (text := certificate_problem(tool, on)) else []
    try:
        if tool.pressure is not None:
            return _on_the_gauge(tool, tool.pressure, pass_number, torque, window, problems)
        dialled = tool_setting(torque, tool.unit, tool.resolution.si, lever=lever, adapter_length=adapter,
                               adapter_angle=angle, multiplier_ratio=tool.multiplier_ratio)
    except ValueError as error:  # less than half a step, or an adapter that gives no lever
        value = float(f"{from_si(torque, tool.unit):.3g}")
        return Setting(pass_number, tool.serial, value, tool.unit, f"{value:g}", in_words(value, tool.unit), (), 0.0,
                       (*problems, f"no setting: {error}"))
    on_scale = to_si(dialled.value, tool.unit, "torque")
    scale = f"its scale from {tool.lower.text} to {tool.upper.text}"
    if on_scale < tool.lower.si * (1 - CLOSE):
        problems.append(f"the setting {dialled.digits} {dialled.unit} is below {scale}")
    if on_scale > tool.upper.si * (1 + CLOSE):
        problems.append(f"the setting {dialled.digits} {dialled.unit} is above {scale}")
    return _checked(tool, dialled, tool.resolution.text, pass_number, window, problems)


def _on_the_gauge(
    tool: Tool, gauge: PressureScale, pass_number: int, torque: float, window: tuple[float, float], problems: list[str],
) -> Setting:
    """The pressure to be dialled. ValueError as of `pressure_setting`."""
    dialled = pressure_setting(torque, gauge.torque_per_pressure, gauge.unit, gauge.resolution,
                               multiplier_ratio=tool.multiplier_ratio)
    pressure = to_si(dialled.value, gauge.unit, "stress")
    at_drive = pressure * gauge.torque_per_pressure
    shown = f"{dialled.digits} {dialled.unit}"
    for side, beyond in (("below", pressure < gauge.lower * (1 - CLOSE)),
                         ("above", pressure > gauge.upper * (1 + CLOSE))):
        if beyond:
            problems.append(f"the pressure {shown} is {side} the scale of its gauge from "
                            f"{show(gauge.lower, gauge.unit)} to {show(gauge.upper, gauge.unit)}")
    scale = f"its scale from {tool.lower.text} to {tool.upper.text}"
    for side, beyond in (("below", at_drive < tool.lower.si * (1 - CLOSE)),
                         ("above", at_drive > tool.upper.si * (1 + CLOSE))):
        if beyond:
            problems.append(f"{shown} gives {show(at_drive, tool.unit)} at the drive, {side} {scale}")
    return _checked(tool, dialled, show(gauge.resolution, gauge.unit), pass_number, window, problems)


def _checked(
    tool: Tool, dialled: ToolSetting, step: str, pass_number: int, window: tuple[float, float], problems: list[str],
) -> Setting:
    """The setting with what stands against it; `step` the smallest one, as text."""
    lower, upper = window
    if not lower * (1 - CLOSE) <= dialled.torque <= upper * (1 + CLOSE):
        problems.append(f"steps of {step} are too coarse: {show(dialled.torque, 'N.m')} is the nearest torque, the "
                        f"window is {show(lower, 'N.m')} to {show(upper, 'N.m')}")
    return Setting(pass_number, tool.serial, dialled.value, dialled.unit, dialled.digits, dialled.words, dialled.chain,
                   dialled.hand_sensitivity, tuple(problems))


def largest_uncertainty(tools: Sequence[Tool]) -> float:
    """The largest expanded uncertainty (k = 2, share of the reading) among the tools; 0 when there is none."""
    return max((tool.uncertainty for tool in tools), default=0.0)
