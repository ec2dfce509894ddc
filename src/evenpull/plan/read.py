"""Reading a joint file: TOML text to a `Specification`, or every fault at once with file, line and field."""

from __future__ import annotations

from pathlib import Path

from evenpull.plan.checks import check_together
from evenpull.plan.friction import friction_of
from evenpull.plan.model import (
    ClampedPart,
    Fasteners,
    Procedure,
    SecondSource,
    Series,
    SourceDocument,
    Specification,
    TargetWish,
)
from evenpull.plan.orders import neighbour_groups
from evenpull.plan.own_settings import NO_LIMIT_STATED
from evenpull.plan.proof_schema import follow_up_rules, gate_rules, keeping, part_rules
from evenpull.plan.schema import JOINT_FORM, JointFile
from evenpull.plan.toml_text import check_schema, read_file, read_toml

LARGEST = 100_000  # characters
WHAT = "a joint file"


def read_specification(text: str, file: str) -> Specification:
    """The specification in a TOML text; `file` names it in errors. Raises SpecificationError with all faults."""
    source = read_toml(text, file, most=LARGEST, what=WHAT, form=JOINT_FORM)
    check_schema(source, JointFile)
    check_together(source)
    source.refuse_if_faulty()
    return _built(JointFile.model_validate(source.data), text, file)


def read_specification_file(path: Path) -> Specification:
    """The specification in a file. SpecificationError also for a file that is not UTF-8 or too large."""
    return read_specification(read_file(path, most=LARGEST, what=WHAT), str(path))


def _built(read: JointFile, text: str, file: str) -> Specification:
    # The schema has checked the words; the type checker only sees texts.
    j, s = read.joint, read.source
    return Specification(
        id=j.id, name=j.name, place=j.place, kind=j.kind,
        joint_class=j.joint_class,  # type: ignore[arg-type]
        viewed_from=j.viewed_from, first_fastener=j.first_fastener,
        numbering=j.numbering,  # type: ignore[arg-type]
        source=SourceDocument(s.document, s.revision, s.place, s.approved_by, s.in_force_from),
        fasteners=_fasteners(read),
        clamped=tuple(ClampedPart(part.part, part.material, part.thickness) for part in read.clamped),
        friction=friction_of(read.friction, read.fasteners),
        target=_target(read), procedure=_procedure(read), tools_allowed=read.tools.allowed,
        cautions=read.notes.cautions if read.notes else (),
        series=Series(read.series.unit_name) if read.series else None,
        notes=(read.notes.text or "") if read.notes else "", text=text, file=file,
        copied_from=s.copied_from or "",
        second_sources=tuple(SecondSource(x.document, x.revision, x.place, x.torque) for x in read.second_source),
        parts=part_rules(read.parts), gates=gate_rules(read.gates, read.fasteners.count),
        follow_ups=follow_up_rules(read.follow_up), keeping=keeping(read.keeping),
    )


def _fasteners(read: JointFile) -> Fasteners:
    f = read.fasteners
    return Fasteners(
        count=f.count, thread=f.thread, strength_class=f.strength_class, length=f.length, head=f.head,
        counterpart=f.counterpart,  # type: ignore[arg-type]
        nut_class=f.nut_class or "", tapped_material=f.tapped_material or "", engagement=f.engagement,
        washer_under_head=f.washer_under_head,
        washer_under_nut=False if f.washer_under_nut is None else f.washer_under_nut, hole=f.hole,
        turned=f.turned, condition=f.condition,  # type: ignore[arg-type]
        lot=f.lot or "", circle=f.circle, grid=f.grid, bearing_face=f.bearing_face,
    )


def _target(read: JointFile) -> TargetWish:
    t = read.target
    share = t.tolerance.share
    if share is None:
        assert t.tolerance.torque is not None and t.torque is not None  # checked together
        share = t.tolerance.torque.si / t.torque.si
    return TargetWish(
        method=t.method, rule=t.rule,  # type: ignore[arg-type]
        torque=t.torque, preload=t.preload, utilisation=t.utilisation, tolerance=share,
        required_preload=t.required_preload, utilisation_limit=t.utilisation_limit,
        prevailing_torque=t.prevailing_torque, angle=t.angle, angle_window=t.angle_window,
    )


def _procedure(read: JointFile) -> Procedure:
    p = read.procedure
    grouped = "grouped" in (p.order, p.check_order)
    groups = p.groups or (neighbour_groups(read.fasteners.count) if grouped else ())
    return Procedure(
        order=p.order, passes=p.passes, check_passes=p.check_passes, check_order=p.check_order,  # type: ignore[arg-type]
        tools_at_once=p.tools_at_once, groups=groups, listed=p.listed or (), movement_limit=p.movement_limit,
        strict_passes=p.strict_passes, strict_order=p.strict_order,
        settings=tuple(row if len(row) > 1 else () for row in p.settings or ()),
        settings_limit=p.settings_limit or NO_LIMIT_STATED,
    )
