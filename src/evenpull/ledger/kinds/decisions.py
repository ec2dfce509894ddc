"""Entries by which people decide: exceptions, corrections, restrictions, legal holds."""

from __future__ import annotations

from evenpull.ledger.kinds.form import GATES, Kind, choice, text

CORRECTED = (
    "joint", "unit", "fastener", "pass", "event", "direction", "operator", "tool", "time", "torque", "angle",
)  # fmt: skip
DECISIONS = (
    Kind(
        "exception", "joint", "Exception from a gate",
        "A person with the authority lets the work go on without a gate being met. It covers what is there when it is "
        "written, on the fasteners named, and nothing that happens or becomes known later. From the last pass it means "
        "that somebody answers for a joint that was not seen at rest: it does not say that the joint holds, and going "
        "round again stays to be done.",
        (
            choice("gate", "Gate", GATES, help="from pass order, last pass, revision, qualification and tool fit it "
                   "covers each thing that stands against the gate now; it is refused where nothing does"),
            text("authority", "By which authority"),
            text("limits", "Limits of the exception", False),
        ),
        "may", reason=True, act="decide", second=True,
    ),
    Kind(
        "correction", "joint", "Correction of a record",
        "A new fact that names the old one; the old value stays readable.",
        (
            text("record", "Record"),
            choice("field", "Field", CORRECTED),
            text("old", "Old value"),
            text("new", "New value"),
        ),
        reason=True, act="decide", second=True, differ=(("old", "new"),),
    ),
    Kind("restriction", "joint", "Restriction", "The joint is to be used only within a limit until this is lifted.",
         (text("limit", "Within which limit"), text("until", "Until when or until what"),
          text("authority", "By which authority")), reason=True, act="decide"),
    Kind("hold", "joint", "Legal hold",
         "Nothing of this joint may be given away or destroyed, whatever its retention says.",
         (text("matter", "Matter"),), reason=True, act="decide"),
    Kind("hold lifted", "joint", "Legal hold lifted", "The hold has ended.", (text("matter", "Matter"),), reason=True,
         act="decide"),
)  # fmt: skip
