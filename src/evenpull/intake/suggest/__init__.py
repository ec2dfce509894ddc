"""Suggesting how a file is to be read, from its own heading and cells. What they do not settle is asked, never chosen.

    suggest(name, data, known=Known(...)) -> Suggestion(text, questions, columns)

A person answers the questions; `suggest` with those answers gives the mapping, which goes through the preview like any
other before it is used.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from evenpull.intake.mapping import read_mapping
from evenpull.intake.record import IntakeError
from evenpull.intake.suggest.columns import make_columns
from evenpull.intake.suggest.grid import load
from evenpull.intake.suggest.heading import find_layout
from evenpull.intake.suggest.meanings import find_meanings, find_pass_words
from evenpull.intake.suggest.model import (
    LEAVE_OUT,
    Answers,
    Choice,
    ColumnGuess,
    Known,
    Question,
    Suggestion,
)
from evenpull.intake.suggest.moments import find_time
from evenpull.intake.suggest.pick import CONSTANT, Draft, assign, toml_text
from evenpull.intake.suggest.quantities import find_particulars, find_quantities
from evenpull.intake.suggest.roles import counter, joined, simple, whole_file
from evenpull.intake.suggest.write import write
from evenpull.plan.values import line_text

__all__ = ["CONSTANT", "LEAVE_OUT", "Choice", "ColumnGuess", "Known", "Question", "Suggestion", "renamed", "suggest"]

_NAME = re.compile(r"""^[ \t]*(name|"name"|'name')[ \t]*=.*$""", re.MULTILINE)
_TABLE = re.compile(r"^[ \t]*\[", re.MULTILINE)


def suggest(
    name: str, data: bytes, *, known: Known, answers: Mapping[str, str] | None = None, title: str = ""
) -> Suggestion:
    """A mapping for the file as far as the file settles it. `answers`: what a person said, by `Question.key`; `title`:
    the name of the mapping, made from that of the file when left out.

    Raises IntakeError when the file is no table with a heading, or beyond the limits of reading.
    """
    asked = Answers(dict(answers or {}))
    grid = load(name, data, asked)
    layout = find_layout(grid.rows, grid.complete, name)
    draft = Draft(make_columns(layout.names, layout.body), known, asked)
    draft.notes += grid.notes
    if not grid.complete:
        draft.notes.append(f"only the first {len(grid.rows)} rows were looked at")
    find_time(draft)
    file = dict(grid.settings) | find_quantities(draft)
    joined(draft)
    place = whole_file(draft, [cell for row in layout.banner for cell in row.cells])
    roles = [role for role in simple(draft) if role.field not in draft.uses]
    assign(draft, roles, place)
    assign(draft, [counter(draft)], {})
    find_pass_words(draft)
    find_meanings(draft)
    find_particulars(draft)
    called = _titled(title) if title else _title(f"suggested from {' '.join(name.split())[:150]}")
    text = write(draft, layout, file, called)
    found = Suggestion(text, tuple(asked.open), draft.guesses(), tuple(draft.notes), asked.not_taken())
    if not found.questions:
        read_mapping(text, "suggestion")  # a fault here is one of this program and has to be seen
    return found


def renamed(text: str, title: str) -> str:
    """The text of a mapping under another name; as it was for an empty one. IntakeError for one that cannot be."""
    if not title.strip():
        return text
    table = _TABLE.search(text)  # a name below the first table is that of a particular, not of the mapping
    head = text[: table.start()] if table else text
    named, found = _NAME.subn(lambda _: f"name = {toml_text(_titled(title))}", head, count=1)
    if not found:
        raise IntakeError("bad-name", "the text of the mapping", "no line name = ... stands above its first table; "
                          "write one. Nothing was written.")  # fmt: skip
    return named + text[len(head) :]


def _title(title: str) -> str:
    """The title as a mapping file can hold it."""
    try:
        return line_text(title)
    except ValueError:
        return "suggested"


def _titled(title: str) -> str:
    """A name that a person gave. IntakeError when it cannot stand in a mapping file."""
    try:
        return line_text(" ".join(title.split()))
    except ValueError as error:
        raise IntakeError("bad-name", "the name of the mapping", f"{error}; give it another") from error
