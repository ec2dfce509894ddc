"""What comes out of a study: figures with limits, tables, demands met or not, and what it says and does not say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from evenpull.calculation.plots import Plot
from evenpull.study.model import Place, Study

RULES_VERSION = "study rules 1"  # named with every result; another outcome for the same readings gets another name
State = Literal["planned", "incomplete", "judged", "cannot be judged"]
Answer = Literal["shown", "not so", "not shown"]
ANSWERS: dict[Answer, str] = {
    "shown": "the confidence limits lie within the demand",
    "not so": "the confidence limits lie beyond the demand",
    "not shown": "the demand lies between the confidence limits, or these do not hold: more readings, or a better "
                 "tool, would tell",
}


def worst_of(answers: Iterable[Answer]) -> Answer | None:
    """None where nothing is demanded."""
    found = set(answers)
    worst: tuple[Answer, ...] = ("not so", "not shown", "shown")
    return next((one for one in worst if one in found), None)


@dataclass(frozen=True, slots=True)
class Figure:
    """One number with its two-sided limits (None: it has none). `key` names it among all results of its kind."""

    key: str
    name: str
    value: float
    low: float | None
    high: float | None
    unit: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of texts; `numbers` are the columns (from 0) that hold numbers."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Demand:
    """A demand of the file with its answer; `person` where it is asked of each."""

    what: str
    person: str
    answer: Answer
    words: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the judgement of complete readings gives; `problem` in words where they cannot be judged."""

    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    demands: tuple[Demand, ...] = ()
    says: tuple[str, ...] = ()
    says_not: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    plots: tuple[Plot, ...] = ()
    problem: str = ""


@dataclass(frozen=True, slots=True)
class StudyResult:
    """A study with what it says under `rules`. `order` is the order in which its places are to be read."""

    study: Study
    rules: str
    state: State
    order: tuple[Place, ...]
    outcome: Outcome

    @property
    def line(self) -> str:
        """The result in one line, for lists."""
        study = self.study
        if self.state == "planned":
            return f"planned: {len(study.places)} readings to be taken"
        if self.state == "incomplete":
            return f"incomplete: {len(study.missing)} of {len(study.places)} readings are missing"
        if self.state == "cannot be judged":
            return f"cannot be judged: {self.outcome.problem}"
        return self.outcome.says[0] if self.outcome.says else "judged"

    @property
    def answer(self) -> Answer | None:
        """The worst answer to any demand; None where nothing is demanded or nothing could be judged."""
        return worst_of(one.answer for one in self.outcome.demands)
