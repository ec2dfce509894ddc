"""Torque, angle and the quantities beside them: which is what was reached, in which unit, with which decimal sign."""

from __future__ import annotations

from statistics import median

from evenpull.intake.fields import FIELDS
from evenpull.intake.numbers import part_unit
from evenpull.intake.suggest.columns import Column, unit_of
from evenpull.intake.suggest.decimals import signs
from evenpull.intake.suggest.model import LEAVE_OUT, Choice, Question, Sureness
from evenpull.intake.suggest.pick import Draft, Use, sample, toml_text, word
from evenpull.intake.suggest.words import evidence, modifiers, particular
from evenpull.quantities import to_si

NUMERIC = 0.85
LEAST_TORQUE, MOST_TORQUE = 0.02, 500_000.0  # N.m; beyond, the unit is asked (common practice, no source)
FEW_SETTINGS = 0.1  # different values per row from which a torque looks like what was set, not what was reached
MOST_SETTINGS = 20  # more different values than anybody sets a tool to in one list
UNITS = ("N.m", "lbf.ft", "lbf.in", "kgf.m", "kN.m")
_TORQUES = {"target": "target", "lower": "lower", "upper": "upper", "drag": "drag", "threshold": "threshold_torque",
            "peak": "peak_torque"}
_ANGLES = {"target": "angle_target", "lower": "angle_lower", "upper": "angle_upper", "total": "total_angle"}
_ACTUAL = {
    "actual", "ist", "istwert", "final", "reel", "mesure", "real", "medido", "effettivo", "misurato", "werkelijk",
    "gemeten", "faktisk", "malt", "uppmatt", "reached", "measured", "erreicht", "atteint",
}


def find_quantities(draft: Draft) -> dict[str, tuple[object, str]]:
    """Adds [torque], [angle] and quantities among the particulars; gives the keys of [file] on decimal signs."""
    torques = [c for c in draft.free() if _is_torque(c)]
    angles = [c for c in draft.free() if c not in torques and _is_angle(c)]
    unit_columns = [c for c in draft.free() if c.units("torque") >= 0.9]
    angle_units = [c for c in draft.free() if c.units("angle") >= 0.9]
    torque = _main(draft, torques, "torque", "the torque that was reached", needed=True)
    if torque is not None:
        _torque_unit(draft, torque, unit_columns, torques)
    angle = _main(draft, angles, "angle", "the angle that was turned", needed=False)
    if angle is not None:
        _angle_unit(draft, angle, angle_units)
    read = [c for c in (torque, angle) if c is not None]
    read += _beside(draft, [c for c in torques if c is not torque], _TORQUES, "torque")
    read += _beside(draft, [c for c in angles if c is not angle], _ANGLES, "angle")
    for column in draft.free():
        if unit_columns and column in unit_columns:
            draft.mark(column, "", "likely", "units; the unit is known from elsewhere")
    return _signs(draft, read)


def _number_like(column: Column) -> bool:
    return column.numeric >= NUMERIC or bool(column.with_unit)


def _is_torque(column: Column) -> bool:
    if not _number_like(column) or column.unit.kind == "angle" or "tolerance" in modifiers(column.whole_heading):
        return False
    if column.with_unit or column.unit.kind == "torque":
        return True
    if evidence("angle", column.heading) >= 2:
        return False
    return word("torque", column) >= 2 or ("torque" in column.whole_heading.split())


def _is_angle(column: Column) -> bool:
    if not _number_like(column) or "tolerance" in modifiers(column.whole_heading):
        return False
    return word("angle", column) >= 2 or (column.unit.kind == "angle")


def _plain(column: Column) -> bool:
    return not modifiers(column.whole_heading)


