"""Filters of the pages of studies: tables with the name of the column beside each cell, answers as a class."""

from __future__ import annotations

from django import template

from evenpull.store.services.studying import StudyRow, person_words
from evenpull.study.result import Table

register = template.Library()

ANSWER_CLASS = {"shown": "accepted", "not so": "not-accepted", "not shown": "not-judged"}
STANDING_CLASS = {"counts": "", "ended": "held", "not yet": "out", "no result": "set-aside"}
STATE_CLASS = {"judged": "", "planned": "set-aside", "incomplete": "out", "cannot be judged": "not-judged"}
FINDING_CLASS = {"alarm": "not-accepted", "drift seen": "not-judged", "nothing seen": "ready", "too few": "set-aside"}


@register.filter
def cells(table: Table) -> list[list[tuple[str, str, bool]]]:
    """Rows of (name of the column, text, whether it is a number)."""
    return [[(table.columns[i], text, i in table.numbers) for i, text in enumerate(row)] for row in table.rows]


@register.filter
def answer_class(answer: str) -> str:
    return ANSWER_CLASS[answer]


@register.filter
def standing_class(state: str) -> str:
    return STANDING_CLASS[state]


@register.filter
def study_class(state: str) -> str:
    return STATE_CLASS[state]


@register.filter
def finding_class(finding: str) -> str:
    return FINDING_CLASS[finding]


@register.filter
def of_person(row: StudyRow, name: str) -> tuple[str, str]:
    """(worst answer, words) of one person in a study."""
    return person_words(row, name)


@register.filter
def unit(text: str) -> str:
    """A unit as it is printed."""
    return text.replace(".", "·")
