"""KN-CW-026, a cover that was opened: what happened, from the isolation to the leak test, by many sources.

Passes 1 and 2 lie in the memory of the store's wrenches, read out two weeks later. Pass 3 stands in a contractor's
spreadsheet, the check pass on a card of a wrench without memory, and all else on the crew's paper. Number 6 was struck
after the check pass: it was pulled again, and as that takes load from its neighbours, all eight were checked again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from evenpull.card import joint_check_character
from evenpull.demo.pulls import Pull, Scatter, number_readings, work_pass
from evenpull.ledger.entry import Basis
from evenpull.plan.model import Plan

COVER = "KN-CW-026"
HOME, CONTRACTOR, SECOND = "R. Fjeldgaard", "H. Vance-Aldous", "L. Merriweather-Oduya"
FOREMAN = "T. Abernethy-Voss"
SITE = ZoneInfo("Europe/London")
_MEMORY = {"TW-0207": 4213, "TW-0219": 966}  # where the earlier files of these wrenches end
_CARD = "sheets of 24 and 26 March, kept with the job"


@dataclass(frozen=True)
class Stated:
    """One entry of the crew's paper. `at`: local time at the site."""

    kind: str
    values: Mapping[str, str]
    by: str
    at: datetime
    fasteners: str = ""
    name: str = COVER


def _pulls(plan: Plan) -> tuple[list[Pull], list[Pull], list[Pull]]:
    """Passes 1 and 2 with what was done on number 6 again; pass 3; the check pass, twice."""
    scatter = Scatter(31)
    first = work_pass(plan, plan.passes[0], datetime(2026, 3, 24, 13, 5), scatter, tools="TW-0207", operator=HOME,
                      angle=(10.0, 24.0))  # fmt: skip
    second = work_pass(plan, plan.passes[1], datetime(2026, 3, 24, 13, 32), scatter, tools="TW-0219", operator=HOME,
                       angle=(16.0, 30.0))  # fmt: skip
    third = work_pass(plan, plan.passes[2], datetime(2026, 3, 24, 15, 10), scatter, tools="BS-118",
                      operator=CONTRACTOR, angle=(12.0, 22.0))  # fmt: skip
    check = work_pass(plan, plan.passes[3], datetime(2026, 3, 24, 19, 40), scatter, tools="TW-0252", operator=HOME,
                      angle=(0.0, 2.0), share=0.01)  # fmt: skip
    again = [
        Pull(plan.spec.id, 6, step.number, len(plan.passes), False, step.torque * (1.0 + 0.02 * scatter.draw()), 11.0,
             "TW-0207" if step.number == 1 else "TW-0219", HOME,
             datetime(2026, 3, 26, 9, 20) + timedelta(minutes=4 * step.number))
        for step in plan.passes[:3]
    ]  # fmt: skip
    check += work_pass(plan, plan.passes[3], datetime(2026, 3, 26, 9, 40), scatter, tools="TW-0252", operator=HOME,
                       angle=(0.0, 2.0), share=0.01)  # fmt: skip
    return number_readings(first + second + again, _MEMORY), number_readings(third, {"BS-118": 1402}), check


def memory(plan: Plan) -> list[Pull]:
    """What the memories of the store's wrenches hold of it."""
    return _pulls(plan)[0]


def contractors(plan: Plan) -> list[Pull]:
    """What the contractor's spreadsheet holds."""
    return _pulls(plan)[1]


def typed(plan: Plan, card: str) -> list[dict[str, str]]:
    """Both check passes as they are typed in from the card."""
    return [
        {
            "joint": pull.joint, "fastener": str(pull.fastener), "pass": str(pull.pass_number), "event": "check pass",
            "torque": f"{pull.torque:.0f}", "torque unit": "N.m", "angle": f"{pull.angle:.1f}", "tool": pull.tool,
            "operator": pull.operator, "date": f"{pull.at:%Y-%m-%d}", "time": f"{pull.at:%H:%M}",
            "zone": "Europe/London", "card serial": card, "card line": str(line), "basis": "from paper",
        }
        for line, pull in enumerate(_pulls(plan)[2], start=1)
    ]  # fmt: skip


def _day(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=SITE)


def before_work() -> tuple[Stated, ...]:
    """Who may do it, which joint it is, that no energy is left, what was seen, and what was undone."""
    return (
        Stated("qualification", {"qualification": "flange assembly", "issued_by": "Kestrel Narrows school",
                                 "from": "2024-09-02", "until": "2027-09-01"}, FOREMAN, _day(24, 7), name=CONTRACTOR),
        Stated("identity confirmed", {"tag": COVER, "check": joint_check_character(COVER), "second_source": "drawing",
                                      "second_text": f"gallery 2, sheet 7, {COVER}"}, FOREMAN, _day(24, 7, 20)),
        Stated("isolation confirmed", {"permit": "P-26-0417", "isolation": "I-26-0391", "proven_by": "E. Drummond-Saar",
                                       "how": "vent and drain open, no flow, gauge at zero"}, FOREMAN, _day(24, 7, 35)),
        Stated("as found", {"leaking": "no", "marks": "broken", "loose": "3",
                            "words": "mark of number 3 off by an eighth of a turn"}, FOREMAN, _day(24, 7, 50)),
        Stated("loosened", {"why": "strainer basket to be changed"}, FOREMAN, _day(24, 8, 10), "1-8"),
        Stated("removed", {"why": "cover lifted"}, FOREMAN, _day(24, 8, 40), "1-8"),
    )  # fmt: skip


def after_work() -> tuple[Stated, ...]:
    """Parts, faces, hand-over, marks, what was struck, second person, test, dwell."""
    stack = {"condition": "used", "use": "2", "complete": "yes"}
    return (
        Stated("faces seen", {"result": "in order", "seen": "old gasket off, no scratch across the face"}, FOREMAN,
               _day(24, 11, 30)),
        Stated("parts fitted", {"part": "gasket", "condition": "new", "lot": "KL-7760"}, FOREMAN, _day(24, 12, 10)),
        Stated("parts fitted", {"part": "bolt", **stack}, FOREMAN, _day(24, 12, 30), "1-8"),
        Stated("parts fitted", {"part": "nut", "condition": "new", "lot": "KL-7761"}, FOREMAN, _day(24, 12, 30), "1-8"),
        Stated("hand-over", {"from": HOME, "to": CONTRACTOR, "pass": "2"}, FOREMAN, _day(24, 14, 50)),
        Stated("disturbed", {"why": "scaffold tube fell on it"}, FOREMAN, _day(26, 8, 30), "6"),
        Stated("parts fitted", {"part": "bolt", "condition": "used", "use": "2", "complete": "yes"}, FOREMAN,
               _day(26, 9), "6"),
        Stated("parts fitted", {"part": "nut", "condition": "new", "lot": "KL-7761"}, FOREMAN, _day(26, 9), "6"),
        Stated("mark made", {}, FOREMAN, _day(26, 10), "1-8"),
        Stated("checked", {"seen": "all eight marks in line, two washers each, number 6 pulled again in my sight",
                           "result": "in order"}, SECOND, _day(26, 10, 30)),
        Stated("follow-up done", {"follow_up": "dwell round", "result": "in order",
                                  "found": "no nut moved more than 2 degrees"}, SECOND, _day(26, 13, 55)),
        Stated("test", {"test": "leak test", "value": "6 bar, 30 min", "result": "passed"}, SECOND, _day(26, 14, 30)),
    )  # fmt: skip


BASIS: Basis = "from paper"
REASON = "no device may be carried into gallery 2; " + _CARD
