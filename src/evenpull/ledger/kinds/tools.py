"""Entries on a tool: its clock, where it is, what happened to it, whether it may be used."""

from __future__ import annotations

from evenpull.ledger.kinds.form import YES_NO, Field, Kind, choice, person, quantity, text, whole

_COUNTER = whole("counter", "Counter", False)
_MEMORY = text("epoch", "Memory", False)

TOOLS = (
    Kind(
        "clock contact", "tool", "Clock contact", "The tool's clock and a trusted clock read at the same moment.",
        (
            text("tool_clock", "The tool showed"),
            text("zone", "Zone of that clock"),
            Field("true_clock", "True time", "moment"),
            Field("uncertainty", "Uncertainty of the comparison in seconds (k = 2)", "number"),
            text("trusted", "Trusted clock"),
            whole("counter", "Counter at that moment", False),
        ),
        act="tools",
    ),
    Kind("clock set", "tool", "Clock set", "The tool's clock was set; earlier contacts do not reach beyond it.",
         (text("zone", "Zone of that clock"), whole("counter", "Counter at that moment", False)), act="tools"),
    Kind("tool issued", "tool", "Tool issued", "Given out, with the reading of its counter.",
         (person("to", "To"), _COUNTER, _MEMORY), act="tools"),
    Kind("tool returned", "tool", "Tool returned", "Given back, with the reading of its counter.",
         (person("from", "From"), _COUNTER, _MEMORY), act="tools"),
    Kind("shift check", "tool", "Shift check", "A pull on a check device.",
         (quantity("set", "Set or shown", "torque"), quantity("device_value", "Device showed", "torque"),
          text("device", "Device"), choice("result", "Result", ("within limits", "outside limits"))), act="tools"),
    Kind("tool dropped", "tool", "Dropped or abused", "Known or suspected damage.", (text("what", "What happened"),),
         act="tools"),
    Kind("tool overloaded", "tool", "Overloaded", "Turned beyond the end of its scale, or used as a lever.",
         (text("what", "What happened"),), act="tools"),
    Kind("tool repaired", "tool", "Repaired or adjusted",
         "What was done to it; it is to be calibrated again before it is used, where its interval rule says so.",
         (text("what", "What was done"), text("done_by", "By whom", False),
          choice("adjusted", "Adjusted", YES_NO, help="yes: what it shows may have changed")), act="tools"),
    Kind("use count", "tool", "Use count read", "The reading of its counter, or its uses by a list kept with it.",
         (whole("counter", "Counter"), _MEMORY), act="tools"),
    Kind("tool lost", "tool", "Lost or stolen", "Where it was, and what it did meanwhile, is not known.",
         (text("what", "Since when, and where it was last seen"),), act="tools"),
    Kind("tool blocked", "tool", "Tool blocked", "Not to be used until unblocked.", (), reason=True, act="tools"),
    Kind("tool unblocked", "tool", "Tool unblocked", "May be used again.", (text("evidence", "Evidence"),), reason=True,
         act="tools"),
)  # fmt: skip
