"""What the crews of Kestrel Narrows did and how it was written down, slips included.

Every slip built in here stands in kestrel_narrows/truth.toml (and, as a table, in docs/demo-truth.md); a test runs the
whole demo and finds exactly these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from evenpull.demo import opened
from evenpull.demo.layouts import bench_book, contractor_sheet, foot_pound_list, pump_list, semicolon_log
from evenpull.demo.pulls import Pull, Scatter, change, drop, index_of, number_readings, work_pass
from evenpull.plan.model import Plan
from evenpull.quantities import from_si


@dataclass(frozen=True)
class RecordFile:
    """One file as a tool wrote it, and the name of the mapping that describes it."""

    name: str
    mapping: str
    data: bytes


def record_files(plans: Mapping[str, Plan]) -> tuple[RecordFile, ...]:
    """The files of the demo in the order in which they came in.

    `plans`: plan of each joint by its id (KeyError when one of the scenario is missing).
    """
    first, second = _store_wrenches(plans["KN-CW-008"], plans["KN-CW-014"])
    return (
        RecordFile("tool-store-2026-03-18.csv", "store log, semicolons", first),
        RecordFile("tool-store-2026-03-19.csv", "store log, semicolons", second),
        RecordFile(
            "machine-hall-2026-03-23.xlsx",
            "bench book, nested headings",
            _machine_hall(plans["KN-BH-021"], plans["KN-GB-006"]),
        ),
        RecordFile(
            "generator-hall-2026-03-24.csv",
            "foot-pound list, month first",
            _foot_pounds(plans["KN-ST-003"], plans["KN-GA-030"]),
        ),
        RecordFile("hub-pumps-2026-03-29.txt", "pump list, one row per pass", _hub_pumps(plans["KN-TB-001"])),
        RecordFile(
            "tool-store-2026-04-08.csv", "store log, semicolons", semicolon_log(opened.memory(plans[opened.COVER]))
        ),
    )


def contractor_file(plans: Mapping[str, Plan]) -> tuple[str, bytes]:
    """Name and bytes of the list that a contractor sent, in a layout for which nobody has written a mapping."""
    return "brae-skerry-march.xlsx", contractor_sheet(opened.contractors(plans[opened.COVER]))


def _store_wrenches(small: Plan, large: Plan) -> tuple[bytes, bytes]:
    """Cooling-water gallery: the 8 x M16 flange almost clean, the 16 x M24 flange with most of the slips."""
    crew = "J. Mwangale"
    scatter = Scatter(8)
    pulls: list[Pull] = []
    start = datetime(2026, 3, 17, 9, 12, 0)
    for step in small.passes:
        turned = (0.0, 1.5) if step.check else (8.0, 30.0)
        pulls += work_pass(small, step, start, scatter, tools="TW-0207", operator=crew, angle=turned)
        start += timedelta(minutes=14)
    # Number 4 in the last pass: the fitter let go too early, then pulled again to the signal.
    place = index_of(pulls, small.spec.id, 4, 3)
    pulls.insert(
        place,
        replace(pulls[place], torque=117.6, stopped_by_hand=True, at=pulls[place].at - timedelta(seconds=19)),
    )

    joint = large.spec.id
    by_number = {n: "TW-0252" if n in (15, 16) else "TW-0219" for n in range(1, large.spec.fasteners.count + 1)}
    scatter = Scatter(14)
    start = datetime(2026, 3, 18, 13, 40, 0)
    work: list[Pull] = []
    for step in large.passes[:3]:
        work += work_pass(
            large, step, start, scatter, tools=by_number, operator="R. Fjeldgaard", angle=(10.0, 34.0), seconds=45
        )
        start += timedelta(minutes=25)
    drop(work, joint, 11, 3)
    change(work, joint, 5, 3, torque=471.5)
    change(work, joint, 2, 1, written={"day": "31.02.2026"})
    change(work, joint, 6, 2, written={"torque": "see card"})
    change(work, joint, 13, 2, written={"joint": "KN-CW-041"})
    unit_slip = from_si(work[index_of(work, joint, 9, 2)].torque, "lbf.ft")
    change(work, joint, 9, 2, written={"torque": f"{unit_slip:.1f}".replace(".", ",")})

    check = work_pass(
        large,
        large.passes[3],
        datetime(2026, 3, 19, 8, 5, 0),
        scatter,
        tools=by_number,
        operator="R. Fjeldgaard",
        angle=(0.0, 2.0),
        seconds=45,
    )
    # Left out in the last pass, so it turns when the check pass reaches it.
    change(check, joint, 11, 4, angle=23.5)

    numbered = number_readings(pulls + work + check, {"TW-0207": 4180, "TW-0219": 911, "TW-0252": 302})
    first, later = numbered[: len(pulls) + len(work)], numbered[len(pulls) + len(work) :]
    # The memory of TW-0219 was read out a second time: its last twelve readings come again.
    again = [pull for pull in first if pull.tool == "TW-0219"][-12:]
    return semicolon_log(first), semicolon_log(again + later)


def _machine_hall(bearing: Plan, cover: Plan) -> bytes:
    """Bearing housing without a fault; gearbox cover with one bolt that turned too far and was replaced."""
    pulls: list[Pull] = []
    scatter = Scatter(21)
    start = datetime(2026, 3, 23, 8, 30, 0)
    for step in bearing.passes:
        turned = (0.0, 1.0) if step.check else (12.0, 22.0)
        pulls += work_pass(
            bearing, step, start, scatter, tools="TW-0241", operator="S. Tamblyn", angle=turned, seconds=25
        )
        start += timedelta(minutes=6)
    scatter = Scatter(6)
    start = datetime(2026, 3, 23, 10, 45, 0)
    for step in cover.passes:
        turned = (20.0, 32.0) if step.number == len(cover.passes) else (6.0, 14.0)
        pulls += work_pass(
            cover, step, start, scatter, tools="TW-0244", operator="S. Tamblyn", angle=turned, seconds=30
        )
        start += timedelta(minutes=9)
    change(pulls, cover.spec.id, 7, 2, angle=71.5)
    # Bolt and nut 7 were replaced and tightened in both passes.
    after = datetime(2026, 3, 23, 11, 40, 0)
    for step, angle in zip(cover.passes, (10.4, 26.8), strict=True):
        torque = step.torque * (1.0 + 0.02 * scatter.draw())
        pulls.append(
            Pull(
                cover.spec.id, 7, step.number, len(cover.passes), False, torque, angle, "TW-0244", "S. Tamblyn",
                after + timedelta(minutes=4 * step.number), new_part=True,
            )
        )  # fmt: skip
    counted = number_readings(pulls, {"TW-0241": 2210, "TW-0244": 655})
    return bench_book(counted, "Kestrel Narrows, machine hall, unit 2: pulls of 23 March")


def _foot_pounds(splice: Plan, foot: Plan) -> bytes:
    """Gantry splice with one bolt taken to the second step too early; exciter foot with a loan wrench out of date."""
    scatter = Scatter(3)
    first = work_pass(
        splice, splice.passes[0], datetime(2026, 3, 20, 10, 5, 0), scatter, tools="TW-0233", operator="I. Brannoch"
    )
    second = work_pass(
        splice, splice.passes[1], datetime(2026, 3, 20, 10, 31, 0), scatter, tools="TW-0233", operator="I. Brannoch"
    )
    # Number 7 got its second step right after its first, while six bolts had no first step yet.
    place = index_of(second, splice.spec.id, 7, 2)
    early = second.pop(place)
    at = first[index_of(first, splice.spec.id, 7, 1)].at + timedelta(seconds=15)
    first.insert(index_of(first, splice.spec.id, 7, 1) + 1, replace(early, at=at))

    scatter = Scatter(30)
    pulls = first + second
    start = datetime(2026, 3, 24, 13, 50, 0)
    tools = {1: "TW-0233", 2: "TW-0260", 3: "TW-0233", 4: "TW-0260"}
    for step in foot.passes:
        pulls += work_pass(foot, step, start, scatter, tools=tools, operator="I. Brannoch", share=0.02)
        start += timedelta(minutes=12)
    return foot_pound_list(number_readings(pulls, {"TW-0233": 40, "TW-0260": 0}), "GH-2")


def _hub_pumps(ring: Plan) -> bytes:
    """Blade-root ring in the night in which the clocks go forward; the hoses of one pump were swapped for a while."""
    scatter = Scatter(1)
    joint = ring.spec.id
    wrenches = ("HW-0031", "HW-0032")
    pulls: list[Pull] = []
    starts = (datetime(2026, 3, 28, 21, 5, 0), datetime(2026, 3, 28, 22, 20, 0), datetime(2026, 3, 29, 0, 6, 0))
    for step, start in zip(ring.passes, starts, strict=True):
        pulls += work_pass(
            ring, step, start, scatter, tools=wrenches, operator="D. Okereke-Holm", seconds=150, share=0.02
        )
    # The last pair came after the break, by a panel clock that nobody had put forward: 01:30 did not exist that night.
    for pull in (pulls[-2], pulls[-1]):
        change(
            pulls, joint, pull.fastener, 3,
            written={"stamp": f"2026-03-29T01:30:{12 if pull is pulls[-2] else 15}"},
        )  # fmt: skip
    # A wrench that was not on the list, on one nut in the second pass.
    change(pulls, joint, 17, 2, tool="TM-0044")
    # Number 20 was pulled a second time in the last pass.
    twice = pulls[index_of(pulls, joint, 20, 3)]
    pulls.insert(
        index_of(pulls, joint, 20, 3) + 1,
        replace(twice, torque=twice.torque * 1.006, at=twice.at + timedelta(seconds=40)),
    )
    # The panel's own limits are wider than the specification's.
    change(pulls, joint, 8, 3, torque=1376.0)
    after = datetime(2026, 3, 29, 2, 12, 0)
    total = len(ring.passes)
    loosened = [
        Pull(joint, number, 3, total, False, 1095.0, 0.0, "HW-0032", "D. Okereke-Holm", after + timedelta(minutes=i))
        for i, number in enumerate((26, 29))
    ]
    pulls += [replace(pull, loosening=True) for pull in loosened]
    # Number 26 was noticed at once and tightened again in all passes, number 29 was not.
    for i, step in enumerate(ring.passes):
        pulls.append(
            Pull(
                joint, 26, step.number, total, False, step.torque * (1.0 + 0.02 * scatter.draw()), 0.0, "HW-0031",
                "D. Okereke-Holm", after + timedelta(minutes=6 + 2 * i),
            )
        )  # fmt: skip
    return pump_list(number_readings(pulls, {"HW-0031": 7702, "HW-0032": 5120, "TM-0044": 88}), total)
