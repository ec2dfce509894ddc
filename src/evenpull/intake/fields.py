"""The further fields that a record may carry beyond its columns of their own: particulars, by name and form.

A quantity keeps its text and gets an SI value; everything else is a text as it was received.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.quantities import Kind


@dataclass(frozen=True, slots=True)
class Particulars:
    """One field. `quantity` is its dimension, None for a text."""

    name: str
    meaning: str
    quantity: Kind | None = None


_FIELDS = (
    # identity
    Particulars("second_identifier", "second identity of the joint, not from the same source"),
    Particulars("side", "map and side from which the fasteners are counted"),
    Particulars("stage_percent", "stage of the pass in percent"),
    Particulars("pass_name", "name of the pass as the source writes it"),
    Particulars("work_order", "work order"),
    Particulars("permit", "permit number"),
    Particulars("isolation", "isolation number"),
    # requirement as the source knew it
    Particulars("specification", "specification that the source names"),
    Particulars("specification_revision", "its revision"),
    Particulars("specification_place", "page, table or line of the value in it"),
    Particulars("approved_by", "who approved it, as the source says"),
    Particulars("method", "method that the source names"),
    Particulars("target", "target", "torque"),
    Particulars("lower", "lower limit of the source", "torque"),
    Particulars("upper", "upper limit of the source", "torque"),
    Particulars("threshold_torque", "torque from which the angle is counted", "torque"),
    Particulars("angle_target", "target angle", "angle"),
    Particulars("angle_lower", "lower limit of the angle", "angle"),
    Particulars("angle_upper", "upper limit of the angle", "angle"),
    Particulars("drag_rule", "whether the value includes the drag"),
    Particulars("load_aim", "load that the torque is meant to give", "force"),
    Particulars("friction_basis", "friction or nut factor that the source names, with its basis"),
    Particulars("copied_from", "sheet that this one was copied from"),
    # result
    Particulars("peak_torque", "highest torque", "torque"),
    Particulars("end_torque", "torque at the end", "torque"),
    Particulars("total_angle", "whole angle", "angle"),
    Particulars("duration", "duration of the pull"),
    Particulars("drag", "drag measured (run-down torque)", "torque"),
    Particulars("trace", "where the curve is kept"),
    Particulars("trace_hash", "SHA-256 of the curve"),
    Particulars("movement", "movement on a check pass", "angle"),
    Particulars("mark", "witness mark made or intact"),
    Particulars("locking", "locking device fitted"),
    Particulars("elongation", "elongation of the fastener", "length"),
    Particulars("tension", "tension read", "force"),
    Particulars("tension_method", "how elongation or tension was read"),
    # tool chain
    Particulars("tool_type", "type and class of the tool"),
    Particulars("tool_class", "class of the tool, where it stands apart"),
    Particulars("multiplier", "serial of the multiplier"),
    Particulars("multiplier_ratio", "its ratio"),
    Particulars("adapter", "id of the adapter"),
    Particulars("adapter_length", "length of the adapter", "length"),
    Particulars("adapter_angle", "angle of the adapter", "angle"),
    Particulars("pump", "serial of the pump"),
    Particulars("gauge", "serial of the gauge"),
    Particulars("setting", "what was dialled, in the tool's unit"),
    Particulars("correction", "correction between torque and setting that was used"),
    Particulars("certificate", "calibration certificate that the source names"),
    Particulars("certificate_due", "when the source says that it ends"),
    Particulars("certificate_limit", "limited range or other limit of the certificate"),
    Particulars("shift_check", "last shift check that the source names"),
    # people
    Particulars("qualification", "qualification of who worked, as the source names it"),
    Particulars("second_person", "second person at the tool or the reaction"),
    Particulars("checker", "who checked it"),
    Particulars("seen", "what was seen"),
    Particulars("hours_on_shift", "hours on shift"),
    Particulars("days_in_row", "days in a row"),
    # material
    Particulars("bolt_part", "part number of the bolt or stud"),
    Particulars("bolt_lot", "lot of the bolt or stud"),
    Particulars("nut_part", "part number of the nut"),
    Particulars("nut_lot", "lot of the nut"),
    Particulars("washer_part", "part number of the washer"),
    Particulars("washer_lot", "lot of the washer"),
    Particulars("heat", "heat of the material"),
    Particulars("marking", "grade marking seen"),
    Particulars("coating", "coating"),
    Particulars("condition", "new or used"),
    Particulars("use", "which use of the part it is"),
    Particulars("protrusion", "threads beyond the nut"),
    Particulars("stack_complete", "all parts of the fastener in place"),
    Particulars("gasket", "type of the gasket"),
    Particulars("gasket_lot", "lot of the gasket"),
    Particulars("face_condition", "condition of faces and groove"),
    Particulars("lubricant", "lubricant"),
    Particulars("lubricant_lot", "lot of the lubricant"),
    Particulars("lubricant_applied", "where it was applied"),
    # condition
    Particulars("temperature", "temperature", "temperature"),
    Particulars("wetness", "wet or dry"),
    Particulars("cleanliness", "cleanliness"),
    Particulars("gap", "gap before tightening", "length"),
    Particulars("gap_least", "least gap round the joint", "length"),
    Particulars("pulled_in", "whether the fasteners had to pull the parts together"),
    # paper path
    Particulars("card", "serial of the card"),
    Particulars("card_line", "line on the card, counted from the top of the sheet of its pass"),
    Particulars("page_image", "SHA-256 of the scanned page"),
    Particulars("keyed_by", "who keyed it in"),
    Particulars("keyed_again_by", "who keyed it in a second time"),
    Particulars("resolved_by", "who decided between the two where they differed"),
    Particulars("late_basis", "how the writer of a late record knows"),
    Particulars("late_reason", "why it comes late"),
)
FIELDS: dict[str, Particulars] = {field.name: field for field in _FIELDS}
