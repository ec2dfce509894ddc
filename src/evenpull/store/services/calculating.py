"""Calculations of the dossier: the file as received, its revisions, and what came out when it was written.

A sheet is computed again whenever it is looked at. What came out when it was written is kept in the fact, so that a
later version of the program that computes something else is seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from hashlib import sha256
from typing import Literal

from evenpull import __version__
from evenpull.calculation import Calculation, RulePart, Sheet, make_sheet, read_calculation
from evenpull.card.typesetting import TypesettingError
from evenpull.evidence.checkpoint import read_moment
from evenpull.plan import SpecificationError
from evenpull.report.calculation import calculation_pdf as typeset
from evenpull.store.models import Fact
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CALCULATION
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.register import described, joint_ids, near

PAPERS = ("a4", "us-letter")


@dataclass(frozen=True)
class CalculationRow:
    """One revision. `outcome`: what each rule set said when it was written, by its title, in words."""

    id: str
    number: int  # 1 for the first revision written
    revision: str
    name: str
    joint: str
    rules: tuple[str, ...]
    outcome: tuple[tuple[str, str], ...]
    written_at: datetime
    author: str
    digest: str
    file: str
    version: str
    changed: bool = True  # False: the same text was there already


@dataclass(frozen=True)
class CalculationView:
    """`now`: what the rule sets say today; `differs`: it is not what was kept when this revision was written."""

    row: CalculationRow
    sheet: Sheet
    revisions: tuple[CalculationRow, ...]
    now: tuple[tuple[str, str], ...]

    @property
    def differs(self) -> bool:
        return self.now != self.row.outcome

    @property
    def latest(self) -> bool:
        return self.row.number == len(self.revisions)


@lru_cache(maxsize=64)
def _read(text: str, file: str) -> Calculation:
    return read_calculation(text, file)


@lru_cache(maxsize=32)
def _sheet(text: str, file: str) -> Sheet:
    return make_sheet(_read(text, file))


def outcome(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """What each rule set says, in one line."""
    return tuple((part.rule_set.title, _said(part)) for part in sheet.parts)


def _said(part: RulePart) -> str:
    if part.problem:
        return f"cannot be applied: {part.problem}"
    return "; ".join([part.verdict, *(f"{name.lower()} {words}" for name, words in part.facts)])


def add_calculation(text: str, file: str, author: str) -> CalculationRow:
    """Write a revision of a calculation. The text now in force given again changes nothing. SpecificationError passes;
    Refused for a joint that nobody has described and for an id that differs from another only in capitals.
    """
    who = checked_author(author)
    read = _read(text, file)
    body = {
        "file": file, "text": text, "digest": sha256(text.encode()).hexdigest(), "name": read.name,
        "revision": read.revision, "joint": read.joint, "rules": list(read.rules), "version": __version__,
        "outcome": [list(pair) for pair in outcome(_sheet(text, file))],
    }  # fmt: skip
    with writing():
        if read.joint and read.joint not in described([read.joint]).values():
            close = near(read.joint, joint_ids())
            hint = f"; near: {', '.join(close)}" if close else ""
            raise Refused(f"{file}: calculation.joint: no joint {read.joint!r} is described here{hint}. Describe it "
                          "first, or leave the key out. Nothing was written.")  # fmt: skip
        ids = {row.id for row in calculations()}
        twin = next((one for one in ids if one != read.id and one.upper() == read.id.upper()), None)
        if twin is not None:
            raise Refused(f"{file}: calculation.id {read.id!r} differs from {twin!r} only in capitals; use that id or "
                          "another. Nothing was written.")  # fmt: skip
        earlier = _facts(read.id)
        if earlier and earlier[-1].data["digest"] == body["digest"]:
            return _row(earlier[-1], len(earlier), changed=False)
        number = len(earlier) + 1
        fact = append([New(CALCULATION, f"{CALCULATION}:{read.id}:{number}", body, read.joint)], who)[0]
    return _row(fact, number)


def _facts(calculation_id: str) -> list[Fact]:
    """Every revision, the first one first."""
    found = Fact.objects.filter(kind=CALCULATION, key__startswith=f"{CALCULATION}:{calculation_id}:").order_by("seq")
    return [fact for fact in found if _id(fact) == calculation_id]


def _id(fact: Fact) -> str:
    return fact.key.split(":")[1]  # an id holds no colon


def _row(fact: Fact, number: int, *, changed: bool = True) -> CalculationRow:
    b = fact.data
    return CalculationRow(
        _id(fact), number, b["revision"], b["name"], b["joint"], tuple(b["rules"]),
        tuple((title, words) for title, words in b["outcome"]), read_moment(fact.written_at), fact.author, b["digest"],
        b["file"], b["version"], changed,
    )  # fmt: skip


def calculations(joint_id: str | None = None) -> list[CalculationRow]:
    """The revision now in force of each calculation, by id; of one joint, or of all."""
    latest: dict[str, tuple[Fact, int]] = {}
    for fact in Fact.objects.filter(kind=CALCULATION).order_by("seq"):
        latest[_id(fact)] = (fact, latest[_id(fact)][1] + 1 if _id(fact) in latest else 1)
    rows = [_row(fact, number) for fact, number in latest.values()]
    return sorted((row for row in rows if joint_id is None or row.joint == joint_id), key=lambda row: row.id)


def calculation(calculation_id: str, number: int | None = None) -> CalculationView:
    """One revision (the one in force when `number` is None) with its sheet as this version computes it.

    Unknown with near ids; Refused when the text was written under rules that this version refuses.
    """
    facts = _facts(calculation_id)
    if not facts:
        close = near(calculation_id, [row.id for row in calculations()])
        hint = f"; near: {', '.join(close)}" if close else ""
        raise Unknown(f"no calculation {calculation_id!r} is kept here{hint}")
    if number is not None and not 1 <= number <= len(facts):
        raise Unknown(f"calculation {calculation_id} has the revisions 1 to {len(facts)}, not {number}")
    rows = tuple(_row(fact, index) for index, fact in enumerate(facts, 1))
    row, data = rows[(number or len(rows)) - 1], facts[(number or len(facts)) - 1].data
    try:
        sheet = _sheet(data["text"], data["file"])
    except SpecificationError as error:
        raise Refused(
            f"calculation {calculation_id}, revision {row.revision}, was written under earlier rules and is refused by "
            f"this version: {error}. Write a new revision of it."
        ) from error
    return CalculationView(row, sheet, rows, outcome(sheet))


def calculation_pdf(calculation_id: str, number: int | None = None, paper: str = "a4") -> bytes:
    """The sheet as PDF, computed by this version and dated now. Refused for a paper that is none."""
    if paper not in PAPERS:
        raise Refused(f"{paper!r} is no paper; there are: {', '.join(PAPERS)}")
    view = calculation(calculation_id, number)
    now = datetime.now(UTC).replace(microsecond=0)
    form: Literal["a4", "us-letter"] = "us-letter" if paper == "us-letter" else "a4"
    try:
        return typeset(view.sheet, made_at=now, version=__version__, paper=form)
    except TypesettingError as error:
        raise Refused(f"no sheet of {calculation_id}: {error}") from error
