"""The chapters of the demo on the cover that was opened: a contractor's list, a typed card, the crew's paper."""

from __future__ import annotations

from collections.abc import Sequence

from evenpull.demo import opened, story
from evenpull.demo.decisions import CLERK
from evenpull.demo.generate import scenario_plans
from evenpull.demo.teller import Teller
from evenpull.ledger.kinds import KINDS
from evenpull.proof.texts import counted
from evenpull.store import services
from evenpull.store.services.keying import key_in

ANSWERS = {"time.zone": "Europe/London"}


def contractors_list(tell: Teller) -> None:
    """Take in a list for which nobody has written a mapping: suggested, asked, previewed, confirmed."""
    tell.chapter("A contractor's list, in a layout nobody has seen")
    name, data = story.contractor_file(scenario_plans())
    found = services.suggest_mapping(name, data)
    for column in found.columns:
        taken = column.field or "left out"
        tell.say(f"{column.column}: {taken}, {column.sureness}: {column.reason}", 4, 6)
    for question in found.questions:
        answer = ANSWERS[question.key]
        tell.say(f"asked: {question.text} Answered by {CLERK}: {answer}", 4, 6)
    settled = services.suggest_mapping(name, data, ANSWERS)
    seen = services.preview_suggested(name, data, settled.text)
    tell.say(f"preview: {counted(len(seen.reading.tightenings), 'record')}, {seen.new} new", 4)
    done = services.commit_suggested(name, data, settled.text, CLERK)
    tell.say("taken in before: nothing changed" if done.already else f"taken in: {counted(done.new, 'record')}", 4)


def typed_card(tell: Teller) -> None:
    """The check pass, made with a wrench without memory, typed in from its card."""
    tell.chapter("A card of a wrench without memory is typed in")
    plan = scenario_plans()[opened.COVER]
    card = services.joint(opened.COVER).cards[0].serial
    rows = opened.typed(plan, card)
    done = key_in(rows, CLERK)
    again = key_in(rows, CLERK)
    tell.say(f"card {card}: {counted(len(rows), 'line')}; typed a second time they add "
             f"{counted(again.new, 'record')}.")  # fmt: skip
    if done.already:
        tell.say("typed in before: nothing changed", 4)


def crews_paper(tell: Teller) -> None:
    """Enter what stands on the crew's paper, each with when it happened and why it comes late."""
    tell.chapter(f"{opened.COVER} was opened: each fastener is open until proven again")
    tell.say(f"All of it is a late entry: {opened.REASON}.")
    _enter(tell, opened.before_work())
    _owed(tell)
    _enter(tell, opened.after_work())
    _owed(tell)


def _enter(tell: Teller, stated: Sequence[opened.Stated]) -> None:
    for one in stated:
        entry = services.add_entry(
            one.kind, one.name, one.values, one.by, fasteners=one.fasteners, at=one.at, basis=opened.BASIS,
            reason=opened.REASON, once=f"demo {one.kind} {one.at:%d %H %M} {one.values.get('part', '')}".strip(),
        )  # fmt: skip
        numbers = f", {one.fasteners}" if one.fasteners else ""
        words = "; ".join(entry.values.values())
        tell.point(f"{one.at:%d %B %H:%M}, {KINDS[entry.kind].label}{numbers}{': ' if words else ''}{words} ({one.by})")


def _owed(tell: Teller) -> None:
    """What is still owed on the fasteners of the cover."""
    owing = [state for state in services.joint(opened.COVER).proof.states if state.owed]
    if not owing:
        tell.say("Nothing is owed on any fastener.")
        return
    tell.say(f"Owed on {counted(len(owing), 'fastener')}; on number {owing[0].fastener}:")
    for text in owing[0].owed:
        tell.point(text, 6)
