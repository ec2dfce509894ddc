"""Plans built by hand, so that the card is tested apart from the reading and computing of a plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

from evenpull.joint.target import Target
from evenpull.joint.traced import Band
from evenpull.plan.model import (
    ClampedPart,
    Fasteners,
    Friction,
    Pass,
    Plan,
    Problem,
    Procedure,
    Pull,
    Setting,
    SourceDocument,
    Specification,
    TargetWish,
    Tool,
)
from evenpull.quantities.measured import Measured

ISSUED = datetime(2026, 9, 14, 6, 30, tzinfo=UTC)
UNTIL = datetime(2026, 9, 16, 6, 30, tzinfo=UTC)
WORDS = {
    "105": "one hundred and five",
    "245": "two hundred and forty-five",
    "350": "three hundred and fifty",
    "98": "ninety-eight",
    "228": "two hundred and twenty-eight",
    "326": "three hundred and twenty-six",
    "77.4": "seventy-seven point four",
    "180.7": "one hundred and eighty point seven",
    "258.1": "two hundred and fifty-eight point one",
}
UNIT_WORDS = {"N.m": "newton metres", "lbf.ft": "pound-force feet"}


def nm(value: float) -> Measured:
    return Measured(value, value, "N.m", f"{value:g} N.m", "torque")


def mm(value: float) -> Measured:
    return Measured(value / 1000, value, "mm", f"{value:g} mm", "length")


def degrees(value: float) -> Measured:
    return Measured(value * 3.141592653589793 / 180, value, "deg", f"{value:g} deg", "angle")


def tool(serial: str, unit: str = "N.m", resolution: float = 1.0, **changes: Any) -> Tool:
    made = Tool(
        serial,
        "torque wrench 40 to 400",
        "setting",
        unit,
        nm(40),
        nm(400),
        Measured(resolution, resolution, unit, f"{resolution} {unit}", "torque"),
        0.028,
        "KNC-26-0311",
        date(2026, 2, 10),
        date(2027, 2, 9),
        mm(520),
        "",
        None,
        None,
        1.0,
    )
    return replace(made, **changes)


def star(count: int) -> tuple[tuple[int, ...], ...]:
    """Opposite pairs, then the quarter points, halving the gaps: good enough to draw; the real one is in the plan."""
    half = (count + 1) // 2
    width = max(1, (half - 1).bit_length())
    starts = sorted(range(1 << width), key=lambda i: int(f"{i:0{width}b}"[::-1], 2))
    sequence: list[int] = []
    for start in (s + 1 for s in starts if s < half):
        sequence.append(start)
        if start + half <= count:
            sequence.append(start + half)
    return tuple((f,) for f in sequence)


def digits_of(torque: float, tool: Tool) -> str:
    return f"{torque / 1.3558179483:.1f}" if tool.unit == "lbf.ft" else f"{torque:.0f}"


def plan(
    count: int = 16,
    *,
    kind: str = "gasketed flange",
    tools: tuple[Tool, ...] = (tool("TW-0207"), tool("TW-0219")),
    percents: tuple[float, ...] = (30, 70, 100),
    grid: tuple[int, int] | None = None,
    problems: tuple[Problem, ...] = (),
    method: str = "torque",
    unfit: dict[tuple[int, str], str] | None = None,
    **changes: Any,
) -> Plan:
    """`changes` go into the specification; `unfit` maps (pass, tool) to a problem of that setting."""
    fasteners = Fasteners(
        count,
        "M24",
        "8.8",
        mm(110),
        "hexagon",
        "nut",
        "8",
        "",
        None,
        True,
        True,
        "medium",
        "nut",
        "new",
        "KL-7731",
        None if grid else mm(410),
        grid,
    )
    wish = TargetWish(
        "torque and angle" if method == "torque and angle" else "torque",
        "friction",
        nm(350),
        None,
        None,
        0.05,
        None,
        0.9,
        None,
        degrees(60) if method == "torque and angle" else None,
        (degrees(45), degrees(75)) if method == "torque and angle" else None,
    )
    procedure = Procedure("star", percents, 1, "circular", 1, (), (), degrees(5), True, False)
    spec = Specification(
        "KN-CW-014",
        "Pump discharge flange",
        "Kestrel Narrows / unit 2 / cooling water / gallery 3",
        kind,
        "B",
        "the pump, looking downstream",
        "at 12 o'clock, next to the keyway",
        "clockwise",
        SourceDocument("KN-SPEC-0114", "C", "table 4, line 14", "M. Okonjo-Reyes", date(2026, 9, 1)),
        fasteners,
        (ClampedPart("flange", "steel", mm(30)),),
        Friction(
            "molybdenum disulfide paste",
            Band(0.1, 0.12, 0.14),
            Band(0.1, 0.12, 0.14),
            Band(0.13, 0.16, 0.19),
            False,
            "catalogue",
        ),
        wish,
        procedure,
        tuple(t.serial for t in tools),
        (),
        None,
        "",
        "id = 'KN-CW-014'",
        "joint.toml",
    )
    spec = replace(spec, **changes)
    passes: list[Pass] = []
    for number, percent in enumerate((*percents, 100.0), start=1):
        check = number > len(percents)
        torque = 350 * percent / 100
        settings = tuple(
            Setting(
                number,
                t.serial,
                float(digits_of(torque, t)),
                t.unit,
                digits_of(torque, t),
                f"{WORDS.get(digits_of(torque, t), 'number ' + digits_of(torque, t))} {UNIT_WORDS[t.unit]}",
                (),
                0.0,
                ((unfit or {})[number, t.serial],) if (number, t.serial) in (unfit or {}) else (),
            )
            for t in tools
        )
        order = tuple((f,) for f in range(1, count + 1)) if check else star(count)
        name = "check pass" if check else f"pass {number} of {len(percents)} ({percent:g} %)"
        passes.append(Pass(number, name, percent, check, torque, 0.95 * torque, 1.05 * torque, order, settings))
    pulls: list[Pull] = []
    for p in passes:
        pulls.extend(Pull(len(pulls) + 1, p.number, group, p.torque) for group in p.order)
    share = Band(0.5, 0.6, 0.7)
    target = Target(350, Band(330, 350, 370), Band(90e3, 110e3, 130e3), share, share, (), ())
    return Plan(spec, target, tuple(passes), tuple(pulls), tools, problems)
