"""Joints, records and findings for the report's tests: a real plan, records written pull by pull, proof put together
by hand so that the report is tested apart from the judgement."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from typing import Any

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.plan import Plan, make_plan, read_specification, read_tools
from evenpull.proof.model import Cell, Decision, Disposition, Flag, PassSummary, Proof
from evenpull.report import (
    CardIssued,
    FileReceived,
    LogState,
    ReportContext,
    Signature,
    SpecificationReceived,
)
from tests.report.toml_texts import SPEC, TOOLS

DAY = datetime(2026, 3, 18, 13, 40, tzinfo=UTC)
GENERATED = datetime(2026, 3, 20, 9, 5, tzinfo=UTC)
FILE = sha256(b"tool-store-2026-03-18.csv").hexdigest()


def plan(
    count: int = 16,
    passes: str = "[30, 70, 100]",
    checks: int = 1,
    *,
    kind: str = "gasketed flange",
    thread: str = "M24",
    circle: int = 470,
    torque: str = "520 N.m",
    tolerance: float = 5,
    required: str = 'required_preload = "95 kN"',
    more: str = "",
) -> Plan:
    limit = 'movement_limit = "5 deg"' if checks else ""
    text = SPEC.format(
        count=count,
        passes=passes,
        checks=checks,
        kind=kind,
        thread=thread,
        circle=circle,
        torque=torque,
        tolerance=tolerance,
        required=required,
        limit=limit,
        more=more,
    )
    return make_plan(read_specification(text, "kn-cw-014.toml"), read_tools(TOOLS, "tools.toml"), date(2026, 3, 18))


def series_plan(units: str = "workpiece") -> Plan:
    return plan(
        2,
        "[100]",
        0,
        kind="general assembly",
        thread="M3",
        circle=20,
        torque="1.4 N.m",
        tolerance=14.285714,
        required="",
        more=f'[series]\nunit_name = "{units}"',
    )


def record(
    plan: Plan, fastener: int, pass_number: int, torque: float | None, at: datetime | None, number: int, **changes: Any
) -> Tightening:
    text = "" if torque is None else f"{torque:.1f}".replace(".", ",")
    raw = f"{number};{fastener};{pass_number};{text}"
    made = Tightening(
        FILE,
        number + 2,
        plan.spec.id,
        "",
        fastener,
        pass_number,
        "step",
        torque,
        text,
        "N.m",
        None,
        "",
        "tighten",
        "reached",
        "IN",
        "accepted",
        "TW-0219",
        900 + number,
        "",
        "R. Fjeldgaard",
        "" if at is None else f"{at:%d.%m.%Y %H:%M:%S}",
        at,
        "Europe/London",
        "",
        {"No": str(fastener), "Torque": text},
        sha256(raw.encode()).hexdigest(),
        (),
    )
    return replace(made, **changes)


def pulls(plan: Plan, unit: str = "", start: datetime = DAY, seed: int = 3, first: int = 1) -> list[Tightening]:
    """Every planned pull, in order, within the window."""
    draw = random.Random(seed)
    made: list[Tightening] = []
    at = start
    for one in plan.passes:
        for group in one.order:
            for fastener in group:
                torque = one.torque * (1 + draw.uniform(-0.02, 0.02))
                angle = math.radians(draw.uniform(0, 2) if one.check else draw.uniform(10, 34))
                made.append(
                    record(
                        plan,
                        fastener,
                        one.number,
                        round(torque, 3),
                        at,
                        first + len(made),
                        unit_id=unit,
                        angle=angle,
                        angle_text=f"{math.degrees(angle):.1f}",
                        event="check pass" if one.check else "step",
                    )
                )
                at += timedelta(seconds=45)
        at += timedelta(minutes=10)
    return made


def proof(
    plan: Plan,
    records: Iterable[Tightening],
    *,
    units: tuple[str, ...] = ("",),
    flags: tuple[Flag, ...] = (),
    dispositions: tuple[Disposition, ...] = (),
    unread: int = 0,
    repeated: int = 0,
) -> Proof:
    """Window and direction only: enough to fill a report."""
    received = list(records)
    by_place: dict[tuple[str, int, int | None], list[Tightening]] = {}
    for r in received:
        by_place.setdefault((r.unit_id, r.fastener, r.pass_number), []).append(r)
    cells = []
    made_flags = list(flags)
    for unit in units:
        for one in plan.passes:
            for fastener in range(1, plan.spec.fasteners.count + 1):
                found = tuple(by_place.get((unit, fastener, one.number), ()))
                keys = [f.key for f in flags if (f.unit_id, f.fastener, f.pass_number) == (unit, fastener, one.number)]
                proving = found[-1] if found else None
                if proving is None:
                    cells.append(Cell(unit, fastener, one.number, "not judged", "no record", None, (), tuple(keys)))
                    continue
                if proving.torque is None:
                    verdict, reason = "not judged", "the record has no torque"
                elif one.lower <= proving.torque <= one.upper:
                    verdict, reason = "accepted", f"{proving.torque:g} N.m"
                else:
                    verdict = "not accepted"
                    reason = f"{proving.torque:g} N.m is outside {one.lower:g} to {one.upper:g} N.m"
                    flag = Flag(
                        f"out of window|{plan.spec.id}|{unit}|{fastener}|{one.number}|{proving.key}",
                        "out of window",
                        True,
                        unit,
                        fastener,
                        one.number,
                        (proving.key,),
                        f"No. {fastener}, pass {one.number}: {reason}.",
                    )
                    made_flags.append(flag)
                    keys.append(flag.key)
                cells.append(Cell(unit, fastener, one.number, verdict, reason, proving, found, tuple(keys)))  # type: ignore[arg-type]
    decided = {d.flag_key for d in dispositions}
    summaries = []
    for one in plan.passes:
        of = [c for c in cells if c.pass_number == one.number]
        values = [c.proving.torque for c in of if c.proving and c.proving.torque is not None]
        mean = sum(values) / len(values) if values else None
        deviation = None
        if mean is not None and len(values) > 1:
            deviation = math.sqrt(sum((v - mean) ** 2 for v in values) / (len(values) - 1))
        summaries.append(
            PassSummary(
                one.number,
                len(of),
                sum(c.verdict == "accepted" for c in of),
                sum(c.verdict == "not accepted" for c in of),
                sum(c.verdict == "not judged" for c in of),
                len(values),
                min(values, default=None),
                mean,
                max(values, default=None),
                deviation,
                0,
                0,
                0,
            )
        )
    open_flags = tuple(f for f in made_flags if f.blocking and f.key not in decided)
    return Proof(
        plan.spec.id,
        "proof-1",
        tuple(cells),
        tuple(made_flags),
        open_flags,
        dispositions,
        tuple(summaries),
        units,
        len(received),
        unread,
        repeated,
    )


RELEASED = Decision("released", ("All planned tightenings are proven and accepted.",), (), True)
SIGNATURE = Signature(
    "M. Okonjo-Reyes",
    "I have read the records and the flags of this joint and take responsibility for its release.",
    "Released for the pressure test after the dwell of four hours.",
    datetime(2026, 3, 20, 9, 1, 30, tzinfo=UTC),
    "ed25519:3f1c9a7e0b5d2c48",
    "5b" * 64,
    sha256(b"release").hexdigest(),
)


def context(plan: Plan, records: Iterable[Tightening], **changes: Any) -> ReportContext:
    tools = read_tools(TOOLS, "tools.toml")
    made = ReportContext(
        generated_at=GENERATED,
        versions={"evenpull": "0.1.0", "judgement": "proof-1"},
        specification=SpecificationReceived(
            "KN-SPEC-0114", "C", datetime(2026, 3, 1, 8, 0, tzinfo=UTC), "M. Okonjo-Reyes", plan.spec.digest
        ),
        log=LogState(412, sha256(b"root").hexdigest(), "checkpoint 17"),
        tightenings=tuple(records),
        register=tools,
        files=(
            FileReceived(
                "tool-store-2026-03-18.csv",
                FILE,
                18_412,
                datetime(2026, 3, 19, 7, 30, tzinfo=UTC),
                "J. Mwangale",
                "store log, semicolons",
            ),
        ),
        cards=(
            CardIssued(
                "KN-CW-014-0001-K",
                datetime(2026, 3, 18, 6, 0, tzinfo=UTC),
                datetime(2026, 3, 20, 6, 0, tzinfo=UTC),
                "M. Okonjo-Reyes",
            ),
        ),
    )
    return replace(made, **changes)


def troubled(plan16: Plan) -> tuple[Plan, Proof, Decision, ReportContext]:
    """The 16 x M24 flange with most kinds of trouble: missing, out of window, moved, unread, time in doubt."""
    records = pulls(plan16)
    spec = plan16.spec
    kept = []
    for r in records:
        if (r.fastener, r.pass_number) == (11, 3):
            continue
        if (r.fastener, r.pass_number) == (5, 3):
            r = replace(r, torque=471.5, torque_text="471,5")
        if (r.fastener, r.pass_number) == (9, 2):
            r = replace(r, torque=None, torque_text="see card")
        if (r.fastener, r.pass_number) == (11, 4):
            r = replace(r, angle=math.radians(23.5), angle_text="23,5")
        if r.fastener in (15, 16):
            r = replace(r, tool="TW-0252")
        if (r.fastener, r.pass_number) == (2, 1):
            r = replace(r, time=None, time_text="31.02.2026 13:41:00", time_doubt="31 February does not exist")
        kept.append(r)
    moved = next(r for r in kept if (r.fastener, r.pass_number) == (11, 4))
    late = [r for r in kept if r.tool == "TW-0252"]
    flags = (
        Flag(
            f"missing|{spec.id}||11|3|", "missing", True, "", 11, 3, (), "No. 11 has no record in pass 3 of 3 (100 %)."
        ),
        Flag(
            f"moved on check pass|{spec.id}||11|4|{moved.key}",
            "moved on check pass",
            True,
            "",
            11,
            4,
            (moved.key,),
            "No. 11 turned 23.5° on the check pass, more than 5 deg: another check pass is needed.",
        ),
        Flag(
            f"no torque|{spec.id}||9|2|",
            "no torque",
            True,
            "",
            9,
            2,
            (),
            "No. 9, pass 2: the record has no torque (“see card”).",
        ),
        Flag(
            f"out of order|{spec.id}||7|2|",
            "out of order",
            False,
            "",
            7,
            2,
            (),
            "No. 7 was pulled three places early in pass 2.",
        ),
        Flag(
            f"certificate not valid|{spec.id}||15||{late[0].key}",
            "certificate not valid",
            True,
            "",
            15,
            None,
            tuple(r.key for r in late),
            "TW-0252 was used on 2026-03-18; its certificate KNC-26-0340 ended on 2026-03-17.",
        ),
    )
    dispositions = (
        Disposition(
            flags[4].key,
            "engineering review",
            "Compared with TW-0219 on the check device on 2026-03-19: both agree within 1 %; report KN-CD-0088.",
            "M. Okonjo-Reyes",
            datetime(2026, 3, 19, 15, 20, tzinfo=UTC),
        ),
        Disposition(
            flags[2].key,
            "redo",
            "To be pulled again in pass 2 and 3.",
            "M. Okonjo-Reyes",
            datetime(2026, 3, 19, 15, 25, tzinfo=UTC),
        ),
    )
    found = proof(plan16, kept, flags=flags, dispositions=dispositions, unread=2, repeated=12)
    decision = Decision(
        "not released",
        (
            "No. 11 has no record in pass 3 of 3 (100 %): nothing shows that it was tightened to 520 N·m.",
            "No. 11 turned 23.5° on the check pass, more than 5°; another check pass is needed.",
            "No. 5 ended at 471.5 N·m in pass 3; accepted is 494 to 546 N·m.",
        ),
        ("Tighten again after a dwell of at least four hours and before pressure comes on.",),
        False,
    )
    unread = tuple(
        UnreadRow(FILE, row, raw, code, reason, sha256(raw.encode()).hexdigest())
        for row, raw, code, reason in (
            (31, "31.02.2026;13:55:02;KN-CW-014;2;1;157,2;N.m;IN", "no-such-date", "31.02.2026 is not a date"),
            (
                58,
                "18.03.2026;14:40:02;KN-CW-014;6;2;see card;N.m;IN",
                "not-a-number",
                "torque: “see card” is not a number",
            ),
        )
    )
    return plan16, found, decision, context(plan16, kept, unread=unread)
