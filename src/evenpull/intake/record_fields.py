"""Every field that a tightening record may need, and where it is kept here. docs/records.md is made from this table.

One row is one event on one fastener. Without the fields of the minimum set the event is not proven.
`kept` names places by prefix, and a test looks each of them up:

    record: X       field X of `intake.record.Tightening`       particular: X   a further field of the record by name
    entry: K.F      field F of the entries of kind K            entry: K        the entry itself (`ledger.kinds`)
    joint file: X   key X of a joint file                       tool file: X    key X of a tool file
    equipment file: X   key X of a register of equipment        certificate file: X   key X of a typed certificate
    fact: X         column X of the fact in the log             disposition: X  field X of a disposition
    finding: X      computed and computed again: cell, flag or proof
    else            in words
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Group = Literal[
    "identity", "requirement in force then", "result", "tool chain", "time", "people", "material", "condition",
    "judgement", "decisions and corrections",
]  # fmt: skip
NO_SOURCE = "common practice, no source"
MEMORY = "from memory, not re-read"
ISO_TOOLS = "ISO 9001:2015 7.1.5.2"
AUDIT_TRAIL = "21 CFR 11.10(e)"


@dataclass(frozen=True)
class RecordField:
    """`lack`: what is said when it is missing ("flag: ..." names the flag); "" where nothing is said."""

    number: int
    label: str
    group: Group
    minimum: bool
    form: str
    kept: tuple[str, ...]
    lack: str
    source: str


def _f(
    number: int, label: str, form: str, kept: tuple[str, ...], source: str = NO_SOURCE, *, lack: str = "",
    minimum: bool = False,
) -> RecordField:
    return RecordField(number, label, _group(number), minimum, form, kept, lack, source)


def _group(number: int) -> Group:
    lasts: tuple[tuple[int, Group], ...] = (
        (9, "identity"), (16, "requirement in force then"), (24, "result"), (29, "tool chain"), (32, "time"),
        (37, "people"), (42, "material"), (44, "condition"), (46, "judgement"), (51, "decisions and corrections"),
    )  # fmt: skip
    return next(group for last, group in lasts if number <= last)


RECORD_FIELDS = (
    _f(1, "event id, given once", "place in the log", ("fact: seq", "fact: key"), AUDIT_TRAIL, minimum=True,
       lack="cannot be missing: the log gives it"),
    _f(2, "source key: tool, memory, counter and raw hash; card, pass and line where no tool counts",
       "texts and a whole number",
       ("record: tool", "record: epoch", "record: counter", "record: raw_sha256", "particular: card",
        "particular: card_line"), minimum=True, lack="without a counter and a line the file and row stand for it"),
    _f(3, "hash of the raw row; hash chain of the log", "SHA-256",
       ("record: raw_sha256", "record: file_sha256", "fact: digest", "the signed checkpoints of the log"), AUDIT_TRAIL),
    _f(4, "joint, with check character", "text", ("record: joint", "entry: identity confirmed.check"), minimum=True,
       lack="the row stays unread and is shown with its file"),
    _f(5, "second identity, not from the same source", "text",
       ("particular: second_identifier", "entry: identity confirmed.second_text")),
    _f(6, "fastener, map and side it is counted from", "whole number; texts",
       ("record: fastener", "record: unit_id", "particular: side", "joint file: joint.viewed_from",
        "joint file: joint.first_fastener", "joint file: joint.numbering"), minimum=True, lack="flag: unread row"),
    _f(7, "pass, its name and stage", "whole number; text; percent",
       ("record: pass_number", "particular: pass_name", "particular: stage_percent", "joint file: procedure.passes"),
       f"Steps of EN 1090-2 8.5, {MEMORY}", minimum=True, lack="flag: pass not stated"),
    _f(8, "kind of event: first, step, check pass, touch-up, re-tighten after service, loosen, remove, replace, "
       "residual check, check-device pull", "one of these words",
       ("record: event", "entry: loosened", "entry: removed"),
       f"A touch-up is no reuse: RCSC specification, {MEMORY}", minimum=True,
       lack="flag: not proven (where the pass is not stated either)"),
    _f(9, "work order, permit, isolation", "texts",
       ("particular: work_order", "particular: permit", "particular: isolation", "entry: isolation confirmed.permit",
        "entry: isolation confirmed.isolation")),
    _f(10, "specification, revision, document and place of the value, approver", "texts; the joint file as it was",
       ("joint file: source.document", "joint file: source.revision", "joint file: source.place",
        "joint file: source.approved_by", "joint file: source.in_force_from", "particular: specification",
        "particular: specification_revision", "particular: specification_place", "particular: approved_by"),
       minimum=True, lack="a joint file without it is refused; flag: earlier revision"),
    _f(11, "method", "torque, torque and angle",
       ("joint file: target.method", "particular: method", "entry: method change.to"),
       f"VDI 2230-1, RCSC specification, EN 1090-2, {MEMORY}", minimum=True, lack="a joint file without it is refused"),
    _f(12, "target and limits, with the unit as written", "torques",
       ("joint file: target.torque", "joint file: target.preload", "joint file: target.utilisation",
        "joint file: target.tolerance", "record: torque_unit", "particular: target", "particular: lower",
        "particular: upper"), minimum=True,
       lack="a joint file without it is refused; flag: not proven (unit of the torque)"),
    _f(13, "threshold torque, angle target and window", "torque; angles",
       ("joint file: target.angle", "joint file: target.angle_window", "particular: threshold_torque",
        "particular: angle_target", "particular: angle_lower", "particular: angle_upper")),
    _f(14, "drag: within the value, added to it, or none", "torque; text",
       ("joint file: target.prevailing_torque", "particular: drag_rule"), "FAA AC 43.13-1B par. 7-40",
       lack="flag: prevailing not recorded"),
    _f(15, "load aim, basis of friction, predicted load", "force; three numbers; text",
       ("joint file: target.preload", "joint file: friction.mu_G", "joint file: friction.mu_K",
        "joint file: friction.K", "joint file: friction.basis", "particular: load_aim", "particular: friction_basis"),
       f"VDI 2230-1, {MEMORY}"),
    _f(16, "copied from, and what differs", "id of a joint",
       ("joint file: source.copied_from", "joint file: second_source.torque", "particular: copied_from")),
    _f(17, "value and unit as received, and its SI value", "text; N.m",
       ("record: torque_text", "record: torque_unit", "record: torque", "record: angle_text", "record: angle",
        "record: received_cells"), minimum=True, lack="flag: no torque"),
    _f(18, "highest torque, torque at the end, angles, duration", "torques; angles; text",
       ("particular: peak_torque", "particular: end_torque", "record: angle", "particular: total_angle",
        "particular: duration")),
    _f(19, "direction, and why it ended", "words", ("record: direction", "record: end_cause", "record: result_text",
       "record: source_verdict"), lack="flag: wrong direction; flag: not reached"),
    _f(20, "drag measured", "torque",
       ("particular: drag", "entry: drag measured.drag", "joint file: parts.drag_window"),
       "FAA AC 43.13-1B par. 7-40", lack="open item of the fastener, where the joint asks for it"),
    _f(21, "curve", "where it is kept; SHA-256", ("particular: trace", "particular: trace_hash")),
    _f(22, "movement on the check pass", "angle",
       ("record: angle", "particular: movement", "joint file: procedure.movement_limit"),
       lack="flag: no angle (where the joint states a limit, and neither angle nor movement is there)"),
    _f(23, "witness mark, locking device", "texts",
       ("particular: mark", "particular: locking", "entry: mark made", "entry: locking fitted.device",
        "entry: as found.marks", "joint file: parts.witness_mark", "joint file: parts.locking"),
       lack="open item of the fastener, where the joint asks for it"),
    _f(24, "elongation or tension read, and how", "length; force; text",
       ("particular: elongation", "particular: tension", "particular: tension_method", "entry: load read.elongation",
        "entry: load read.tension", "entry: load read.method")),
    _f(25, "tool, its type and class", "texts",
       ("record: tool", "particular: tool_type", "particular: tool_class", "tool file: tool.serial",
        "tool file: tool.kind", "equipment file: torque_tool.serial", "equipment file: torque_tool.type_class",
        "equipment file: assembly.parts"), ISO_TOOLS, minimum=True, lack="flag: tool not known"),
    _f(26, "multiplier and ratio, adapter with length and angle, pump and gauge", "texts; number; length; angle",
       ("particular: multiplier", "particular: multiplier_ratio", "particular: adapter", "particular: adapter_length",
        "particular: adapter_angle", "particular: pump", "particular: gauge", "tool file: tool.multiplier_ratio",
        "tool file: tool.adapter.name", "tool file: tool.adapter.length", "tool file: tool.adapter.angle",
        "equipment file: multiplier.ratio", "equipment file: adapter.length", "equipment file: adapter.angle",
        "equipment file: pump.serial", "equipment file: gauge.serial", "equipment file: assembly.parts"),
       minimum=True,
       lack="the register stands for it; a record that says otherwise is flagged: tool stated otherwise"),
    _f(27, "setting dialled, and the correction used", "text in the tool's unit",
       ("particular: setting", "particular: correction", "the settings printed on the card"), minimum=True,
       lack="the setting that the plan gives stands for it; another one is flagged: tool stated otherwise"),
    _f(28, "calibration certificate valid at that moment, next due, limits", "texts; days",
       ("tool file: tool.certificate", "tool file: tool.certificate_from", "tool file: tool.certificate_until",
        "tool file: tool.range", "particular: certificate", "particular: certificate_due",
        "particular: certificate_limit", "certificate file: certificate.number",
        "certificate file: certificate.valid_from", "certificate file: certificate.valid_until",
        "certificate file: certificate.limit.range", "certificate file: certificate.interval.cycles"),
       ISO_TOOLS, minimum=True,
       lack="flags: certificate not valid; tool not fit; where the record states another: tool stated otherwise"),
    _f(29, "last shift check", "torques; device; moment",
       ("entry: shift check.device_value", "entry: shift check.device", "particular: shift_check")),
    _f(30, "time as received, and its basis", "text; zone", ("record: time_text", "record: time_basis", "record: time",
       "record: time_doubt"), minimum=True, lack="flag: not proven; flag: time in doubt"),
    _f(31, "corrected time with its uncertainty", "moment; seconds",
       ("entry: clock contact.tool_clock", "entry: clock contact.true_clock", "entry: clock contact.uncertainty",
        "entry: clock set", "computed from the contacts of the tool's clock"), lack="no order is asserted by time"),
    _f(32, "when and by whom it was received or keyed in", "moment; name",
       ("fact: received_at", "fact: written_at", "fact: author", "particular: keyed_by"), AUDIT_TRAIL, minimum=True,
       lack="cannot be missing: the log gives it"),
    _f(33, "who worked", "name", ("record: operator",), minimum=True, lack="flag: not proven"),
    _f(34, "qualification on that day", "text; days",
       ("entry: qualification.qualification", "entry: qualification.from", "entry: qualification.until",
        "joint file: gates.qualification", "particular: qualification"),
       "EN 1591-4; ASME PCC-1 appendix A; neither read", lack="gate qualification, where the joint asks for it"),
    _f(35, "second person at the tool", "name", ("particular: second_person", "entry: hand-over.to")),
    _f(36, "independent checker, and what was seen", "name; text",
       ("entry: checked.seen", "entry: checked.result", "joint file: gates.independent_check", "particular: checker",
        "particular: seen"), lack="gate independent check, where the joint asks for it"),
    _f(37, "hours on shift, days in a row", "numbers",
       ("entry: duty.hours", "entry: duty.days", "particular: hours_on_shift", "particular: days_in_row")),
    _f(38, "bolt, nut, washer: part number, marking, coating, lot, heat", "texts",
       ("particular: bolt_part", "particular: bolt_lot", "particular: nut_part", "particular: nut_lot",
        "particular: washer_part", "particular: washer_lot", "particular: marking", "particular: coating",
        "particular: heat", "entry: parts fitted.part_number", "entry: parts fitted.marking",
        "entry: parts fitted.coating", "entry: parts fitted.lot", "entry: parts fitted.heat",
        "entry: lot received.heat", "joint file: fasteners.lot", "joint file: parts.lots_needed"),
       lack="open item of the fastener, where the joint asks for it"),
    _f(39, "new or used, which use", "words; whole number",
       ("particular: condition", "particular: use", "entry: parts fitted.condition", "entry: parts fitted.use",
        "joint file: parts.single_use", "joint file: parts.most_uses"), f"RCSC specification, {MEMORY}",
       lack="open item of the fastener, where the joint asks for it"),
    _f(40, "protrusion, stack complete", "threads; yes or no",
       ("particular: protrusion", "particular: stack_complete", "entry: protrusion seen.threads",
        "entry: parts fitted.complete", "joint file: parts.protrusion", "joint file: parts.stack"),
       lack="open item of the fastener, where the joint asks for it"),
    _f(41, "gasket, its lot; faces and grooves", "texts",
       ("particular: gasket", "particular: gasket_lot", "particular: face_condition", "entry: parts fitted.part",
        "entry: parts fitted.lot", "entry: faces seen.result", "entry: faces seen.seen"), "ASME PCC-1, not read"),
    _f(42, "lubricant, its lot, where it was applied", "texts",
       ("particular: lubricant", "particular: lubricant_lot", "particular: lubricant_applied",
        "joint file: friction.lubricant", "entry: conditions.lubricant", "entry: conditions.lubricant_lot",
        "entry: conditions.applied")),
    _f(43, "temperature, wet or dry, cleanliness", "temperature; texts",
       ("particular: temperature", "particular: wetness", "particular: cleanliness", "entry: conditions.temperature",
        "entry: conditions.wetness", "entry: conditions.cleanliness")),
    _f(44, "gap and alignment before tightening, pulled in", "lengths; yes or no",
       ("particular: gap", "particular: gap_least", "particular: pulled_in", "entry: alignment.gap",
        "entry: alignment.gap_least", "entry: alignment.offset", "entry: alignment.pulled_in")),
    _f(45, "verdict, flags, version of the rules", "accepted, not accepted, not judged",
       ("finding: verdict", "finding: flags", "finding: rules"), minimum=True,
       lack="cannot be missing: computed from the facts at any time"),
    _f(46, "measurement uncertainty used", "share of the reading",
       ("tool file: tool.uncertainty", "certificate file: certificate.point.uncertainty")),
    _f(47, "decision on each flag: who, when, why", "name; moment; text",
       ("disposition: action", "disposition: reason", "disposition: by", "disposition: at"), "ISO 9001:2015 8.7",
       minimum=True, lack="the flag stays open, and the joint is not released"),
    _f(48, "correction: what stood there, what is right, who, when, why", "texts",
       ("entry: correction.record", "entry: correction.field", "entry: correction.old", "entry: correction.new"),
       AUDIT_TRAIL, minimum=True, lack="without one nothing is corrected: a record is never changed"),
    _f(49, "late entry: claimed time, how the writer knows", "moment; words; text",
       ("every entry keeps when it happened, when it was written, the basis and the reason", "particular: late_basis",
        "particular: late_reason"), AUDIT_TRAIL, lack="an entry written more than a day later is refused without it"),
    _f(50, "paper: card, image of the page, keyed in twice, who resolved", "texts",
       ("particular: card", "particular: page_image", "particular: keyed_by", "particular: keyed_again_by",
        "particular: resolved_by", "entry: card returned.card", "entry: card lost.card")),
    _f(51, "how long it is kept, legal hold", "text; years",
       ("joint file: keeping.retention", "joint file: keeping.years", "entry: hold.matter",
        "entry: hold lifted.matter")),
)  # fmt: skip
