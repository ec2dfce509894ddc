"""The draft as a mapping file that a person can read: each line with how sure it is and why."""

from __future__ import annotations

from collections.abc import Mapping

from evenpull.intake.schema import MAPPING_FORM
from evenpull.intake.suggest.heading import Layout
from evenpull.intake.suggest.pick import Draft, Use, toml_text

_ORDER = (
    "joint", "fastener", "pass", "unit", "event", "tool", "counter", "epoch", "operator", "result", "direction",
    "end_cause",
)  # fmt: skip
_QUOTED = {"check_pass": '"check pass"', "touch_up": '"touch-up"', "re_tighten": '"re-tighten after service"',
           "residual_check": '"residual check"', "check_device_pull": '"check-device pull"',
           "stopped by user": '"stopped by user"'}


def write(draft: Draft, layout: Layout, file: Mapping[str, tuple[object, str]], name: str) -> str:
    """The text of the mapping."""
    lines = [f'form = "{MAPPING_FORM}"', f"name = {toml_text(name)}", ""]
    lines += ["# A suggestion from the file itself: sure, likely or guess stands beside each line, with the reason.",
              "# Look at the rows that it gives before it is used."]
    lines += [_comment(note) for note in draft.notes]
    lines += [_comment(f"OPEN {question.key}: {question.text}") for question in draft.answers.open]
    lines += ["", "[file]"]
    for key, (value, why) in file.items():
        lines.append(_line(key, toml_text(value) if isinstance(value, str) else str(value), why))
    if layout.header_rows != (1,):
        lines.append(_line("header_rows", str(list(layout.header_rows)), layout.why))
    if layout.first_row != layout.header_rows[-1] + 1:
        lines.append(_line("first_row", str(layout.first_row), ""))
    if layout.footer:
        lines.append(_line("stop_at", toml_text(layout.footer), layout.why_footer))
    elif layout.why_footer:
        lines.append(_comment(layout.why_footer))
    if "time.column" in draft.uses:
        lines += ["", "[time]", *_table(draft, "time", ("column", "time_column", "format", "zone"))]
    lines += ["", "[columns]", *_table(draft, "columns", _ORDER)]
    lines += ["", "[torque]", *_table(draft, "torque", ("column", "unit", "unit_column", "unit_in_cell", "negative"))]
    if "angle.column" in draft.uses:
        lines += ["", "[angle]", *_table(draft, "angle", ("column", "unit", "unit_column"))]
    for place, use in draft.uses.items():
        if place.startswith("particular."):
            lines += ["", "[[particular]]", _line("name", toml_text(place.removeprefix("particular.")), _why(use)),
                      use.value]
    meanings = [
        f"{kind}.{_QUOTED.get(ours, ours)} = [{', '.join(map(toml_text, words))}]"
        for kind, table in draft.words.items() for ours, words in table.items() if words
    ]
    if meanings:
        lines += ["", "[meaning]", *meanings]
    unused = [f"{guess.position} {guess.column or 'without a name'}: {guess.reason}" for guess in draft.guesses()
              if not guess.field]
    if unused:
        lines += ["", "# Columns that are not used; each row keeps all its cells anyhow:", *map(_comment, unused)]
    return "\n".join(lines) + "\n"


def _table(draft: Draft, table: str, keys: tuple[str, ...]) -> list[str]:
    return [_line(key, draft.uses[f"{table}.{key}"].value, _why(draft.uses[f"{table}.{key}"]))
            for key in keys if f"{table}.{key}" in draft.uses]


def _why(use: Use) -> str:
    return f"{use.sureness}: {use.reason}" if use.reason else use.sureness


def _line(key: str, value: str, why: str) -> str:
    return f"{key} = {value}" + (f"  {_comment(why)}" if why else "")


def _comment(text: str) -> str:
    """A comment of one line: TOML allows no control characters in it."""
    return "# " + "".join(c if c.isprintable() else " " for c in text)
