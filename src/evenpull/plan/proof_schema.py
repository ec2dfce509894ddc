"""The tables of a joint file about proof: parts, gates, follow-ups, keeping. All of them may be left out."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Annotated

from pydantic import PlainValidator

from evenpull.plan.keys import YES_NO, Table, key
from evenpull.plan.model import FollowUpRule as Rule
from evenpull.plan.model import GateRules, Keeping, PartRules
from evenpull.plan.values import (
    Flag,
    Share,
    Text,
    Texts,
    choice,
    finite,
    number_within,
    quantity,
    quantity_range,
    refuse,
    shown,
)
from evenpull.quantities import Measured

PARTS = ("bolt", "stud", "nut", "washer", "gasket", "insert", "pin", "other")
FOLLOW_UPS = ("dwell re-tightening", "start-up check", "re-tighten after service", "inspection",
              "delayed-fracture inspection", "review")  # fmt: skip
FROM = ("tightening", "start-up", "release")
BEFORE = ("pressure", "service")
_USES = re.compile(r"(\w+) ([1-9][0-9]?)")


def _parts(value: object) -> tuple[str, ...]:
    allowed = "a list of parts: " + ", ".join(PARTS)
    if not isinstance(value, list) or not value:
        raise refuse(f"{shown(value)} is not a list of parts", allowed)
    for item in value:
        if item not in PARTS:
            raise refuse(f"{shown(item)} is not a part", allowed)
    if len(set(value)) < len(value):
        raise refuse("a part stands in the list more than once", "each only once")
    return tuple(value)


def _uses(value: object) -> tuple[str, ...]:
    allowed = 'part and number, 1 to 99: ["bolt 3", "nut 2"]'
    if not isinstance(value, list) or not value:
        raise refuse(f"{shown(value)} is not a list of uses", allowed)
    found = []
    for item in value:
        match = _USES.fullmatch(item) if isinstance(item, str) else None
        if match is None or match[1] not in PARTS:
            raise refuse(f"{shown(item)} is not a part with a number of uses", allowed)
        found.append(match[1])
    if len(set(found)) < len(found):
        raise refuse("a part stands in the list more than once", "each only once")
    return tuple(value)


def _threads(value: object) -> tuple[float, float]:
    allowed = "least and most threads beyond the nut, rising: [1, 4]"
    if not isinstance(value, list) or len(value) != 2:
        raise refuse(f"{shown(value)} is not least and most", allowed)
    low, high = (finite(item) for item in value)
    if not 0 <= low < high <= 100:
        raise refuse(f"{shown(value)} does not rise from 0 to 100", allowed)
    return low, high


def _never(value: object) -> tuple[int, ...]:
    """The numbers; () stands for all, so that the count need not be known here."""
    allowed = 'numbers of fasteners, rising, or "all": [1, 4, 7]'
    if value in ("all", ["all"]):
        return ()
    if not isinstance(value, list) or not value or len(value) > 200:
        raise refuse(f"{shown(value)} is no list of fasteners", allowed)
    for item in value:
        if isinstance(item, bool) or not isinstance(item, int) or not 1 <= item <= 200:
            raise refuse(f"{shown(item)} is not the number of a fastener", allowed)
    if any(one >= other for one, other in pairwise(value)):
        raise refuse(f"{shown(value)} does not rise", allowed)
    return tuple(value)


Parts = Annotated[tuple[str, ...], PlainValidator(_parts)]
Uses = Annotated[tuple[str, ...], PlainValidator(_uses)]
Threads = Annotated[tuple[float, float], PlainValidator(_threads)]
Never = Annotated[tuple[int, ...], PlainValidator(_never)]
Distance = Annotated[Measured, quantity("length", 1.0, 1e10)]
Amount = Annotated[float, number_within(0.001, 1e9, "an amount this can be")]


class PartsTable(Table):
    single_use: Parts | None = key("parts that are new each time; an entry says so", '["nut", "gasket"]', None,
                                   allowed=", ".join(PARTS))
    most_uses: Uses | None = key("in how many tightenings a part may be used, the present one counted", '["bolt 3"]',
                                 None, allowed="part and number")
    lots_needed: Parts | None = key("parts whose lot has to be stated", '["bolt", "nut"]', None,
                                    allowed=", ".join(PARTS))
    drag_window: Annotated[tuple[Measured, Measured], quantity_range("torque", 1e-3, 1e6)] | None = key(
        "run-down torque of each self-locking nut, least and most; it has to be measured", '["6 N.m", "18 N.m"]', None,
        allowed="two torques, rising; with target.prevailing_torque", unit="N.m, lbf.ft")
    locking: Text | None = key("locking device to be fitted after the last pull", '"split pin"', None, allowed="text")
    protrusion: Threads | None = key("threads beyond the nut, least and most; to be seen at each fastener", "[1, 4]",
                                     None, allowed="two numbers, rising")
    witness_mark: Flag = key("a witness mark is drawn across each fastener after the last pull", "true", False,
                             allowed="true or false", choices=YES_NO)
    stack: Texts = key("parts of which each fastener consists; an entry says that all are in place",
                       '["bolt", "2 washers", "nut"]', (), allowed="list of texts")


class GatesTable(Table):
    identity: Flag = key("two sources name the joint before the first loosening or pull", "true", False,
                         allowed="true or false", choices=YES_NO)
    isolation: Flag = key("permit, isolation and zero energy are stated before the first loosening or pull", "true",
                          False, allowed="true or false", choices=YES_NO)
    independent_check: Flag = key("a person who is no operator of the joint sees every fastener after the last pull",
                                  "true", False, allowed="true or false", choices=YES_NO)
    qualification: Text | None = key("what each operator must be qualified for on the day", '"flange assembly"', None,
                                     allowed="text, as in the entries on persons")
    test: Text | None = key("test to be passed after the last pull", '"leak test"', None, allowed="text")
    never_loosen: Never | None = key(
        "fasteners that hold the pressure and are never loosened while the joint is under pressure; printed beside the "
        "map on the card, and flagged when one is opened", '"all"', None, allowed='all, or numbers, rising: [1, 4, 7]')


class FollowUpTable(Table):
    name: Text = key("name of the follow-up; the entry that it is done names it", '"after 500 h"', allowed="text")
    kind: Annotated[str, choice(*FOLLOW_UPS)] = key("what kind of work", '"re-tighten after service"',
                                                    choices=FOLLOW_UPS)
    counted_from: Annotated[str, choice(*FROM)] = key("what it is counted from", '"start-up"', "tightening",
                                                      choices=FROM)
    days: Amount | None = key("calendar days; 4 h are 0.1667; the earliest of all triggers counts", "180", None,
                              allowed="number")
    hours: Amount | None = key("running hours", "500", None, allowed="number")
    distance: Distance | None = key("distance run", '"50 km"', None, allowed="length", unit="km, m")
    cycles: Amount | None = key("cycles", "40", None, allowed="number")
    early: Share | None = key("how much before a trigger it may be done, share of the trigger", '"10 %"', None,
                              allowed="share, at most 30 %")
    late: Annotated[float, number_within(0, 10, "a lateness this can be")] | None = key(
        "how much after a trigger it is overdue, times the trigger", "0.1", None, allowed="0 to 10")
    before: Annotated[str, choice(*BEFORE)] | None = key("has to be done before this, whatever the triggers say",
                                                         '"pressure"', None, choices=BEFORE)
    owner: Text | None = key("who sees to it", '"shift lead"', None, allowed="text")
    source: Text | None = key("where the rule comes from", '"KN-SPEC-0114, 6.3"', None, allowed="text")


class KeepingTable(Table):
    retention: Text = key("how long the records are kept, in words", '"life of the plant"', allowed="text")
    years: Annotated[float, number_within(0.5, 200, "a time records are kept")] | None = key(
        "years after the release; left out: no end", "30", None, allowed="0.5 to 200")


def part_rules(read: PartsTable | None) -> PartRules:
    if read is None:
        return PartRules()
    uses = dict(one.split(" ") for one in read.most_uses or ())
    most = {part: int(number) for part, number in uses.items()}
    return PartRules(
        read.single_use or (), most, read.lots_needed or (), read.drag_window, read.locking or "",
        read.protrusion, read.witness_mark, read.stack,
    )  # fmt: skip


def gate_rules(read: GatesTable | None, count: int) -> GateRules:
    """`count`: fasteners of the joint."""
    if read is None:
        return GateRules()
    never = read.never_loosen
    return GateRules(
        read.identity, read.isolation, read.independent_check, read.qualification or "", read.test or "",
        () if never is None else never or tuple(range(1, count + 1)),
    )  # fmt: skip


def follow_up_rules(read: tuple[FollowUpTable, ...]) -> tuple[Rule, ...]:
    return tuple(
        Rule(
            one.name, one.kind, one.counted_from, one.days, one.hours,  # type: ignore[arg-type]
            one.distance.si if one.distance else None, one.cycles, one.early or 0.0, one.late or 0.0,
            one.before or "", one.owner or "", one.source or "",  # type: ignore[arg-type]
        )
        for one in read
    )  # fmt: skip


def keeping(read: KeepingTable | None) -> Keeping:
    return Keeping() if read is None else Keeping(read.retention, read.years)
