"""A study that is run: its printed cards, and its readings as they are typed in on the page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal

from evenpull.card.serial import SerialError, make_serial, parse_serial
from evenpull.card.typesetting import TypesettingError
from evenpull.evidence import moment
from evenpull.evidence.checkpoint import read_moment
from evenpull.report.study_card import study_card as typeset
from evenpull.store.models import Fact
from evenpull.store.services import register, studying
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CARD, STUDY_CARD
from evenpull.store.services.issuing import PAPERS
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw, read_raw
from evenpull.study import drawn_order, read_study
from evenpull.study.model import Place, Reading, Study
from evenpull.study.readings import LONGEST_CELL, value_of, write_rows

TYPED = "typed-on-the-page.csv"


@dataclass(frozen=True)
class StudyCardRow:
    """A printed card. `number`: revision of the study that it was printed for; `plan`: digest of that plan; `person`
    "" for all of them."""

    serial: str
    study: str
    number: int
    plan: str
    person: str
    paper: str
    printed_at: datetime
    author: str
    fingerprint: str
    pages: int
    lines: int


@dataclass(frozen=True)
class Typed:
    """What stands in the boxes of one place."""

    value: str
    remark: str = ""


class TypingError(ValueError):
    """Readings that cannot be written; `faults` by place in the drawn order (from 1), nothing was written."""

    def __init__(self, faults: Mapping[int, str]) -> None:
        self.faults = dict(faults)
        super().__init__("; ".join(f"reading {place}: {what}" for place, what in self.faults.items()))


# cards ---------------------------------------------------------------------------------------------------------------


def issue_study_card(study_id: str, paper: str, author: str, person: str = "") -> tuple[StudyCardRow, bytes]:
    """Print a numbered card of the revision in force, for one person or for all. Refused for a paper that is none, a
    person who is not in the study, a study whose readings are all there, and one with more readings than a card has
    room for."""
    who = checked_author(author)
    if paper not in PAPERS:
        raise Refused(f"{paper!r} is no paper; there are: {', '.join(PAPERS)}")
    with writing():
        view = studying.study(study_id)
        found = view.result.study
        if found.state == "complete":
            raise Refused(f"all readings of {study_id} are there; a card would have nothing to be filled in. Nothing "
                          "was written.")  # fmt: skip
        kinds = {tool.kind for tool in register.tools(found.tools)}
        now = datetime.now(UTC).replace(microsecond=0)
        form: Literal["a4", "us-letter"] = "us-letter" if paper == "us-letter" else "a4"
        issued = Fact.objects.filter(kind__in=(CARD, STUDY_CARD)).count()
        try:
            serial = make_serial(study_id, issued + 1)
            made = typeset(found, serial=serial, number=view.row.number, printed_at=now, person=person,
                           tool_kinds=kinds, paper=form)
        except (ValueError, TypesettingError) as error:
            raise Refused(f"no card of {study_id}: {error}. Nothing was written.") from error
        body = {
            "what": f"card {serial} of study {study_id}, revision {view.row.number}", "serial": serial,
            "study": study_id, "number": view.row.number, "plan": found.digest, "person": person, "paper": paper,
            "printed_at": moment(now), "fingerprint": made.fingerprint, "pages": made.pages, "lines": made.lines,
            "pdf_sha256": keep_raw(made.pdf),
        }  # fmt: skip
        (fact,) = append([New(STUDY_CARD, f"{STUDY_CARD}:{serial}", body)], who)
    return _card(fact), made.pdf


def _card(fact: Fact) -> StudyCardRow:
    b = fact.data
    return StudyCardRow(b["serial"], b["study"], b["number"], b["plan"], b["person"], b["paper"],
                        read_moment(b["printed_at"]), fact.author, b["fingerprint"], b["pages"], b["lines"])


def cards_of_study(study_id: str) -> tuple[StudyCardRow, ...]:
    """Cards printed for a study, the first one first."""
    found = Fact.objects.filter(kind=STUDY_CARD, key__startswith=f"{STUDY_CARD}:{study_id}-").order_by("seq")
    return tuple(card for card in map(_card, found) if card.study == study_id)


def study_card_pdf(serial: str) -> bytes:
    """The card as it was printed, to the byte. Unknown when no such card was printed."""
    fact = Fact.objects.filter(key=f"{STUDY_CARD}:{serial}").first()
    if fact is None:
        raise Unknown(f"no card {serial!r} of a study was printed here")
    return read_raw(fact.data["pdf_sha256"])


def card_to_type(text: str) -> StudyCardRow:
    """The card of a serial as it was typed from paper. Refused with what could have been meant, for one that was never
    printed here, and for one whose plan has been changed since: its numbers would fall on other places."""
    known = [fact.data["serial"] for fact in Fact.objects.filter(kind=STUDY_CARD).order_by("seq")]
    try:
        serial = parse_serial(text, known=known).text
    except SerialError as error:
        raise Refused(str(error)) from error
    fact = next((one for one in Fact.objects.filter(kind=STUDY_CARD) if one.data["serial"].upper() == serial.upper()),
                None)
    if fact is None:
        raise Refused(f"no card {serial} of a study was printed here; a card of a joint is typed in on the page of the "
                      "joint")  # fmt: skip
    card = _card(fact)
    _check_plan(card)
    return card


def _check_plan(card: StudyCardRow) -> None:
    if studying.study(card.study).row.digest != card.plan:
        raise Refused(f"card {card.serial} was printed for revision {card.number} of study {card.study}, and the plan "
                      "has been changed since. Write its readings into a file of readings and add them to that plan by "
                      "a new revision.")  # fmt: skip


# readings ------------------------------------------------------------------------------------------------------------


def type_readings(
    study_id: str, typed: Mapping[int, Typed], author: str, *, seen: int, card: str = ""
) -> studying.StudyRow:
    """Write the readings typed for places of the drawn order (from 1) as a further revision of the study; what is left
    empty stays missing. A reading that stands there already is changed only with a remark saying why, and the former
    one stays, marked as left out. TypingError with every fault; Refused as `add_study` refuses, when the readings stand
    in the study's own file, and for a card of another plan.
    """
    studying.refuse_unseen(study_id, studying.revisions_of(study_id), seen)
    text, file, beside = studying.kept_texts(study_id)
    study = read_study(text, file, beside)
    if beside is None and study.readings:
        raise Refused(f"the readings of {study_id} stand in its own file; go on there, by a new revision of the file. "
                      "Nothing was written.")  # fmt: skip
    if card:
        found = card_to_type(card)
        if found.study != study_id:
            raise Refused(f"card {found.serial} belongs to study {found.study}, not to {study_id}. Nothing was "
                          "written.")  # fmt: skip
        card = found.serial
    readings = _with(study, typed)
    rows = write_rows(readings, group=study.kind == "process capability")
    if not readings:
        raise TypingError({1: "no reading was typed: nothing was written"})
    return studying.add_study(text, file, author, readings=(rows, TYPED), card=card, seen=seen)


def _with(study: Study, typed: Mapping[int, Typed]) -> list[Reading]:
    """The readings there are and those typed, in the drawn order; TypingError with what cannot be taken."""
    order = drawn_order(study)
    rank = {place: number for number, place in enumerate(order, start=1)}
    held = list(study.readings)
    faults: dict[int, str] = {}
    for number, one in sorted(typed.items()):
        if not 1 <= number <= len(order):
            faults[number] = f"the study has the readings 1 to {len(order)}"
            continue
        value, remark = one.value.strip(), " ".join(one.remark.split())
        if what := _fault(value, remark) or _put(held, order[number - 1], value, remark):
            faults[number] = what
    if faults:
        raise TypingError(faults)
    return sorted(held, key=lambda reading: rank[reading.place])  # stable: a former reading stays before its successor


def _fault(value: str, remark: str) -> str:
    if len(remark) > LONGEST_CELL or not remark.isprintable():
        return f"the remark has {len(remark)} characters, or some that cannot be printed; at most {LONGEST_CELL}"
    if value:
        try:
            value_of(value)
        except ValueError as error:
            return f"{error}: digits with a decimal point or comma, no unit"
    return ""


def _put(held: list[Reading], place: Place, value: str, remark: str) -> str:
    """Put one typed reading on its place; what is wrong, "" when nothing is."""
    now = next((index for index, one in enumerate(held) if one.place == place and one.counts), None)
    if now is None:
        empty = next((i for i, one in enumerate(held) if one.place == place and one.value is None and not one.left_out),
                     None)
        if value:
            if empty is not None:
                held.pop(empty)
            held.append(Reading(0, place, value_of(value), value, "", remark))
        elif remark and (empty is None or held[empty].remark != remark):
            if empty is not None:
                held.pop(empty)
            held.append(Reading(0, place, None, "", "", remark))
        return ""
    before = held[now]
    if not value:
        return f"{before.text} stands there already and cannot be taken away; write a corrected reading, with a remark"
    if value_of(value) == before.value:
        if remark and remark != before.remark:
            held[now] = replace(before, remark=f"{before.remark}; {remark}"[:LONGEST_CELL] if before.remark else remark)
        return ""
    if not remark or remark == before.remark:
        return f"{before.text} stands there already: say in the remark why it is corrected"
    held[now] = replace(before, left_out=f"corrected: {remark}"[:LONGEST_CELL])
    held.insert(now + 1, Reading(0, place, value_of(value), value, "", f"corrected from {before.text}"))
    return ""
