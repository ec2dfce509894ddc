"""What a card says, as plain data for the template: built from a plan, nothing computed anew."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from evenpull.card.check_grid import grid_content
from evenpull.card.corner_marks import HOLE_RADIUS, MARK_EDGE, MARK_HOLES, MARK_SIZE
from evenpull.card.layout import layout
from evenpull.card.own_settings import HOW, dialled, for_the_pass, in_row, row_widths
from evenpull.card.paper import (
    COLUMN_GAP,
    GAP,
    Paper,
    SheetPlan,
    column_widths,
    plan_sheets,
    setting_height,
)
from evenpull.card.pressure import CAUTION_HEIGHT, pressure_caution
from evenpull.card.print_map import print_map
from evenpull.card.serial import joint_check_character
from evenpull.card.texts import printed
from evenpull.card.tool_choice import CardRefused, ToolChoice, attached
from evenpull.catalogue.cautions import Caution, caution, cautions_for
from evenpull.joint.target import NO_LOAD
from evenpull.plan.model import Pass, Plan, Setting, Specification, Tool

CORRECTION_RULE = (
    "Wrong entry: one line through it, right value beside it, initials, date, time, reason. No correction fluid."
)
CLASS_MEANING = {
    "A": "Class A: failure is a danger to life, limb or environment",
    "B": "Class B: failure stops the function",
    "C": "Class C: neither danger nor loss of function",
}
DECIDES = (
    "Stop, leave all as it is, write why (section 8), call the person in charge of this work: that person decides. "
    "Permits, site rules and the law go before this card."
)
MAP_SMALL, MAP_MIDDLE, MAP_LARGE = 90.0, 112.0, 165.0
HAND_MATTERS = 0.005  # change of torque for 10 mm of hand from which the card says so


def unit_shown(unit: str) -> str:
    return unit.replace(".", "·")


def time_shown(moment: datetime) -> str:
    offset = moment.strftime("%z")
    zone = "UTC" if offset in ("+0000", "-0000") else f"UTC{offset[:3]}:{offset[3:5]}"
    return f"{moment:%Y-%m-%d %H:%M} {zone}"


def card_content(
    plan: Plan,
    choice: ToolChoice,
    on: Paper,
    *,
    serial: str,
    issued_at: datetime,
    valid_until: datetime,
    stops: Sequence[str],
    draft: bool,
) -> dict[str, Any]:
    """All the printed data of one card but its fingerprint and codes; texts made safe with `printed`."""
    spec = plan.spec
    return {
        "title": f"Job card {printed(serial)}: {printed(spec.name)}",
        "serial": printed(serial),
        "date": {"year": issued_at.year, "month": issued_at.month, "day": issued_at.day},
        "valid_until": time_shown(valid_until),
        "draft": draft,
        "stops": [printed(reason) for reason in stops],
        "paper": {
            "width": on.width,
            "height": on.height,
            "side": on.side,
            "top": on.top,
            "bottom": on.bottom,
            "code": on.code,
            "version": on.version,
            "cell": on.cell,
            "box": on.box,
            "head_code": on.head_code,
            "foot_code": on.foot_code,
            "mark": MARK_SIZE,
            "mark_edge": MARK_EDGE,
            "mark_holes": [[list(hole) for hole in holes] for holes in MARK_HOLES],
            "hole_radius": HOLE_RADIUS,
        },
        "column_gap": COLUMN_GAP,
        "joint": {
            "id": printed(spec.id),
            "check": _check_character(spec.id),
            "name": printed(spec.name),
            "place": printed(spec.place),
            "class": CLASS_MEANING[spec.joint_class],
        },
        "source": {"short": printed(f"{spec.source.document} rev. {spec.source.revision}")},
        "facts": [[name, printed(text)] for name, text in _facts(spec, issued_at)],
        "series": f"{printed(spec.series.unit_name)}: write its number as it stands on the part"
        if spec.series
        else None,
        "proven_label": "No pressure, no stored energy: proven by (name)",
        "decides": DECIDES,
        "stop_rules": [printed(rule) for rule in stop_rules(plan)],
        "cautions": [
            {
                "title": printed(c.task),
                "hazard": printed(c.hazard),
                "stop": printed(c.stop),
                "decides": printed(c.who_decides),
            }
            for c in _cautions(plan, choice)
        ],
        "map": _front_map(plan, on),
        "tool_rows": max(2, len(choice.tools)) if len(choice.tools) < 4 else len(choice.tools),
        "tools_note": printed(_tools_note(choice)),
        "conditions": [
            "lubricant and its lot",
            "fastener lots",
            "gasket or parts, lot",
            "weather, temperature, clean?",
            "clock used for all times",
            "watch minus that clock, min",
        ],
        "passes": [_pass(plan, one, choice, on) for one in plan.passes],
        "check_grid": grid_content(plan, on),
        "summed": max(one.number for one in plan.passes if not one.check),
        "correction_rule": CORRECTION_RULE,
    }


def _check_character(joint: str) -> str:
    return joint_check_character(joint) if re.fullmatch(r"[A-Za-z0-9._-]+", joint) else "none"


def _facts(spec: Specification, issued_at: datetime) -> list[tuple[str, str]]:
    f = spec.fasteners
    held = f"nut, class {f.nut_class}" if f.counterpart == "nut" else f"tapped hole in {f.tapped_material}"
    if f.engagement is not None:
        held += f", thread engagement {f.engagement}"
    held += f"; washers: {f.washers}"
    facts = [
        ("Fasteners", f"{f.count} × {f.size}, length {f.length}, head {f.head}, condition {f.condition}"
         if not f.thread_stated else f"{f.count} × {f.size}, {f.length}, {f.head}, {f.condition}"),
        ("Into", held + (f"; lot {f.lot}" if f.lot else "") + f"; turn the {f.turned}"),
        ("Lubricant", spec.friction.lubricant or "none stated"),
        *([] if f.thread_stated else [("Load", NO_LOAD)]),
        (
            "Specification",
            f"{spec.source.document} revision {spec.source.revision}, {spec.source.place}; approved by "
            f"{spec.source.approved_by}, in force from {spec.source.in_force_from.isoformat()}",
        ),
        ("Printed", time_shown(issued_at)),
    ]
    if spec.notes:
        facts.append(("Note", spec.notes))
    return facts


def stop_rules(plan: Plan) -> tuple[str, ...]:
    """When to stop; common practice, no source. The person in charge decides how to go on."""
    limit = plan.spec.procedure.movement_limit
    rules = [
        "The joint, its tag or its number of fasteners is not as on this card, or the tag cannot be read.",
        "Pressure, heat, flow, movement or voltage is not proven away, or comes back.",
        "A fastener, nut, washer or lubricant is not the one named above, or is damaged or missing.",
        "A fastener seizes, strips, keeps turning, breaks, or is tight at once where it should turn.",
        "The tool was dropped, is not on this card, or its certificate is out of date.",
        "You are no longer sure which fasteners are done in this pass.",
        "The card is older than its “valid until”, or a page is missing.",
    ]
    if any(one.check for one in plan.passes):
        how_far = f"more than {limit}" if limit is not None else "at all"
        rules.append(f"On the check pass a fastener moves {how_far}: another check pass is needed on a new card.")
    return tuple(rules)


def _cautions(plan: Plan, choice: ToolChoice) -> list[Caution]:
    spec = plan.spec
    found = {
        c.key: c
        for c in cautions_for(
            spec.kind,
            {t.kind for t in choice.tools},
            spec.fasteners.strength_class,
            spec.fasteners.tapped_material,
            "work",
        )
    }
    for key in spec.cautions:
        found.setdefault(key, caution(key))
    return list(found.values())


def _tools_note(choice: ToolChoice) -> str:
    note = (
        f"Tools for this card: {', '.join(t.serial for t in choice.tools)}. Values are written in "
        f"{unit_shown(choice.unit)}."
    )
    if choice.left_out:
        note += " Not with this card: " + "; ".join(f"{tool}: {reason}" for tool, reason in choice.left_out) + "."
    return note


def _front_map(plan: Plan, on: Paper) -> dict[str, Any]:
    spec = plan.spec
    first = plan.passes[0]
    places = layout(spec)
    small = spec.fasteners.count <= 20
    warned = pressure_caution(spec)
    size = (
        40.0
        if spec.fasteners.count == 1
        else MAP_SMALL
        if spec.fasteners.count <= 12
        else MAP_MIDDLE
        if small
        else min(MAP_LARGE, on.room[1] - 55 - (CAUTION_HEIGHT if warned else 0))
    )
    drawn = print_map(plan, first.order, on.room[0], size)
    legend = ["Black triangle: the first fastener. "] if spec.fasteners.count > 1 else []
    if not drawn.every_number:
        legend.append("Not each number fits the drawing: count on from the nearest number. ")
    if drawn.order_on_map:
        legend.append(
            "Number with a point: place in the order of the torque passes. The check pass has its own order."
            if any(p.check and p.order != first.order for p in plan.passes)
            else "Number with a point: place in the order of pulling."
        )
    else:
        legend.append("The order of pulling stands on the sheet of each pass.")
    legend.append(" Not to scale.")
    counted = f"{spec.numbering}, from 1 to {spec.fasteners.count}"
    if places.shape == "grid":
        side = "left to right" if spec.numbering == "clockwise" else "right to left"
        counted = f"row by row, {side}, from the top, 1 to {spec.fasteners.count}"
    return {
        # Texts of usual length stay on one page with the map; very long ones may run over.
        "together": len(spec.viewed_from) + len(spec.first_fastener) < 300,
        "svg": drawn.svg,
        "width": on.room[0],
        "legend": "".join(legend),
        "alt": map_alt(plan, first),
        "facts": [
            ["Seen from", printed(spec.viewed_from)],
            ["Count", counted],
            ["Fastener 1 is", printed(spec.first_fastener)],
            ["Order", printed("; ".join(_order_words(plan)))],
        ],
        **({"caution": [printed(part) for part in warned]} if warned else {}),
    }


def _order_words(plan: Plan) -> list[str]:
    p = plan.spec.procedure
    words = [f"{p.order}: " + _sequence(plan.passes[0])]
    if any(one.check for one in plan.passes):
        words.append(f"check pass {p.check_order}")
    return words


def _sequence(one: Pass, most: int = 6) -> str:
    groups = ["+".join(str(f) for f in group) for group in one.order[:most]]
    return ", ".join(groups) + (", …" if len(one.order) > most else "")


def map_alt(plan: Plan, one: Pass) -> str:
    spec = plan.spec
    return printed(
        f"Map of {spec.fasteners.count} fasteners seen from {spec.viewed_from}; fastener 1 {spec.first_fastener}; "
        f"numbered {spec.numbering}; {one.name} in the order {_sequence(one, 200)}"
    )


def _pass(plan: Plan, one: Pass, choice: ToolChoice, on: Paper) -> dict[str, Any]:
    last_torque_pass = max(p.number for p in plan.passes if not p.check) if not one.check else -1
    angle = plan.spec.target.method == "torque and angle" and one.number == last_torque_pass
    own: tuple[float, ...] = ()
    if one.own:
        settings = [for_the_pass(one, tool) for tool in choice.tools]
        own = row_widths(max(len(digits) for digits in dialled(plan, choice.tools[0])))
    else:
        settings = [next(s for s in one.settings if s.tool == tool.serial) for tool in choice.tools]
    widths = column_widths(one, choice.whole_digits, choice.decimals, on, angle=angle, own=own)
    how = printed(_how(plan, one, angle=angle))
    lines = [_setting_line(tool, setting) for tool, setting in zip(choice.tools, settings, strict=True)]
    try:
        sheets = plan_sheets(one, widths, sum(line["height"] for line in lines), how, on)
    except ValueError as error:
        raise CardRefused(plan.spec.id, [str(error)]) from error
    return {
        "number": one.number,
        "title": _pass_title(plan, one),
        "how": how,
        "check": one.check,
        "tool_label": "tool serials: write all" if any(len(g) > 1 for g in one.order) else "tool serial: write it",
        "angle": angle,
        "unit": unit_shown(choice.unit),
        "whole": choice.whole_digits,
        "decimals": choice.decimals,
        "widths": list(widths),
        "gap": GAP,
        "count": sum(len(group) for group in one.order),
        "settings": lines,
        "sheets": [_sheet(plan, one, sheet, choice) for sheet in sheets],
        **({"own": True} if one.own else {}),
    }


def _setting_line(tool: Tool, setting: Setting) -> dict[str, Any]:
    """One tool on one pass. The setting holds for this adapter and multiplier only, so they stand beside it."""
    words = setting.words
    if setting.hand_sensitivity >= HAND_MATTERS:
        words += f"; hand at the mark: 10 mm off is {100 * setting.hand_sensitivity:.2g} % off"
    problem = "; ".join(setting.problems)
    with_it = attached(tool)
    chain = printed(with_it, 9) if with_it else "no adapter"
    return {
        "tool": printed(tool.serial, 9),
        "chain": chain,
        "digits": setting.digits,
        "unit": unit_shown(setting.unit),
        "words": printed(words),
        "problem": printed(problem),
        "height": setting_height(tool.serial, chain, words, problem),
    }


def _pass_title(plan: Plan, one: Pass) -> str:
    torque_passes = sum(not p.check for p in plan.passes)
    if one.check:
        checks = [p.number for p in plan.passes if p.check]
        return "CHECK PASS" + (f" {checks.index(one.number) + 1} of {len(checks)}" if len(checks) > 1 else "")
    return f"PASS {one.number} of {torque_passes}: {one.stage}"


def _how(plan: Plan, one: Pass, *, angle: bool) -> str:
    spec = plan.spec
    how = ["Pull in the order of the rows, down each column. Tick and write after each pull, not later."]
    if one.own:
        how.append(HOW)
    if any(len(group) > 1 for group in one.order):
        how.append("Rows of the same order number: pull together.")
    if angle and spec.target.angle is not None:
        window = spec.target.angle_window
        limits = f" (accepted {window[0]} to {window[1]})" if window else ""
        how.append(f"At the setting, turn on by {spec.target.angle}{limits}; write the angle.")
    if one.check:
        limit = spec.procedure.movement_limit
        how.append(
            "Tick “moved?” if the fastener turns before the setting is reached"
            + (f"; more than {limit}: stop and ask." if limit is not None else ", then stop and ask.")
        )
    elif spec.procedure.strict_passes:
        how.append("Finish all before you turn to the next pass.")
    how.append("A fastener not pulled: one line through its row; why: section 8.")
    return " ".join(how)


def _sheet(plan: Plan, one: Pass, sheet: SheetPlan, choice: ToolChoice) -> dict[str, Any]:
    drawing = None
    if sheet.map_room is not None and plan.spec.fasteners.count > 1:
        width, height, beside = sheet.map_room
        drawing = {
            "svg": print_map(plan, one.order, width, height).svg,
            "width": width,
            "beside": beside,
            "alt": map_alt(plan, one),
        }
    return {
        "columns": [
            [
                {"order": r.order, "fastener": r.fastener, "gap": r.gap}
                | (in_row(one, r.fastener, choice.tools[0]) if one.own else {})
                for r in column
            ]
            for column in sheet.columns
        ],
        "row": round(sheet.row, 2),
        "count": sum(len(column) for column in sheet.columns),
        "map": drawing,
    }
