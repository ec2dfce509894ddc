"""The table of flags: what each means, whether it blocks a release, what closes it, where the rule comes from.

This is the only place where that is said; docs/proof-rules.md is the same table, and a test keeps both equal.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.proof.actions import ANY, RECORD, REVIEW
from evenpull.proof.model import Action, FlagCode

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class FlagRule:
    """`blocks` in words; `closed_by` the dispositions that may close it; `no_accept_in` the joint classes (after
    VDI/VDE 2862) in which "accept as is" is refused."""

    code: FlagCode
    meaning: str
    blocks: str
    closed_by: tuple[Action, ...]
    source: str
    no_accept_in: tuple[str, ...] = ()


# In the order of weight: what stands first is reported first.
_RULES = (
    FlagRule(
        "specification stop",
        "The plan has a problem that forbids work by it.",
        "yes",
        (),
        "The specification has to be put right; no disposition closes it",
    ),
    FlagRule(
        "not to be loosened",
        "A fastener that holds the pressure by the joint file (gates.never_loosen) was loosened, removed, replaced or "
        "disturbed, by an entry or a record. Whether the joint was free of pressure is not for the program to say.",
        "yes",
        ("engineering review",),
        "Public accident reports: pressure-retaining fasteners loosened to get at something else",
    ),
    FlagRule(
        "loosened later",
        "A fastener was loosened, removed or replaced after it was tightened, and some pass has no "
        "accepted record since then.",
        "yes; a note once all passes are tightened again",
        ("redo", "replace"),
        "Public accident reports: an opened fastening is an open item until it is closed with proof",
    ),
    FlagRule(
        "under review",
        "A tool that tightened here was found out of tolerance, dropped or lost, or what it was calibrated with was "
        "wrong; the review of it asks for a disposition on this joint.",
        "yes, until a disposition of the review leaves nothing to be done; a note after that, and where every "
        "tightening was surely within its window",
        (),
        "Review of the impact of a calibration failure; it closes on the page of the review: " + PRACTICE,
    ),
    FlagRule(
        "open item",
        "A fastener was loosened, removed, disturbed, or is not complete, tightened, locked, marked or checked as the "
        "joint asks.",
        "yes",
        (),
        "Public accident reports: an opened fastening is an open item until it is closed with proof; it closes by the "
        "work being done and entered, no decision closes it",
    ),
    FlagRule(
        "loose again",
        "The same fastener was found loose a second time: stop and find the cause.",
        "yes",
        ("engineering review",),
        "Public accident reports: nuts found loose, put back, and found loose again",
    ),
    FlagRule(
        "leaking again",
        "The joint was found leaking a second time: tightening once more is no repair; stop and find the cause.",
        "yes",
        ("engineering review",),
        "Public accident reports: a leak tightened again and again",
    ),
    FlagRule(
        "gate not met",
        "Something that has to be met before the work, between passes or before the release is not met, and no "
        "exception with name and authority covers it.",
        "yes",
        (),
        "The specification of the joint; an exception is entered with the authority that grants it",
    ),
    FlagRule(
        "part not fit",
        "A part is used once too often, of a blocked lot, or its drag or protrusion is outside its window.",
        "yes",
        ("replace", "engineering review"),
        "Drag of locking nuts: FAA AC 43.13-1B par. 7-40; reuse: RCSC, from memory, not re-read",
    ),
    FlagRule(
        "found before tightening",
        "Before the tightening the gasket faces were not in order, or the fasteners had to pull the parts together, by "
        "the last entry about it.",
        "yes",
        ("accept as is", "engineering review"),
        "Faces and alignment: ASME PCC-1, not read; limits are the joint's: " + PRACTICE,
        ("A",),
    ),
    FlagRule(
        "curve finding",
        "The torque-angle curve of a tightening says re-hit, slip, cross-thread, bottomed, a part too many or missing, "
        "gasket, drag or yield (docs/curves.md): the load is not known, or fastener or thread may be harmed. Another "
        "pull on top proves nothing.",
        "yes",
        ("replace", "engineering review"),
        "Rules and limits of the curves: docs/curves.md; that a person looks before the release: " + PRACTICE,
    ),
    FlagRule(
        "curves contradict",
        "Two curves with different points name the same record, so that one of them is of another pull; or a curve "
        "states another fastener than its record.",
        "yes",
        ("accept as is", "engineering review"),
        PRACTICE,
        ("A",),
    ),
    FlagRule(
        "curve in doubt",
        "The torque-angle curve of a tightening says sensor fault, step order, stopped by the user or torque outside "
        "its window, or the curves of a file cannot be judged.",
        "yes",
        ("accept as is", "redo", "replace", "engineering review"),
        "Rules and limits of the curves: docs/curves.md; that a person looks before the release: " + PRACTICE,
        ("A",),
    ),
    FlagRule(
        "wrong direction",
        "The record says tightening and loosening at once (taken as loosening), or its direction "
        "is not understood (not judged).",
        "yes; a note once all passes are tightened again after a known loosening",
        ("redo", "replace", "engineering review", "not this joint"),
        PRACTICE,
    ),
    FlagRule(
        "missing",
        "No record for a fastener in a pass. Without any record at all, no decision releases the joint.",
        "yes",
        REVIEW,
        "Completeness by fastener and pass: public accident and recall reports",
        ("A",),
    ),
    FlagRule(
        "conflicting record",
        "Two different records have the same tool, memory and counter, or the same tool, counter and time.",
        "yes",
        ("engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "card and tool differ",
        "A line of a card and the memory of the tool tell of one pull, by unit, pass, fastener and tool, and not the "
        "same: values a last place or more apart, or another tool. Where they agree, the card's record is taken for a "
        "repeat.",
        "yes",
        ("engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "not proven",
        "Records lack fields of the minimum set (docs/records.md), so the event they tell of is not proven. A sign or "
        "word that fills an empty place (-, n/a, unknown) names nobody.",
        "yes",
        RECORD,
        "The minimum set: " + PRACTICE,
    ),
    FlagRule(
        "earlier revision",
        "A record was made under an earlier revision whose window differs, or before any revision was in force. It is "
        "judged by both.",
        "yes",
        RECORD,
        "Judged by the rule of that day: " + PRACTICE,
    ),
    FlagRule(
        "values copied",
        "The values of this joint are, digit for digit, those of another joint, or two passes or units of it have the "
        "same values.",
        "yes",
        ("redo", "engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "records missing",
        "The counter of a tool jumps between its records of this joint, and no record in the dossier fills the gap.",
        "yes",
        ("accept as is", "engineering review", "redo"),
        PRACTICE,
    ),
    FlagRule(
        "near-duplicate",
        "Torque and angle agree to the last digit with a record of another file within two seconds, by the same tool "
        "or on the same fastener.",
        "yes",
        ("accept as is", "engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "impossible pace",
        "Records of one tool follow each other faster than a person can go from one fastener to the next.",
        "yes",
        ("accept as is", "redo", "engineering review"),
        PRACTICE,
    ),
    FlagRule(
        "repeated values",
        "The same torque and angle stand in many records in a row, to the last digit.",
        "yes",
        ("accept as is", "redo", "engineering review"),
        PRACTICE,
    ),
    FlagRule(
        "no variance",
        "The values scatter less than the resolution and the tool allow.",
        "yes in class A; else a note",
        ("accept as is", "redo", "engineering review"),
        PRACTICE,
    ),
    FlagRule(
        "digit preference",
        "The last digits of the values are not spread as measured ones are.",
        "yes in class A; else a note",
        ("accept as is", "redo", "engineering review"),
        PRACTICE,
    ),
    FlagRule(
        "out of window",
        "The torque lies outside the window of its pass. A torque above the window blocks even when "
        "a later record is inside.",
        "yes",
        ANY,
        "The specification of the joint",
    ),
    FlagRule(
        "not reached",
        "The pull was stopped by the user, at a limit or by an error, so its target was not reached; "
        "or why it ended is not understood (not judged).",
        "yes",
        ANY,
        "A stop is not a tightening: " + PRACTICE,
    ),
    FlagRule(
        "angle out of window",
        "The angle of the last pass lies outside its window. It blocks even when a later record is inside.",
        "yes",
        ANY,
        "The specification of the joint",
    ),
    FlagRule(
        "moved on check pass",
        "A fastener turned more than the limit on a check pass, and no later check of all fasteners shows rest.",
        "yes; a note once a later check of all shows no movement",
        ("accept as is", "redo", "replace", "engineering review"),
        "Last pass until nothing moves: ASME PCC-1, from memory, not re-read",
    ),
    FlagRule("no torque", "The record has no torque.", "yes", RECORD, PRACTICE),
    FlagRule(
        "no angle",
        "The rule needs an angle (angle window, movement on the check pass) and the record has none.",
        "yes",
        RECORD,
        PRACTICE,
    ),
    FlagRule("wrong tool", "The tool is not allowed for this joint.", "yes", ANY, "The specification of the joint"),
    FlagRule(
        "tool not known",
        "The record names no tool, or an allowed one that is not in the register.",
        "yes",
        RECORD,
        "ISO 9001:2015 7.1.5.2 (traceable measuring equipment)",
    ),
    FlagRule(
        "certificate not valid",
        "The certificate of the tool did not cover the day of use.",
        "yes",
        RECORD,
        "ISO 9001:2015 7.1.5.2 (traceable measuring equipment)",
    ),
    FlagRule(
        "tool stated otherwise",
        "The certificate, adapter, multiplier, pump, gauge or setting that the record states is not what the register "
        "says of its tool on that day.",
        "yes; a note where only the setting differs and still gives a torque inside the window",
        RECORD,
        "Which chain and which certificate made the value is part of the record (docs/records.md): " + PRACTICE,
    ),
    FlagRule(
        "tool not fit",
        "On the day of the pull the tool was not fit for it: chain not complete, class, direction, range, limits on "
        "use, cycles, setting, or the probability of a false acceptance is too large.",
        "a note: the gate 'tool fit' is then not met, and blocks until an exception covers it",
        RECORD,
        "Fit for the purpose: ISO 10012:2003 7.2, from memory; probability: JCGM 106:2012 7.4 and 8",
    ),
    FlagRule(
        "doubled",
        "More than one record in one place. The last one counts; when the order is not known, none does.",
        "yes; a note on a check pass, for a touch-up, and when no earlier record was accepted or above the "
        "window and the last one is accepted",
        ("accept as is", "engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "out of order",
        "A pass was begun on some fasteners before the pass before it was complete (d3), a fastener was tightened "
        "after the last check pass (d3), or the order within a pass differs from the plan (d1, d2).",
        "d3: yes with strict_passes and on a check pass; d1, d2: yes with strict_order; else a note",
        REVIEW,
        "First step on all before the second: EN 1090-2 8.5, from memory, not re-read",
    ),
    FlagRule(
        "pass not complete",
        "A pass has records although the pass before it has never been complete.",
        "a note: what lacks there blocks by its own flag",
        REVIEW,
        "First step on all before the second: EN 1090-2 8.5, from memory, not re-read",
    ),
    FlagRule(
        "pass not stated",
        "The record does not state its pass. It was told from the torque and the order, or it could not be told.",
        "yes where it could not be told; else a note",
        RECORD,
        PRACTICE,
    ),
    FlagRule(
        "unknown pass",
        "The record names a pass that the plan does not have, or one that contradicts its kind: a touch-up "
        "checks nothing, a check pass tightens nothing.",
        "yes",
        RECORD,
        PRACTICE,
    ),
    FlagRule(
        "unknown fastener",
        "The record names a fastener number beyond the count.",
        "yes",
        ("accept as is", "engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "extra",
        "The record does not fit the units of the joint: a series record without a unit, or several units "
        "on a joint that is no series.",
        "yes",
        ("accept as is", "engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "unread row",
        "A row names this joint but could not be read.",
        "yes",
        ("accept as is", "engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
    FlagRule(
        "time in doubt",
        "The time of a record is missing, doubtful, or against its counter.",
        "yes where the day of use, or a binding order, cannot be known; else a note",
        RECORD,
        "Order by counter first, by clock second: " + PRACTICE,
    ),
    FlagRule(
        "source disagrees",
        "The source's own verdict differs from ours.",
        "yes when the source rejects what these rules accept; else a note",
        RECORD,
        PRACTICE,
    ),
    FlagRule(
        "clock event",
        "The clock of a tool jumped (summer time, reset to a default date, set by hand); times across it are not "
        "compared.",
        "a note",
        RECORD,
        "Order by counter first, by clock second: " + PRACTICE,
    ),
    FlagRule(
        "corrected",
        "A person corrected a field of a record; the old value stays readable.",
        "a note; yes when it does not fit the record, or changes what a loosening opened",
        RECORD,
        "Corrections stay traceable: 21 CFR 11.10(e)",
    ),
    FlagRule(
        "late entry",
        "Something was written long after it happened.",
        "a note",
        RECORD,
        "Late entries are visible: 21 CFR 11.10(e)",
    ),
    FlagRule(
        "curves and records",
        "Curves of the joint without their record, or records without a curve.",
        "a note",
        ("accept as is", "engineering review"),
        PRACTICE,
    ),
    FlagRule(
        "reading withdrawn",
        "A person took back the reading of a file; its records no longer count. Decisions and signatures that rested "
        "on it stay as they were made and do not count for what is there now.",
        "a note",
        RECORD,
        "Corrections stay traceable: 21 CFR 11.10(e)",
    ),
    FlagRule(
        "decimal shift suspected",
        "A decimal sign moved by one or two places would bring the value into the window.",
        "a note: the value blocks as out of window, or as a record whose pass is not known",
        RECORD,
        PRACTICE,
    ),
    FlagRule(
        "digits transposed",
        "Two neighbouring digits exchanged would bring the value into the window (the difference is divisible by 9).",
        "a note: the value blocks as out of window, or as a record whose pass is not known",
        RECORD,
        PRACTICE,
    ),
    FlagRule(
        "unit slip suspected",
        "Another unit would bring the value into the window.",
        "a note: the value blocks as out of window, or as a record whose pass is not known",
        RECORD,
        "Factors between the units of torque",
    ),
    FlagRule(
        "prevailing not recorded",
        "The target includes a drag; whether it was measured is not in the records.",
        "a note",
        ("accept as is", "engineering review"),
        "Drag of locking nuts: FAA AC 43.13-1B par. 7-40",
    ),
    FlagRule(
        "not a proving event",
        "A residual check (one by loosening counts as loosening), a pull on a check device, or a loosening before any "
        "tightening proves no place of the plan; an event that is not understood is not judged.",
        "yes where the event is not understood; else a note",
        ("accept as is", "engineering review", "not this joint", "superseded"),
        PRACTICE,
    ),
)
RULES: dict[FlagCode, FlagRule] = {rule.code: rule for rule in _RULES}
WEIGHT: dict[FlagCode, int] = {rule.code: place for place, rule in enumerate(_RULES)}


def refusal(code: FlagCode, action: Action, joint_class: str) -> str:
    """Why this disposition cannot close a flag of this code in a joint of this class; "" when it can."""
    rule = RULES[code]
    if action not in rule.closed_by:
        allowed = ", ".join(rule.closed_by) or "none: the specification has to be put right"
        return f"{action!r} cannot close {code!r}; allowed: {allowed}"
    if action == "accept as is" and joint_class in rule.no_accept_in:
        allowed = ", ".join(name for name in rule.closed_by if name != action)
        return f"'accept as is' cannot close {code!r} in a joint of class {joint_class}; allowed: {allowed}"
    return ""


def table_rows() -> list[tuple[str, str, str, str, str]]:
    """Flag, meaning, blocking, closed by, source: the rows of docs/proof-rules.md."""
    rows: list[tuple[str, str, str, str, str]] = []
    for rule in _RULES:
        actions = [
            name
            + (
                f" (not in class {', '.join(rule.no_accept_in)})"
                if name == "accept as is" and rule.no_accept_in
                else ""
            )
            for name in rule.closed_by
        ]
        rows.append((rule.code, rule.meaning, rule.blocks, ", ".join(actions) or "none", rule.source))
    return rows
