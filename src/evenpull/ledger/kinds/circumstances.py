"""Entries on the circumstances: conditions, faces, alignment, hand-over, interruption, changes, what was odd."""

from __future__ import annotations

from evenpull.ledger.kinds.form import YES_NO, Field, Kind, choice, person, quantity, text, whole

_PASS = whole("pass", "In pass")
_LAST = Field("last", "Last fastener done", "fastener", False)

CIRCUMSTANCES = (
    Kind(
        "conditions", "joint", "Conditions", "Under which the work was done.",
        (
            quantity("temperature", "Temperature", "temperature", False),
            choice("wetness", "Threads and faces", ("dry", "wet", "oily", "not seen"), False),
            text("cleanliness", "Cleanliness", False),
            text("lubricant", "Lubricant", False),
            text("lubricant_lot", "Lot of the lubricant", False),
            choice("applied", "Applied to", ("thread", "bearing face", "both"), False),
        ),
        "may", one_of=("temperature", "wetness", "cleanliness", "lubricant", "lubricant_lot", "applied"),
    ),
    Kind(
        "faces seen", "joint", "Gasket faces and grooves", "State of the faces before the gasket is fitted.",
        (
            choice("result", "Result", ("in order", "not in order")),
            text("seen", "What was seen", help="scratches, corrosion, remains of the old gasket, where"),
            quantity("deepest", "Deepest damage", "length", False),
            text("done", "What was done about it", False),
        ),
    ),
    Kind(
        "alignment", "joint", "Gap and alignment before tightening",
        "Parts that the fasteners have to pull together take their load.",
        (
            quantity("gap", "Gap, most", "length", False),
            quantity("gap_least", "Gap, least", "length", False),
            quantity("offset", "Offset of the parts", "length", False),
            choice("pulled_in", "Pulled in by the fasteners", YES_NO),
            text("how", "How it was measured", False),
        ),
        rising=(("gap_least", "gap"),),
    ),
    Kind("hand-over", "joint", "Hand-over", "In the middle of the work, from one person to the next.",
         (person("from", "From"), person("to", "To"), _PASS, _LAST), differ=(("from", "to"),)),
    Kind("interruption", "joint", "Interruption", "Work stopped and went on, or did not.",
         (text("why", "Why"), _PASS, _LAST)),
    Kind("tool change", "joint", "Change of tool", "Another tool went on with the work.",
         (Field("from", "From tool", "tool"), Field("to", "To tool", "tool"), text("why", "Why"), _PASS),
         differ=(("from", "to"),)),
    Kind("method change", "joint", "Change of method",
         "A fallback, with the evidence that stands in for the usual one.",
         (text("from", "From method"), text("to", "To method"), text("evidence", "Evidence that stands in"),
          text("authority", "Allowed by")), reason=True, act="decide", differ=(("from", "to"),)),
    Kind("observation", "joint", "Something odd", "What was seen that no other entry asks for.",
         (Field("words", "What was seen", "long text"),), "may"),
)  # fmt: skip
