"""Entries on the work itself: what opens an open item on a fastener, and what closes it."""

from __future__ import annotations

from evenpull.ledger.kinds.form import PARTS, YES_NO, Field, Kind, choice, quantity, text, whole

OPENING = (
    Kind("loosened", "joint", "Loosened", "The fastener was turned loose.", (text("why", "For which work"),), "needed",
         caution="opening"),
    Kind("removed", "joint", "Removed", "The fastener was taken out.", (text("why", "For which work"),), "needed",
         caution="opening"),
    Kind("disturbed", "joint", "Disturbed while doing something else",
         "Touched, struck, or opened for access to something else: an open item until proven again.",
         (text("why", "By which work"),), "needed"),
)  # fmt: skip
CLOSING = (
    Kind(
        "parts fitted", "joint", "Parts fitted", "Which parts are now in place.",
        (
            choice("part", "Part", PARTS),
            text("part_number", "Part number or type", False),
            text("marking", "Marking seen", False),
            text("coating", "Coating", False),
            text("lot", "Lot", False),
            text("heat", "Heat", False),
            choice("condition", "New or used", ("new", "used")),
            whole("use", "Which use of it", False, help="1 = first"),
            choice("complete", "Stack complete (all parts of the fastener in place)", YES_NO, False),
        ),
        "may",
    ),
    Kind("drag measured", "joint", "Drag of the self-locking nut", "Run-down torque without clamping.",
         (quantity("drag", "Drag", "torque"), Field("tool", "Tool", "tool", False)), "needed"),
    Kind("locking fitted", "joint", "Locking device fitted", "Pin, wire, tab, adhesive ... as the joint asks.",
         (text("device", "Device"),), "needed"),
    Kind("protrusion seen", "joint", "Protrusion", "Threads beyond the nut.",
         (Field("threads", "Threads", "number"),), "needed"),
    Kind("mark made", "joint", "Witness mark made", "Drawn across fastener and part after the last pass.", (),
         "needed"),
    Kind(
        "load read", "joint", "Elongation or tension read",
        "Direct evidence of the load in a fastener, with how it was read.",
        (
            quantity("elongation", "Elongation", "length", False),
            quantity("tension", "Tension", "force", False),
            text("method", "How it was read", help="such as depth gauge, ultrasonic, load washer"),
            Field("tool", "Instrument", "tool", False),
            text("certificate", "Its certificate", False),
        ),
        "needed", one_of=("elongation", "tension"),
    ),
    Kind("checked", "joint", "Independent check", "What a second person has seen, not asked.",
         (text("seen", "What was seen"), choice("result", "Result", ("in order", "not in order"))), "may",
         second=True, act="check"),
    Kind("test", "joint", "Test", "Leak or run test with its result.",
         (text("test", "Which test"), text("value", "Value", False),
          choice("result", "Result", ("passed", "not passed"))), act="check"),
)  # fmt: skip
WORK = OPENING + CLOSING
