"""Entries after the work: service, meter readings, follow-ups, cards that come back."""

from __future__ import annotations

from evenpull.ledger.kinds.form import Field, Kind, choice, text, whole

AFTERWARDS = (
    Kind("service", "joint", "Start-up or end of service", "Counts the triggers of follow-ups.",
         (choice("state", "State", ("pressurised", "started", "stopped")),)),
    Kind("handed over", "joint", "Handed over or shipped",
         "It left the place where it was tightened; whoever looks for it later has to know where it went.",
         (text("to", "To whom"), text("where", "Where it is now", False),
          text("document", "Delivery note or other paper", False))),
    Kind("meter", "joint", "Meter reading", "Running hours, distance or cycles since start-up.",
         (choice("meter", "Meter", ("hours", "distance", "cycles")), Field("value", "Value", "number"),
          text("unit", "Unit", False))),
    Kind("follow-up done", "joint", "Follow-up done", "With what was found.",
         (text("follow_up", "Which"), choice("result", "Result", ("in order", "not in order")),
          text("found", "What was found")), "may", act="check"),
    Kind("siblings looked at", "joint", "Joints like it looked at",
         "After something failed here: which other joints were looked at for the same cause, and what was found.",
         (text("failure", "What failed"), Field("joints", "Which joints were looked at", "long text"),
          text("how", "How they were chosen and looked at"),
          choice("result", "Result", ("in order", "not in order")), text("found", "What was found")), act="check"),
    Kind("card returned", "joint", "Card returned", "A printed card came back, with its pages counted.",
         (text("card", "Serial of the card"), whole("pages", "Pages counted"),
          choice("state", "State", ("filled in", "unused", "void")), text("kept", "Where the paper is kept", False))),
    Kind("card lost", "joint", "Card not found", "A printed card is missing; it may still be at the joint.",
         (text("card", "Serial of the card"), text("searched", "Where it was looked for")), reason=True),
)  # fmt: skip
