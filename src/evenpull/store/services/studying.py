"""Studies of the dossier: the file and its readings as received, their revisions, and what came out when they were
written.

A study is judged again whenever it is looked at. What came out when it was written is kept in the fact with the version
of the rules, so that a later version that finds something else is seen.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from hashlib import sha256
from typing import Any

from evenpull import __version__
from evenpull.evidence.checkpoint import read_moment
from evenpull.ledger.entry import Entry
from evenpull.plan import SpecificationError
from evenpull.store.models import Fact, Mention
from evenpull.store.services import facts
from evenpull.store.services.around import entries_about
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import STUDY
from evenpull.store.services.index import name_of
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.register import described, near
from evenpull.study import RULES_VERSION, Claim, Standing, StudyResult, judge, read_study, standing
from evenpull.study.model import Validity
from evenpull.study.read import Beside
from evenpull.study.result import worst_of
from evenpull.study.words import between, number

CLOSE = 1e-6  # relative: figures that differ less say the same, whatever machine computed them
_FIGURES = {"bias": "off by", "s": "scatter s", "inside": "inside the window, %"}
DIGITS = 9  # significant figures that are kept


@dataclass(frozen=True)
class Kept:
    """What came out: state, the answer to the demands, one line in words, and figures (key, value, low, high).
    `persons`: the worst answer for each person of whom something is demanded."""

    state: str
    answer: str
    line: str
    figures: tuple[tuple[str, float, float | None, float | None], ...]
    persons: tuple[tuple[str, str], ...] = ()

    def differences(self, other: Kept) -> tuple[tuple[str, str, str], ...]:
        """(what, here, there) where two say something else but for rounding."""
        found = [(what, one, two) for what, one, two in (
            ("state", self.state, other.state), ("demands", self.answer, other.answer),
            ("persons", str(dict(self.persons)), str(dict(other.persons)))) if one != two]
        here, there = ({key: rest for key, *rest in one.figures} for one in (self, other))
        for key in dict.fromkeys((*here, *there)):
            if key not in here or key not in there or not all(map(_close, here[key], there[key])):
                found.append((key, _shown(here.get(key)), _shown(there.get(key))))
        return tuple(found)


def _close(a: float | None, b: float | None) -> bool:
    if a is None or b is None:
        return a is b
    return abs(a - b) <= CLOSE * max(abs(a), abs(b), 1e-9)


def _shown(figure: list[float | None] | None) -> str:
    if figure is None:
        return "not there"
    return " / ".join("–" if one is None else f"{one:.7g}" for one in figure)


@dataclass(frozen=True)
class StudyRow:
    """One revision. `digest` of the plan, `readings_digest` of the readings beside it; `card`: serial of the card that
    they were typed from; `claim`: what its standing depends on."""

    id: str
    number: int  # 1 for the first revision written
    revision: str
    name: str
    kind: str
    tools: tuple[str, ...]
    device: str
    persons: tuple[str, ...]
    outcome: Kept
    claim: Claim
    written_at: datetime
    author: str
    digest: str
    readings_digest: str
    file: str
    readings_file: str
    card: str
    version: str
    rules: str
    seq: int
    changed: bool = True  # False: the same texts were there already


@dataclass(frozen=True)
class StudyView:
    """`now`: what this version finds; `differences` from what was kept when this revision was written."""

    row: StudyRow
    result: StudyResult
    revisions: tuple[StudyRow, ...]
    now: Kept
    standing: Standing

    @property
    def differences(self) -> tuple[tuple[str, str, str], ...]:
        return self.row.outcome.differences(self.now)

    @property
    def latest(self) -> bool:
        return self.row.number == len(self.revisions)


@lru_cache(maxsize=64)
def result_of(text: str, file: str, beside: Beside | None = None) -> StudyResult:
    """The judgement of these texts, kept in memory so that checking, writing and looking compute it once."""
    return judge(read_study(text, file, beside))


def kept_of(result: StudyResult) -> Kept:
    def rounded(value: float | None) -> float | None:
        return None if value is None else float(f"{value:.{DIGITS}g}")

    figures = tuple(
        (one.key, float(f"{one.value:.{DIGITS}g}"), rounded(one.low), rounded(one.high))
        for one in result.outcome.figures
    )
    demands = result.outcome.demands
    persons = tuple((name, worst) for name in dict.fromkeys(one.person for one in demands if one.person)
                    if (worst := worst_of(one.answer for one in demands if one.person == name)) is not None)
    return Kept(result.state, result.answer or "", result.line, figures, persons)


def add_study(
    text: str, file: str, author: str, *, readings: Beside | None = None, card: str = "", seen: int | None = None
) -> StudyRow:
    """Write a revision of a study, with readings beside its file where there are any. The texts now in force given
    again change nothing. SpecificationError passes.

    `seen`: number of the revision that the writer started from. Refused when another one was written since, for an id
    that a joint has, and for one that differs from another only in capitals.
    """
    who = checked_author(author)
    result = result_of(text, file, readings)
    study = result.study
    body = {
        "file": file, "text": text, "digest": sha256(text.encode()).hexdigest(),
        "readings": "" if readings is None else readings[0], "readings_file": "" if readings is None else readings[1],
        "readings_digest": study.rows_digest, "name": study.name, "revision": study.revision, "kind": study.kind,
        "tools": list(study.tools), "device": study.device, "persons": list(study.persons), "card": card,
        "validity": _validity_body(study.validity), "version": __version__, "rules": RULES_VERSION,
        "outcome": _kept_body(kept_of(result)),
    }  # fmt: skip
    with writing():
        if study.id in described([study.id]).values():
            raise Refused(f"{file}: study.id: {study.id!r} is the id of a joint; a study needs one of its own. Nothing "
                          "was written.")  # fmt: skip
        twin = next((one for one in study_ids() if one != study.id and one.upper() == study.id.upper()), None)
        if twin is not None:
            raise Refused(f"{file}: study.id {study.id!r} differs from {twin!r} only in capitals; use that id or "
                          "another. Nothing was written.")  # fmt: skip
        earlier = revisions_of(study.id)
        if seen is not None:
            refuse_unseen(study.id, earlier, seen)
        if earlier and all(earlier[-1].data[key] == body[key] for key in ("digest", "readings_digest")):
            return _row(earlier[-1], len(earlier), changed=False)
        number = len(earlier) + 1
        fact = append([New(STUDY, f"{STUDY}:{study.id}:{number}", body)], who)[0]
    return _row(fact, number)


def refuse_unseen(study_id: str, earlier: list[Fact], seen: int) -> None:
    """Refused when another revision was written than the one a writer started from."""
    if seen != len(earlier):
        last = f", the last by {earlier[-1].author}" if earlier else ""
        raise Refused(f"study {study_id} has {len(earlier)} revisions now{last}, and you started from revision {seen}. "
                      "Look at what was written since; nothing was written.")  # fmt: skip


def _validity_body(validity: Validity) -> dict[str, Any]:
    return {"first": "" if validity.first is None else validity.first.isoformat(),
            "last": "" if validity.last is None else validity.last.isoformat(), "ends_with": list(validity.ends_with)}


def _kept_body(kept: Kept) -> dict[str, Any]:
    return {"state": kept.state, "answer": kept.answer, "line": kept.line, "figures": [list(f) for f in kept.figures],
            "persons": [list(pair) for pair in kept.persons]}


def revisions_of(study_id: str) -> list[Fact]:
    """Every revision, the first one first."""
    found = Fact.objects.filter(kind=STUDY, key__startswith=f"{STUDY}:{study_id}:").order_by("seq")
    return [fact for fact in found if _id(fact) == study_id]


def _id(fact: Fact) -> str:
    return fact.key.split(":")[1]  # an id holds no colon


def study_ids() -> set[str]:
    return {key.split(":")[1] for key in Fact.objects.filter(kind=STUDY).values_list("key", flat=True)}


def _row(fact: Fact, number: int, *, changed: bool = True) -> StudyRow:
    b = fact.data
    kept = b["outcome"]
    outcome = Kept(kept["state"], kept["answer"], kept["line"], tuple(
        (key, value, low, high) for key, value, low, high in kept["figures"]), tuple(
        (name, answer) for name, answer in kept["persons"]))
    v = b["validity"]
    validity = Validity(_day(v["first"]), _day(v["last"]), tuple(v["ends_with"]))
    tools, persons = tuple(b["tools"]), tuple(b["persons"])
    return StudyRow(
        _id(fact), number, b["revision"], b["name"], b["kind"], tools, b["device"], persons, outcome,
        Claim(outcome.state == "judged", outcome.line, tools, persons, validity), read_moment(fact.written_at),
        fact.author, b["digest"], b["readings_digest"], b["file"], b["readings_file"], b["card"], b["version"],
        b["rules"], fact.seq, changed,
    )  # fmt: skip


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def _latest(found: Iterable[Fact]) -> list[StudyRow]:
    """The revision in force of each study among these facts, which are in order; by id."""
    last: dict[str, tuple[Fact, int]] = {}
    for fact in found:
        last[_id(fact)] = (fact, last[_id(fact)][1] + 1 if _id(fact) in last else 1)
    return sorted((_row(fact, number) for fact, number in last.values()), key=lambda row: row.id)


def studies() -> list[StudyRow]:
    """The revision now in force of each study, by id."""
    return _latest(Fact.objects.filter(kind=STUDY).order_by("seq"))


def studies_naming(what: str, name: str) -> list[StudyRow]:
    """Studies whose revision in force names this tool (or check device) or this person; `what`: "tool" or "person"."""
    places = Mention.objects.filter(kind=f"study {what}", name=name_of(name)).values_list("seq", flat=True)
    ids = sorted({_id(fact) for fact in facts.by_seq(places)})
    rows = [row for one in ids for row in _latest(revisions_of(one))]
    wanted = name_of(name)
    return [row for row in rows if wanted in {name_of(n) for n in (
        (*row.tools, row.device) if what == "tool" else row.persons)}]


def person_words(row: StudyRow, name: str) -> tuple[str, str]:
    """(worst answer to what is demanded of one person, or "", and the figures of that person in words)."""
    own = next((one for one in row.persons if name_of(one) == name_of(name)), "")
    told = []
    for key, value, low, high in row.outcome.figures:
        what, sign, who = key.partition(": ")
        if sign and who == own and low is not None and high is not None:
            told.append(f"{_FIGURES.get(what, what)} {number(value, 3)} ({between(low, high)})")
    return dict(row.outcome.persons).get(own, ""), "; ".join(told)


def standing_of(claim: Claim, day: date | None = None) -> Standing:
    """Whether a study counts on a day (today), by its dates and the entries on its tools and persons."""
    found: list[Entry] = []
    if claim.validity.ends_with:
        for subject, names in (("tool", claim.tools), ("person", claim.persons)):
            found += [entry for name in names for entry in entries_about(subject, name)]
    return standing(claim, day or datetime.now(UTC).date(), found)


def kept_texts(study_id: str, number: int | None = None) -> tuple[str, str, Beside | None]:
    """(text, file name, readings beside it) of one revision, in force where `number` is None. Unknown as `study`."""
    data = _revision(study_id, number)[1].data
    return data["text"], data["file"], (data["readings"], data["readings_file"]) if data["readings"] else None


def _revision(study_id: str, number: int | None) -> tuple[list[Fact], Fact]:
    """Every revision and the one asked for."""
    found = revisions_of(study_id)
    if not found:
        close = near(study_id, sorted(study_ids()))
        hint = f"; near: {', '.join(close)}" if close else ""
        raise Unknown(f"no study {study_id!r} is kept here{hint}")
    if number is not None and not 1 <= number <= len(found):
        raise Unknown(f"study {study_id} has the revisions 1 to {len(found)}, not {number}")
    return found, found[(number or len(found)) - 1]


def study(study_id: str, number: int | None = None) -> StudyView:
    """One revision (the one in force when `number` is None) as this version judges it.

    Unknown with near ids; Refused when the texts were written under rules that this version refuses.
    """
    found, chosen = _revision(study_id, number)
    rows = tuple(_row(fact, index) for index, fact in enumerate(found, 1))
    row, data = rows[found.index(chosen)], chosen.data
    beside = (data["readings"], data["readings_file"]) if data["readings"] else None
    try:
        result = result_of(data["text"], data["file"], beside)
    except SpecificationError as error:
        raise Refused(
            f"study {study_id}, revision {row.revision}, was written under earlier rules and is refused by this "
            f"version: {error}. Write a new revision of it."
        ) from error
    return StudyView(row, result, rows, kept_of(result), standing_of(Claim.of(result)))
