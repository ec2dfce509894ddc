"""Which column is which: words over it and what stands in it together, and a question wherever two would do."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from evenpull.intake.suggest.columns import Column
from evenpull.intake.suggest.model import LEAVE_OUT, Answers, Choice, ColumnGuess, Known, Question, Sureness
from evenpull.intake.suggest.words import evidence

CONSTANT = "value="  # begins an answer that is no column but a text for all rows


def toml_text(text: str) -> str:
    """A text as a TOML string."""
    return json.dumps(text, ensure_ascii=False)


@dataclass(frozen=True)
class Use:
    """One line of the mapping: `value` is TOML."""

    field: str
    value: str
    sureness: Sureness
    reason: str
    column: Column | None = None


@dataclass
class Draft:
    """The mapping as far as it goes. A column is used for one thing only, unless one cell holds two."""

    columns: Sequence[Column]
    known: Known
    answers: Answers
    uses: dict[str, Use] = field(default_factory=dict)
    words: dict[str, dict[str, list[str]]] = field(default_factory=dict)  # kind -> our key -> words of the file
    notes: list[str] = field(default_factory=list)
    _taken: dict[int, list[ColumnGuess]] = field(default_factory=dict)

    def free(self) -> list[Column]:
        """Columns that can be named in a mapping and are not used yet."""
        return [column for column in self.columns if not column.usable and column.position not in self._taken]

    def use(self, one: Use) -> None:
        self.uses[one.field] = one
        if one.column is not None:
            self.mark(one.column, one.field, one.sureness, one.reason)

    def mark(self, column: Column, place: str, sureness: Sureness, reason: str) -> None:
        self._taken.setdefault(column.position, []).append(
            ColumnGuess(column.name, column.position + 1, place, sureness, reason)
        )

    def guesses(self) -> tuple[ColumnGuess, ...]:
        """What each column was taken for, in the order of the file."""
        found: list[ColumnGuess] = []
        for column in self.columns:
            found += self._taken.get(column.position, []) or [
                ColumnGuess(column.name, column.position + 1, "", "guess", column.usable or "no field is seen in it")
            ]
        return tuple(found)


@dataclass(frozen=True)
class Fit:
    """How a column suits a role by its cells: 0 not at all, 1 it could, 2 well, 3 the values prove it."""

    level: int
    value: str = ""  # TOML; "" means the plain name of the column
    why: str = ""


Judge = Callable[[Column], Fit]


@dataclass(frozen=True)
class Role:
    """`most`: how sure words and cells together can make it without proof."""

    field: str
    word: str
    what: str
    judge: Judge
    needed: bool = False
    most: Sureness = "sure"


def assign(draft: Draft, roles: Sequence[Role], above: Mapping[str, Sequence[str]]) -> None:
    """Gives each role a column where one alone fits, and asks where several do.

    `above`: texts by role that stand above the table and are known to the dossier; they are offered, never taken.
    """
    waiting = [role for role in roles if not _answered(draft, role)]
    fits = {(role.field, column.position): role.judge(column) for role in waiting for column in draft.free()}
    for least in (4, 3, 2, 1):  # 4: proof by the values; below: the strength of the word
        progress = True
        while progress:
            progress = False
            for role in list(waiting):
                found = _candidates(draft, role, fits, least)
                if len(found) != 1:
                    continue
                if least < 3 and any(
                    found[0] in _candidates(draft, other, fits, least) for other in waiting if other is not role
                ):
                    continue
                if least == 1 and role.needed and fits[(role.field, found[0].position)].level == 1:
                    continue
                draft.use(_use(role, found[0], fits[(role.field, found[0].position)], least))
                waiting.remove(role)
                progress = True
        for role in list(waiting):
            found = _candidates(draft, role, fits, least)
            if len(found) > 1 or (found and least < 3):
                _ask(draft, role, found, above.get(role.field, ()))
                waiting.remove(role)
    for role in waiting:
        if role.needed or role.field in above:
            free = [column for column in draft.free() if fits.get((role.field, column.position), Fit(0)).level]
            if role.needed and not free:  # too many cells that cannot be read: a person still knows the column
                free = [column for column in draft.free() if word(role.word, column)] or draft.free()
            _ask(draft, role, free[:12] if role.needed else (), above.get(role.field, ()))


def _candidates(draft: Draft, role: Role, fits: dict[tuple[str, int], Fit], least: int) -> list[Column]:
    found = []
    for column in draft.free():
        fit = fits.get((role.field, column.position), Fit(0))
        if fit.level == 3 if least == 4 else fit.level and word(role.word, column) >= least:
            found.append(column)
    return found


def word(role: str, column: Column) -> int:
    """Evidence of the heading; of nested headings the lowest row, or all of it where that says nothing."""
    return evidence(role, column.heading) or min(evidence(role, column.whole_heading), 2)


def _use(role: Role, column: Column, fit: Fit, least: int) -> Use:
    sureness: Sureness
    if least == 4:
        sureness = "sure"
    elif least == 3 and fit.level == 2:
        sureness = role.most
    else:
        sureness = "likely" if least == 3 or fit.level == 2 else "guess"
    said = {4: "", 3: "the heading says so", 2: "the heading holds the word", 1: "the heading may mean it"}[least]
    reason = "; ".join(part for part in (said, fit.why) if part)
    return Use(role.field, fit.value or toml_text(column.name), sureness, reason, column)


def _answered(draft: Draft, role: Role) -> bool:
    """Takes the answer of a person, if there is one for this role."""
    answer = draft.answers.answer(role.field)
    if answer is None:
        return False
    if answer == LEAVE_OUT and not role.needed:
        return True
    if answer.startswith(CONSTANT) and len(answer) > len(CONSTANT):
        draft.use(Use(role.field, f"{{ value = {toml_text(answer.removeprefix(CONSTANT))} }}", "sure", "answered"))
        return True
    column = next((column for column in draft.free() if column.name == answer), None)
    if column is None:
        return False
    fit = role.judge(column)
    draft.use(Use(role.field, fit.value or toml_text(column.name), "sure", "answered", column))
    return True


def _ask(draft: Draft, role: Role, found: Sequence[Column], above: Sequence[str]) -> None:
    choices = [Choice(column.name, f"{column.name}: {sample(column)}") for column in found]
    choices += [Choice(CONSTANT + text, f"{text} for all rows: it stands above the table") for text in above]
    if not role.needed:
        choices.append(Choice(LEAVE_OUT, "none of them; leave it out"))
    draft.answers.refuse(role.field)  # an answer that fits nothing is none
    question = Question(role.field, f"Which column holds {role.what}?", tuple(choices))
    if role.needed:
        question = replace(question, free=True, before=CONSTANT, example="the same text for all rows")
    draft.answers.ask(question)


def sample(column: Column, most: int = 4) -> str:
    """The first different cells of a column, for people."""
    texts = ["".join(c if c.isprintable() else "?" for c in text[:30]) for text in list(column.counts)[:most]]
    return ", ".join(texts) + (", …" if len(column.counts) > most else "")