def _main(draft: Draft, found: list[Column], kind: str, what: str, *, needed: bool) -> Column | None:
    key = f"{kind}.column"
    given = draft.answers.given.get(key)
    if given == LEAVE_OUT and not needed:
        return None
    column = next((c for c in draft.free() if c.name == given), None)
    if column is not None:
        draft.use(Use(key, toml_text(column.name), "sure", "answered", column))
        return column
    draft.answers.given.pop(key, None)
    plain = [c for c in found if _plain(c)]
    if len(plain) > 1:
        said = [c for c in plain if _ACTUAL & set(c.whole_heading.split())]
        plain = said if len(said) == 1 else plain
    if len(plain) == 1:
        column = plain[0]
        doubt = _set_not_reached(column) if kind == "torque" else ""
        if not doubt:
            strong = word(kind, column) >= 2 and column.unit.kind in (None, kind)
            rivals = [c for c in found if c is not column and _plain(c)]
            sureness: Sureness = "sure" if strong and not rivals else "likely"
            why = "the heading says so, and its cells are numbers" if strong else f"its unit is one of {kind}"
            draft.use(Use(key, toml_text(column.name), sureness, why, column))
            return column
        text = f"{column.name} holds {doubt}. Is it {what}, or what the tool was set to?"
        draft.answers.ask(Question(key, text, (Choice(column.name, f"{column.name} is {what}"),)))
        draft.mark(column, key, "ask", doubt)
        return None
    choices = plain or found or [c for c in draft.free() if _number_like(c)][:12]
    if not choices or (not found and not needed):
        if needed:
            draft.answers.ask(Question(key, f"No column looks like {what}. Which one is it?"))
        return None
    offered = [Choice(c.name, f"{c.name}: {sample(c)}") for c in choices]
    if not needed:
        offered.append(Choice(LEAVE_OUT, "none of them; leave it out"))
    draft.answers.ask(Question(key, f"Which column holds {what}?", tuple(offered)))
    for c in choices:
        draft.mark(c, key, "ask", f"{len(choices)} columns could be {what}")
    return None


def _set_not_reached(column: Column) -> str:
    numbers = column.rough()
    few = len(set(numbers))
    if len(numbers) >= 12 and few <= max(3, min(FEW_SETTINGS * len(numbers), MOST_SETTINGS)):
        return f"only {few} different values in {len(numbers)} rows"
    return ""


def _torque_unit(draft: Draft, torque: Column, columns: list[Column], torques: list[Column]) -> None:
    header = torque.unit.unit if torque.unit.kind == "torque" else ""
    if torque.with_unit:
        draft.use(Use("torque.unit_in_cell", "true", "sure", "the unit stands behind the number"))
        return
    given = draft.answers.given.get("torque.unit", "")
    named = next((c for c in columns if c.name == given.removeprefix("column=")), None)
    if given.startswith("column=") and named is not None:
        draft.use(Use("torque.unit_column", toml_text(named.name), "sure", "answered", named))
        return
    if unit_of(given, "torque"):
        draft.use(Use("torque.unit", toml_text(unit_of(given, "torque")), "sure", "answered"))
        return
    draft.answers.given.pop("torque.unit", None)
    same = [c for c in columns if header and all(unit_of(text, "torque") == header for text in c.counts)]
    if header and len(same) == len(columns) and _sane(torque, header):
        draft.use(Use("torque.unit", toml_text(header), "sure", "it stands in the heading"))
        return
    if not header:
        near = [c for c in columns if c.position == torque.position + 1] or columns
        if len(near) == 1:
            alone = len(torques) == 1 or near[0].position == torque.position + 1
            draft.use(Use("torque.unit_column", toml_text(near[0].name), "sure" if alone else "likely",
                          "its cells are units of torque", near[0]))
            return
    choices = [Choice(unit, unit) for unit in dict.fromkeys((*([header] if header else []), *UNITS))]
    choices += [Choice(f"column={c.name}", f"as the column {c.name} says: {sample(c)}") for c in columns]
    draft.answers.ask(Question("torque.unit", f"In which unit is the torque in {torque.name!r} ({sample(torque)})?",
                               tuple(choices)))


def _sane(torque: Column, unit: str) -> bool:
    numbers = [abs(number) for number in torque.rough() if number]
    return bool(numbers) and LEAST_TORQUE <= to_si(median(numbers), unit, "torque") <= MOST_TORQUE


