"""Keying of scanned pages: one person's answers for a page are one fact, the third person's word another; what two
prove becomes typed records on the way that all typed records go."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta

from evenpull.evidence import digest
from evenpull.intake import IntakeError, read_mapping
from evenpull.intake.keyed import SCANNED_MAPPING, keyed_file
from evenpull.ledger.people import folded
from evenpull.paper.answer import Answer, AnswerError, answer_of
from evenpull.paper.checks import Note, page_notes
from evenpull.paper.keying import KeyingError, PageState, refuse_keyer, refuse_third
from evenpull.paper.page import Page
from evenpull.paper.records import rows_of
from evenpull.store.models import Fact
from evenpull.store.services import register, taking
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import CARD_ADMITTED, KEYING_DECIDED, PAGE_KEYED
from evenpull.store.services.log import LEAST_REASON, New, append, checked_author, checked_reason, writing
from evenpull.store.services.paper_admitting import on_record, refusal
from evenpull.store.services.paper_cards import asked_of, card_facts, state_of, whole_notes
from evenpull.store.services.paper_marks import counting, marks_of, not_counting, place_of, scans_of
from evenpull.store.services.paper_scans import KeptPage, card_fact, kept_page, pages_of
from evenpull.store.services.paper_written import withdrawn_from

MAPPING_FILE = "keyed-from-scans.toml"


class AnswersError(ValueError):
    """Answers that cannot be kept; `faults` by name of the box, nothing was written."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        self.faults = dict(faults)
        super().__init__("; ".join(f"{box}: {what}" for box, what in self.faults.items()))


def may_key(kept: KeptPage, who: str) -> str:
    """Why this person may not key the page, "" when they may."""
    scans = scans_of(kept)
    marks = marks_of(scans)
    try:
        refuse_keyer(kept.page, marks.keyed.get(place_of(kept.page), []), who)
    except KeyingError as error:
        return str(error)
    return refusal(kept) or not_counting(kept, scans, marks)


def may_settle(kept: KeptPage, state: PageState, who: str) -> str:
    """Why this person may not decide on the page as the third, "" when they may."""
    scans = scans_of(kept)
    if why := not_counting(kept, scans, marks_of(scans)):
        return why
    try:
        refuse_third(state, who)
    except KeyingError as error:
        return str(error)
    return ""


def notes_while_keying(kept: KeptPage, said: Mapping[str, tuple[str, str]], who: str) -> list[Note]:
    """What is odd about answers so far; writes nothing and knows nothing of what another person keyed. `who` keys:
    totals over several sheets are compared with the sheets that the same person has keyed."""
    answers, faults = _answers(kept.page, said, whole=False)
    found = [Note(box, text) for box, text in faults.items()]
    own = [(kept.page, answers), *_own_sheets(kept, who)]
    asks = asked_of([page for page, _ in own], kept.joint)
    found += page_notes(kept.page, answers, asks[0])
    return found + [Note("", text) for text in whole_notes(own, asks)]


def _own_sheets(kept: KeptPage, who: str) -> list[tuple[Page, Mapping[str, Answer]]]:
    """The other pages of the card as this person keyed them."""
    found: list[tuple[Page, Mapping[str, Answer]]] = []
    same_card = [p for p in pages_of(kept.joint) if p.page.serial == kept.page.serial] if kept.joint else []
    marks = marks_of(same_card)
    for (_, number), one in counting(same_card, marks).items():
        if number != kept.page.page:
            keyed = marks.keyed.get(place_of(one.page), [])
            found += [(one.page, k.answers) for k in keyed if folded(k.by) == folded(who)]
    return found


def _answers(
    page: Page, said: Mapping[str, tuple[str, str]], *, whole: bool
) -> tuple[dict[str, Answer], dict[str, str]]:
    answers: dict[str, Answer] = {}
    faults: dict[str, str] = {}
    for box in page.to_key:
        if box.name not in said:
            if whole:
                faults[box.name] = "nothing was keyed; say empty, or cannot read"
            continue
        try:
            answers[box.name] = answer_of(box, *said[box.name])
        except AnswerError as error:
            faults[box.name] = error.reason
    for name in sorted(said.keys() - {box.name for box in page.to_key}):
        faults[name[:60]] = "there is no such box to key on this page"
    return answers, faults


def key_page(scan: str, picture: int, said: Mapping[str, tuple[str, str]], author: str) -> PageState:
    """Keep one person's answers (state, text) for every box of a page. AnswersError with every fault; Refused for the
    same person again, for a third, and for a page that may not be keyed. What two prove is written as records."""
    who = checked_author(author)
    with writing():
        kept = kept_page(scan, picture)
        if why := may_key(kept, who):
            raise Refused(f"{why}. Nothing was written.")
        answers, faults = _answers(kept.page, said, whole=True)
        if faults:
            raise AnswersError(faults)
        number = len(state_of(kept).keyed) + 1
        body = {
            "what": f"page {kept.page.page} of card {kept.page.serial} keyed, {len(answers)} boxes",
            "scan": scan, "picture": picture, "serial": kept.page.serial, "page": kept.page.page,
            "answers": {name: [one.state, one.text] for name, one in answers.items()},
        }  # fmt: skip
        append([New(PAGE_KEYED, f"{PAGE_KEYED}:{place_of(kept.page)}:{number}", body, kept.joint)], who)
    return state_of(kept)


