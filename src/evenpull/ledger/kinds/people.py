"""Entries on a person: what somebody is qualified or authorised for, exercises, hours on duty."""

from __future__ import annotations

from evenpull.ledger.kinds.form import Field, Kind, choice, person, text, whole

_SPAN = (Field("from", "From", "date"), Field("until", "Until", "date"))

PEOPLE = (
    Kind("qualification", "person", "Qualification", "What a person is qualified for, and until when.",
         (text("qualification", "Qualification"), text("issued_by", "Issued by"), *_SPAN,
          text("document", "Document", False)), act="people", rising=(("from", "until"),)),
    Kind("qualification withdrawn", "person", "Qualification withdrawn", "From this moment on.",
         (text("qualification", "Qualification"),), reason=True, act="people"),
    Kind("authorisation", "person", "Authorisation", "What a person may decide, and until when.",
         (text("authorisation", "May decide on"), text("issued_by", "Issued by"), *_SPAN,
          text("limits", "Limits", False), text("document", "Document", False)), act="people",
         rising=(("from", "until"),)),
    Kind("exercise", "person", "Exercise", "Work done under eyes, with its result.",
         (text("exercise", "Exercise"), person("seen_by", "Assessed by"),
          choice("result", "Result", ("passed", "not passed")), text("document", "Document", False)), act="people"),
    Kind("duty", "person", "Hours on duty", "Coarse, for the check of fatigue.",
         (Field("date", "Day", "date"), Field("hours", "Hours on shift", "number"),
          whole("days", "Days in a row", False)), act="people"),
)  # fmt: skip