def _angle_unit(draft: Draft, angle: Column, columns: list[Column]) -> None:
    if angle.unit.kind == "angle":
        draft.use(Use("angle.unit", toml_text(angle.unit.unit), "sure", "it stands in the heading"))
        return
    if len(columns) == 1:
        draft.use(Use("angle.unit_column", toml_text(columns[0].name), "likely", "its cells are units of angle",
                      columns[0]))
        return
    answer = draft.answers.ask(Question(
        "angle.unit", f"In which unit is the angle in {angle.name!r} ({sample(angle)})?",
        (Choice("deg", "degrees"), Choice("turn", "whole turns"), Choice("rad", "radians"),
         Choice(LEAVE_OUT, "leave the angle out")),
    ))
    if answer == LEAVE_OUT or answer is None:
        draft.uses.pop("angle.column", None)
    else:
        draft.use(Use("angle.unit", toml_text(answer), "sure", "answered"))


def _beside(draft: Draft, found: list[Column], fields: dict[str, str], kind: str) -> list[Column]:
    """Targets, limits, drag and so on: taken where one word says so and the unit stands in the heading or the cell."""
    used: list[Column] = []
    free = draft.free()
    for column in found:
        says = modifiers(column.whole_heading) & fields.keys()
        name = fields[next(iter(says))] if len(says) == 1 else ""
        if column not in free or not name or f"particular.{name}" in draft.uses:
            continue
        few = len(column.counts) <= max(3, 0.2 * len(column.filled))
        if name in ("lower", "upper", "angle_lower", "angle_upper") and not few:
            draft.mark(column, "", "guess", "it changes from row to row: no limit; what it is the heading does not say")
            continue
        unit = column.unit.unit if column.unit.kind == kind else ""
        if not unit and not column.with_unit:
            draft.mark(column, "", "guess", f"it looks like {FIELDS[name].meaning}, but its unit is not stated")
            continue
        value = {"column": column.name} | ({"unit": unit} if unit else {})
        draft.use(Use(f"particular.{name}", "\n".join(f"{k} = {toml_text(v)}" for k, v in value.items()), "likely",
                      "the heading says so", column))
        used.append(column)
    return used


def find_particulars(draft: Draft) -> None:
    """Further fields whose heading is plain: texts as they stand, quantities where the unit is stated."""
    for column in draft.free():
        name = particular(column.heading) or particular(column.whole_heading)
        if not name or not column.filled or f"particular.{name}" in draft.uses:
            continue
        quantity = FIELDS[name].quantity
        value = f"column = {toml_text(column.name)}"
        if quantity is not None:
            good = sum(bool(unit_of(part_unit(text)[1], quantity)) for text in column.filled[:500])
            if good < 0.9 * len(column.filled[:500]):
                draft.mark(column, "", "guess", f"it looks like {FIELDS[name].meaning}, but the cell states no unit")
                continue
        draft.use(Use(f"particular.{name}", value, "likely", "the heading says so", column))


def _signs(draft: Draft, read: list[Column]) -> dict[str, tuple[object, str]]:
    texts = [part_unit(text)[0] if column.with_unit else text
             for column in read for text, value in zip(column.texts, column.values, strict=True)
             if text and not isinstance(value, int | float)]
    found = signs(texts)
    form, why = found.forms[0], found.why
    if len(found.forms) > 1:
        names = {f"{point} {group or 'none'}": (point, group) for point, group in found.forms}
        example = next((text for text in texts if any(mark in text for mark in ".,'")), "")
        answer = draft.answers.ask(Question(
            "file.decimal", f"Numbers such as {example[:30]!r} can be read in several ways, and none settles it. "
            "Which is the decimal sign?",
            tuple(Choice(key, f"decimal sign {p!r}, thousands {g!r}" if g else f"decimal sign {p!r}, no thousands")
                  for key, (p, g) in names.items()),
        ))
        form, why = names.get(answer or "", form), "answered" if answer else "open: see question"
    settings: dict[str, tuple[object, str]] = {"decimal": (form[0], why)}
    if form[1] is not None:
        settings["thousands"] = (form[1], "")
    return settings