def decide_keying(
    scan: str, picture: int, said: Mapping[str, tuple[str, str]], why: str, author: str
) -> PageState:
    """The third person's word on boxes in which two differ, with the picture in sight. Errors as of `key_page`."""
    who, reason = checked_author(author), " ".join(why.split())
    if len(reason) < LEAST_REASON:
        raise Refused("say in words what the picture shows (5 characters or more). Nothing was written.")
    with writing():
        kept = kept_page(scan, picture)
        state = state_of(kept)
        if refusing := may_settle(kept, state, who):
            raise Refused(f"{refusing}. Nothing was written.")
        open_boxes = {one.box for one in state.open}
        answers, faults = _answers(kept.page, said, whole=False)
        faults |= {name: "the two agree here; nothing is to be decided" for name in answers if name not in open_boxes}
        if faults:
            raise AnswersError(faults)
        if not answers:
            raise Refused("nothing was decided: choose for at least one box. Nothing was written.")
        count = Fact.objects.filter(key__startswith=f"{KEYING_DECIDED}:{place_of(kept.page)}:").count()
        body = {
            "what": f"page {kept.page.page} of card {kept.page.serial}: {len(answers)} boxes decided", "scan": scan,
            "picture": picture, "why": reason, "answers": {n: [a.state, a.text] for n, a in answers.items()},
        }  # fmt: skip
        append([New(KEYING_DECIDED, f"{KEYING_DECIDED}:{place_of(kept.page)}:{count + 1}", body, kept.joint)], who)
    return state_of(kept)


def admit_card(serial: str, why: str, author: str, *, identity: str = "") -> None:
    """Let a card be keyed that is refused for its revision or its time, with the reason. Refused for one that was not
    issued here, and where nothing keeps it back."""
    who, reason = checked_author(author), checked_reason(why, "letting a card be keyed late")
    with writing():
        fact = card_fact(serial)
        if fact is None:
            raise Refused(f"no card {serial[:60]!r} was issued here. Nothing was written.")
        key = f"{CARD_ADMITTED}:{fact.data['serial']}"
        if Fact.objects.filter(key=key).exists():
            raise Refused(f"card {serial} may be keyed already. Nothing was written.")
        body = {"what": f"card {fact.data['serial']} may be keyed: {reason}", "serial": fact.data["serial"],
                "why": reason, "identity": identity}  # fmt: skip
        append([New(CARD_ADMITTED, key, body, fact.joint)], who)


def write_records(serial: str, author: str) -> tuple[int, tuple[str, ...]]:
    """Write the records of every proven page of a card that are not written yet; how many are new, and for each page
    that gave none the reason. Called after each keying; harmless when called again."""
    who = checked_author(author)
    fact = card_fact(serial)
    if fact is None:
        return 0, (f"no card {serial[:60]!r} was issued here",)
    scans = [one for one in pages_of(fact.joint) if one.page.serial == fact.data["serial"]]
    marks = marks_of(scans)
    states = {n: (kept, marks.state(kept.page)) for (_, n), kept in sorted(counting(scans, marks).items())}
    register.add_mapping(SCANNED_MAPPING, MAPPING_FILE, who)  # writes nothing when it is there
    name = read_mapping(SCANNED_MAPPING, MAPPING_FILE).name
    new, stuck = 0, []
    for number, (kept, state) in states.items():
        if state.stage != "proven" or not kept.page.passes:
            continue
        try:
            new += _write_page(kept, state, states, name, who)
        except (Refused, IntakeError, ValueError) as error:
            stuck.append(f"page {number}: {error}")
    return new, tuple(stuck)


def _write_page(
    kept: KeptPage, state: PageState, states: Mapping[int, tuple[KeptPage, PageState]], mapping: str, who: str
) -> int:
    (line,) = kept.page.passes
    heads = [one for other, one in states.values() if other.page.box("pass_tool") and line in other.page.passes]
    if not heads or heads[0].stage != "proven":
        raise Refused("the first sheet of this pass, with tool, name and date, is not proven yet")
    if said := withdrawn_from(kept):
        raise Refused(f"{said.by} withdrew the reading of its records on {said.at:%Y-%m-%d %H:%M} UTC: {said.why}. Set "
                      "the page aside for another scan of it; or, if its records count after all, a person takes the "
                      "file in again, on its page or by the command import")  # fmt: skip
    card = on_record(kept.page.serial)
    assert card is not None  # it was issued: its page has a joint
    facts_of_card = card_facts(kept)
    rows = rows_of(state, heads[0], facts_of_card)
    if not rows:
        return 0
    unit = _unit_of_series(kept, states)
    days = {row["date"] for row in rows if row["date"]}
    # The clock of the card has no zone: only a day that is later in every zone of the world is surely too late.
    if any(date.fromisoformat(day) > card.valid_until.date() + timedelta(days=1) for day in days) and not card.admitted:
        raise Refused(f"the card says the work was done on {max(days)}, after its time ({card.valid_until:%Y-%m-%d}): "
                      "look at the paper; if it is so, the lead decides whether it counts")  # fmt: skip
    data = keyed_file([row | {"unit": unit} for row in rows], now=datetime.now(UTC), scanned=True)
    file = f"card {kept.page.serial} page {kept.page.page} {digest(data.decode())[:8]}.csv"
    return taking.commit_file(file, data, mapping, who).new


def _unit_of_series(kept: KeptPage, states: Mapping[int, tuple[KeptPage, PageState]]) -> str:
    if not register.specification(kept.joint).series:
        return ""
    for other, state in states.values():
        if other.page.box("series") is not None:
            said = state.answer("series.0.0")
            if said is not None and said.state == "written":
                return said.text
    raise Refused("the joint is a series, and which unit it was is not proven: key the front of the card")
