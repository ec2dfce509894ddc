"""What a suggestion is made of: what is known beforehand, a reason for each column, and what a person must answer."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Sureness = Literal["sure", "likely", "guess", "ask"]
LEAVE_OUT = "leave out"


@dataclass(frozen=True)
class Known:
    """What the dossier knows. `zone` is the zone of the site's clocks, "" when nobody has said; `zones` those of other
    sources, which are offered and never taken."""

    joints: frozenset[str] = frozenset()
    tools: frozenset[str] = frozenset()
    zone: str = ""
    zones: tuple[str, ...] = ()


@dataclass(frozen=True)
class Choice:
    """One answer. `value` is what `suggest(..., answers={question.key: value})` takes; `says` is for people."""

    value: str
    says: str


@dataclass(frozen=True)
class Question:
    """Something that the file does not settle. Without choices only a person who writes the mapping can answer it.

    `free`: besides the choices any text may be answered (a zone, a constant); `before` then stands before that text in
    the answer, and `example` says what is meant by it.
    """

    key: str
    text: str
    choices: tuple[Choice, ...] = ()
    free: bool = False
    before: str = ""
    example: str = ""


@dataclass(frozen=True)
class ColumnGuess:
    """What one column was taken for. `field`: its place in the mapping, as "columns.joint", "torque.column",
    "particular.drag"; "" when it is not used. `position` counts from 1."""

    column: str
    position: int
    field: str
    sureness: Sureness
    reason: str


@dataclass(frozen=True)
class Suggestion:
    """`text`: a mapping file with reasons as comments. `read_mapping` accepts it once `questions` is empty."""

    text: str
    questions: tuple[Question, ...]
    columns: tuple[ColumnGuess, ...]
    notes: tuple[str, ...] = ()
    not_taken: tuple[str, ...] = ()  # answers that no question takes, in words


@dataclass
class Answers:
    """Answers given so far, and the questions that are left."""

    given: dict[str, str] = field(default_factory=dict)
    open: list[Question] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    refused: dict[str, str] = field(default_factory=dict)  # key -> the answer that is none

    def answer(self, key: str) -> str | None:
        """The answer to a question, None when there is none."""
        self.asked.add(key)
        return self.given.get(key)

    def refuse(self, key: str) -> None:
        """The answer fits nothing: it is none."""
        if key in self.given:
            self.refused[key] = self.given.pop(key)

    def not_taken(self) -> tuple[str, ...]:
        """Answers that count for nothing, in words."""
        lost = [f"{key}: nothing was asked about it" for key in self.given.keys() - self.asked]
        lost += [f"{key}: {answer!r} is no answer to it" for key, answer in self.refused.items()]
        return tuple(sorted(lost))

    def ask(self, question: Question) -> str | None:
        """The answer, None when there is none yet (the question is then open) or when it is none of the choices."""
        answer = self.answer(question.key)
        if answer is not None and (question.free or any(choice.value == answer for choice in question.choices)):
            return answer
        self.refuse(question.key)
        if all(question.key != other.key for other in self.open):
            self.open.append(question)
        return None
