# ruff: noqa: E501
"""The table of entries: what can be stated, by which fields. Forms, commands, the HTTP interface and the documentation
are made from it; `check` is the only door.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenpull.ledger.entry import Subject

Form = Literal["text", "long text", "choice", "quantity", "number", "date", "moment", "flag", "person", "numbers"]


@dataclass(frozen=True)
class Field:
    """`quantity`: dimension for form "quantity" ("torque", "length", "angle", "temperature", ...)."""

    name: str
    label: str
    form: Form
    required: bool = True
    choices: tuple[str, ...] = ()
    quantity: str = ""
    help: str = ""


@dataclass(frozen=True)
class Kind:
    """`fasteners`: whether it names fasteners ("needed", "may", "no"). `caution`: stage of the caution catalogue shown
    with the form. `act`: which permission writes it. `second`: the writer must be no operator of the joint."""

    name: str
    subject: Subject
    label: str
    meaning: str
    fields: tuple[Field, ...]
    fasteners: Literal["needed", "may", "no"] = "no"
    reason: bool = False  # a reason is always needed
    caution: str = ""
    act: str = "enter"
    second: bool = False


YES_NO = ("yes", "no")
PARTS = ("bolt", "stud", "nut", "washer", "gasket", "insert", "pin", "other")
GATES = (
    "identity", "isolation", "pass order", "last pass", "independent check", "qualification", "revision",
    "tool fit", "parts", "locking", "protrusion", "drag", "mark", "test",
)  # fmt: skip


def _t(name: str, label: str, required: bool = True, help: str = "") -> Field:
    return Field(name, label, "text", required, help=help)


def _c(name: str, label: str, choices: tuple[str, ...], required: bool = True, help: str = "") -> Field:
    return Field(name, label, "choice", required, choices, help=help)


def _q(name: str, label: str, quantity: str, required: bool = True, help: str = "") -> Field:
    return Field(name, label, "quantity", required, (), quantity, help)


_KINDS = (
    # before the first loosening
    Kind("identity confirmed", "joint", "Identity of the joint, by two sources",
         "The tag as copied from the joint, with its check characters, and a second source that is not the tag.",
         (_t("tag", "Tag, copied from the joint"), _t("check", "Check characters on the tag or card"),
          _c("second_source", "Second source", ("drawing", "line list", "photograph", "scan of the code", "second person")),
          _t("second_text", "What the second source says")), caution="opening"),
    Kind("isolation confirmed", "joint", "Isolation and permit",
         "Under which permit and isolation, and how and by whom it was proven that no energy is left. The program records "
         "what was stated; whether work may begin is decided by the holder of the permit.",
         (_t("permit", "Permit number"), _t("isolation", "Isolation number"), _t("proven_by", "No energy proven by"),
          _t("how", "How it was proven")), caution="opening"),
    Kind("as found", "joint", "State as found", "What was seen before anything was touched.",
         (_c("leaking", "Leaking", ("yes", "no", "not seen")), _c("marks", "Witness marks", ("intact", "broken", "none", "not seen")),
          Field("loose", "Loose fasteners", "numbers", False, help="numbers, or none"), _t("words", "In words", False)),
         caution="opening"),
    # debts
    Kind("loosened", "joint", "Loosened", "The fastener was turned loose.", (_t("why", "For which work"),), "needed", caution="opening"),
    Kind("removed", "joint", "Removed", "The fastener was taken out.", (_t("why", "For which work"),), "needed", caution="opening"),
    Kind("disturbed", "joint", "Disturbed while doing something else",
         "Touched, struck, or opened for access to something else: an open item until proven again.",
         (_t("why", "By which work"),), "needed"),
    # closing them
    Kind("parts fitted", "joint", "Parts fitted", "Which parts are now in place.",
         (_c("part", "Part", PARTS), _t("part_number", "Part number", False), _t("marking", "Marking seen", False),
          _t("coating", "Coating", False), _t("lot", "Lot", False), _t("heat", "Heat", False),
          _c("condition", "New or used", ("new", "used")), Field("use", "Which use of it", "number", False, help="1 = first"),
          _c("complete", "Stack complete (all parts of the fastener in place)", YES_NO, False)), "may"),
    Kind("drag measured", "joint", "Drag of the self-locking nut", "Run-down torque without clamping.",
         (_q("drag", "Drag", "torque"), _t("tool", "Tool", False)), "needed"),
    Kind("locking fitted", "joint", "Locking device fitted", "Pin, wire, tab, adhesive ... as the joint asks.", (_t("device", "Device"),), "needed"),
    Kind("protrusion seen", "joint", "Protrusion", "Threads beyond the nut.", (Field("threads", "Threads", "number"),), "needed"),
    Kind("mark made", "joint", "Witness mark made", "Drawn across fastener and part after the last pass.", (), "needed"),
    Kind("checked", "joint", "Independent check", "What a second person has seen, not asked.",
         (_t("seen", "What was seen"), _c("result", "Result", ("in order", "not in order"))), "may", second=True, act="check"),
    Kind("test", "joint", "Test", "Leak or run test with its result.",
         (_t("test", "Which test"), _t("value", "Value", False), _c("result", "Result", ("passed", "not passed"))), act="check"),
    # circumstances
    Kind("conditions", "joint", "Conditions", "Under which the work was done.",
         (_q("temperature", "Temperature", "temperature", False), _c("wetness", "Threads and faces", ("dry", "wet", "oily", "not seen"), False),
          _t("cleanliness", "Cleanliness", False), _t("lubricant", "Lubricant", False), _t("lubricant_lot", "Lot of the lubricant", False),
          _c("applied", "Applied to", ("thread", "bearing face", "both"), False), _q("gap", "Gap before tightening, most", "length", False),
          _q("gap_least", "Gap before tightening, least", "length", False), _c("pulled_in", "Pulled in by the bolts", YES_NO, False),
          _t("faces", "Gasket faces and grooves", False)), "may"),
    Kind("hand-over", "joint", "Hand-over", "In the middle of the work, from one person to the next.",
         (Field("from", "From", "person"), Field("to", "To", "person"), Field("pass", "In pass", "number"),
          Field("last", "Last fastener done", "number", False))),
    Kind("interruption", "joint", "Interruption", "Work stopped and went on, or did not.",
         (_t("why", "Why"), Field("pass", "In pass", "number"), Field("last", "Last fastener done", "number", False))),
    Kind("tool change", "joint", "Change of tool", "Another tool went on with the work.",
         (_t("from", "From tool"), _t("to", "To tool"), _t("why", "Why"), Field("pass", "In pass", "number"))),
    Kind("method change", "joint", "Change of method", "A fallback, with the evidence that stands in for the usual one.",
         (_t("from", "From method"), _t("to", "To method"), _t("evidence", "Evidence that stands in"), _t("authority", "Allowed by")),
         reason=True, act="decide"),
    # people decide
    Kind("exception", "joint", "Exception from a gate", "A person with the authority lets the work go on without a gate being met.",
         (_c("gate", "Gate", GATES), _t("authority", "By which authority"), _t("limits", "Limits of the exception", False)), "may",
         reason=True, act="decide", second=True),
    Kind("correction", "joint", "Correction of a record", "A new fact that names the old one; the old value stays readable.",
         (_t("record", "Record"), _c("field", "Field", ("joint", "unit", "fastener", "pass", "event", "direction", "operator", "tool",
                                                    "time", "torque", "angle")), _t("old", "Old value"), _t("new", "New value")),
         reason=True, act="decide", second=True),
    Kind("hold", "joint", "Legal hold", "Nothing of this joint may be given away or destroyed, whatever its retention says.",
         (_t("matter", "Matter"),), reason=True, act="decide"),
    Kind("hold lifted", "joint", "Legal hold lifted", "The hold has ended.", (_t("matter", "Matter"),), reason=True, act="decide"),
    # afterwards
    Kind("service", "joint", "Start-up or end of service", "Counts the triggers of follow-ups.",
         (_c("state", "State", ("pressurised", "started", "stopped")),)),
    Kind("meter", "joint", "Meter reading", "Running hours, distance or cycles since start-up.",
         (_c("meter", "Meter", ("hours", "distance", "cycles")), Field("value", "Value", "number"), _t("unit", "Unit", False))),
    Kind("follow-up done", "joint", "Follow-up done", "With what was found.",
         (_t("follow_up", "Which"), _c("result", "Result", ("in order", "not in order")), _t("found", "What was found")), "may", act="check"),
    # tools
    Kind("clock contact", "tool", "Clock contact", "The tool's clock and a trusted clock read at the same moment.",
         (_t("tool_clock", "The tool showed"), _t("zone", "Zone of that clock"), Field("true_clock", "True time", "moment"),
          Field("uncertainty", "Uncertainty of the comparison in seconds", "number"), _t("trusted", "Trusted clock")), act="tools"),
    Kind("clock set", "tool", "Clock set", "The tool's clock was set; earlier contacts do not reach beyond it.",
         (_t("zone", "Zone of that clock"), Field("counter", "Counter at that moment", "number", False)), act="tools"),
    Kind("tool issued", "tool", "Tool issued", "Given out, with the reading of its counter.",
         (Field("to", "To", "person"), Field("counter", "Counter", "number", False), _t("epoch", "Memory", False)), act="tools"),
    Kind("tool returned", "tool", "Tool returned", "Given back, with the reading of its counter.",
         (Field("from", "From", "person"), Field("counter", "Counter", "number", False), _t("epoch", "Memory", False)), act="tools"),
    Kind("shift check", "tool", "Shift check", "A pull on a check device.",
         (_q("set", "Set or shown", "torque"), _q("device_value", "Device showed", "torque"), _t("device", "Device"),
          _c("result", "Result", ("within limits", "outside limits"))), act="tools"),
    Kind("tool dropped", "tool", "Dropped or abused", "Known or suspected damage.", (_t("what", "What happened"),), act="tools"),
    Kind("tool blocked", "tool", "Tool blocked", "Not to be used until unblocked.", (), reason=True, act="tools"),
    Kind("tool unblocked", "tool", "Tool unblocked", "May be used again.", (_t("evidence", "Evidence"),), reason=True, act="tools"),
    # people and lots
    Kind("qualification", "person", "Qualification", "What a person is qualified for, and until when.",
         (_t("qualification", "Qualification"), _t("issued_by", "Issued by"), Field("from", "From", "date"), Field("until", "Until", "date"),
          _t("document", "Document", False)), act="people"),
    Kind("qualification withdrawn", "person", "Qualification withdrawn", "From this moment on.", (_t("qualification", "Qualification"),),
         reason=True, act="people"),
    Kind("duty", "person", "Hours on duty", "Coarse, for the check of fatigue.",
         (Field("date", "Day", "date"), Field("hours", "Hours on shift", "number"), Field("days", "Days in a row", "number", False)), act="people"),
    Kind("lot blocked", "lot", "Lot blocked", "Not to be fitted; fitted ones are to be looked at.", (), reason=True, act="tools"),
    Kind("lot unblocked", "lot", "Lot unblocked", "May be fitted again.", (_t("evidence", "Evidence"),), reason=True, act="tools"),
)  # fmt: skip
KINDS: dict[str, Kind] = {kind.name: kind for kind in _KINDS}
