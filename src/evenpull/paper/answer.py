"""What a person keys for a box, brought into one form so that two people can be compared."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Literal

from evenpull.intake.sources import tidy
from evenpull.paper.page import Box

State = Literal["written", "ticked", "empty", "cannot read"]
STATES: tuple[State, ...] = ("written", "ticked", "empty", "cannot read")
LONGEST = 80
_NUMBER = re.compile(r"([0-9]{1,9})(?:[.,]([0-9]{1,6}))?", re.ASCII)
_TIME = re.compile(r"([01]?[0-9]|2[0-3])[:.]?([0-5][0-9])", re.ASCII)


class AnswerError(ValueError):
    """`box` names the box; nothing was kept."""

    def __init__(self, box: str, reason: str) -> None:
        self.box, self.reason = box, reason
        super().__init__(f"{box}: {reason}")


@dataclass(frozen=True, slots=True)
class Answer:
    state: State
    text: str = ""

    @property
    def words(self) -> str:
        return self.text if self.state == "written" else self.state


def answer_of(box: Box, state: str, text: str) -> Answer:
    """The answer in its one form: numbers with a decimal point and the decimals of the box, times HH:MM. Raises
    AnswerError with the way out for what the box cannot hold."""
    if state not in STATES:
        raise AnswerError(box.name, f"{state[:40]!r} is no answer; there are: {', '.join(STATES)}")
    text = tidy(text)
    if state != "written":
        if text:
            raise AnswerError(box.name, f"{state}, and {text[:40]!r} is written: choose one of the two")
        if state == "ticked" and box.kind != "tick":
            raise AnswerError(box.name, "this is no box for a tick; key what is written, or say empty")
        return Answer(state)
    if not text:
        raise AnswerError(box.name, "nothing was keyed; say empty, or cannot read")
    if len(text) > LONGEST or not text.isprintable():
        raise AnswerError(box.name, f"at most {LONGEST} characters that can be printed")
    if box.kind == "tick":
        raise AnswerError(box.name, "a box for a tick: say ticked, empty or cannot read")
    return Answer("written", _in_one_form(box, text))


def _in_one_form(box: Box, text: str) -> str:
    if box.kind == "number":
        found = _NUMBER.fullmatch(text)
        if found is None:
            raise AnswerError(box.name, f"{text[:40]!r} is no number; digits with a decimal point, no unit")
        whole, decimals = found[1].lstrip("0") or "0", found[2] or ""
        # Further decimals are kept as they are: what does not fit the box is for the checks to say.
        return whole + (f".{decimals.ljust(box.decimals, '0')}" if decimals or box.decimals else "")
    if box.kind == "date":
        try:
            return date.fromisoformat(text).isoformat() if len(text) == 10 else _no_date(box, text)
        except ValueError:
            return _no_date(box, text)
    if box.kind == "time":
        clock = _TIME.fullmatch(text)
        if clock is None:
            raise AnswerError(box.name, f"{text[:40]!r} is no time of day; HH:MM, 24 hours, or cannot read")
        return f"{int(clock[1]):02}:{clock[2]}"
    return text


def _no_date(box: Box, text: str) -> str:
    raise AnswerError(box.name, f"{text[:40]!r} is no day; YYYY-MM-DD, or cannot read")


def same(one: Answer, other: Answer) -> bool:
    """Whether two people keyed the same: words without regard to capitals. Two who cannot read agree on nothing."""
    if "cannot read" in (one.state, other.state):
        return False
    return one.state == other.state and one.text.casefold() == other.text.casefold()
