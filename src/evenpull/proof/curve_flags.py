"""What the torque-angle curves of a joint say against its tightenings, as flags. The curves themselves are judged by
the rules of `evenpull.curve`; here it only counts which of their verdicts were found, and on which record."""

from __future__ import annotations

from collections import defaultdict

from evenpull.plan.model import Plan
from evenpull.proof.flags import FlagBook
from evenpull.proof.model import FlagCode
from evenpull.proof.surroundings import CurveSaid, CurvesHere, Surroundings
from evenpull.proof.texts import at_place, counted, some

# Verdicts after which the load is not known, or the fastener or its thread may be harmed: another pull proves nothing.
HARM = (
    "re-hit", "slip or stripping", "cross-thread or early seating", "bottomed", "extra part", "missing part",
    "soft or lost gasket", "seized or drag high", "yield suspected",
)  # fmt: skip
LOOK = "look before it is released"


def flag_curves(plan: Plan, around: Surroundings, book: FlagBook) -> None:
    """One flag for each curve on which something was found and that names its fastener, one for each file and verdict
    where it does not; one for each record with two different curves; a note on what has no partner."""
    here = around.curves
    if here is None:
        return
    nameless: dict[tuple[int, FlagCode, str], list[CurveSaid]] = defaultdict(list)
    for one in here.said:
        code: FlagCode = "curve finding" if set(one.verdicts) & set(HARM) else "curve in doubt"
        if one.fastener is None:
            nameless[one.file, code, ", ".join(one.verdicts)].append(one)
            continue
        step = None if one.pass_number is None else plan.pass_by_number(one.pass_number)
        unit = one.unit if plan.spec.series else ""
        known = 1 <= one.fastener <= plan.spec.fasteners.count and step is not None
        book.add(
            code,
            f"{at_place(plan.spec, unit, one.fastener, step)}: curve {one.run} ({one.name}"
            f"{'' if one.record else ', no record of it is here'}) says {', '.join(one.verdicts)}: {LOOK}. "
            f"{'; '.join(one.words)}",
            blocking=True,
            unit=unit,
            fastener=one.fastener,
            pass_number=one.pass_number if step is not None else None,
            records=(one.record,) if one.record else (),
            places=((unit, one.fastener, step.number),) if known and step is not None else (),
            name=f"curve {one.file}.{one.number} {', '.join(one.verdicts)}",
        )
    for (file, code, verdicts), found in sorted(nameless.items()):
        book.add(
            code,
            f"{counted(len(found), 'curve')} of {found[0].name} ({some([one.run for one in found])}) without fastener "
            f"and record: {verdicts}: {LOOK}. {found[0].words[0]}",
            blocking=True,
            name=f"curves {file} {verdicts}",
        )
    for number, name, n in here.more:
        book.add("curve finding", f"{n:,} more curves of {name} say something ({LOOK}): show them with: evenpull "
                 "curves show", blocking=True, name=f"more curves {number} {n}")
    for name, why in here.unjudged:
        book.add("curve in doubt", f"the curves of {name} cannot be judged: {why}", blocking=True, name=f"file {name}")
    _flag_twice(plan, here, book)
    _flag_alone(here, book)


def _flag_twice(plan: Plan, here: CurvesHere, book: FlagBook) -> None:
    for one in here.twice:
        unit = one.unit if plan.spec.series else ""
        step = None if one.pass_number is None else plan.pass_by_number(one.pass_number)
        book.add(
            "curves contradict",
            f"{at_place(plan.spec, unit, one.fastener, step)}: {len(one.curves)} curves name the record {one.record}, "
            f"with different points ({some(list(one.curves))}): which of them is the pull is not known",
            blocking=True,
            unit=unit,
            fastener=one.fastener,
            pass_number=None if step is None else step.number,
            records=(one.record,),
            name="curves " + ", ".join(one.curves)[:300],
        )
    if here.differ:
        said = "states another fastener than its record" if here.differ == 1 else (
            "state other fasteners than their records")
        book.add("curves contradict", f"{counted(here.differ, 'curve')} {said}: one of both is wrong", blocking=True,
                 name=f"fasteners {here.differ}")
    if here.conflicts > len(here.twice):
        more = here.conflicts - len(here.twice)
        book.add("curves contradict", f"{more} more records have curves with different points", blocking=True,
                 name="more curves")


def _flag_alone(here: CurvesHere, book: FlagBook) -> None:
    said = [
        (here.bare, "record", "has no curve", "have no curve"),
        (here.without, "curve", "names a record that is not here", "name records that are not here"),
        (here.keyless, "curve", "names no tool and counter", "name no tool and counter"),
        (here.elsewhere, "curve", "has its record on another joint", "have their records on another joint"),
        (here.again, "curve", "came a second time with the same points", "came a second time with the same points"),
    ]
    words = [f"{counted(n, what)} {one if n == 1 else many}" for n, what, one, many in said if n]
    if words:
        book.add("curves and records", f"{counted(here.curves, 'curve')} of this joint: {'; '.join(words)}",
                 blocking=False, name="curves and records")

