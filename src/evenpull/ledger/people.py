"""What a person was qualified for on a day, by the entries about that person."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from evenpull.ledger.entry import Entry


def folded(name: str) -> str:
    """A name as it is compared: blanks tidied, small letters."""
    return " ".join(name.split()).casefold()


_NOBODY = frozenset({"n/a", "n.a.", "none", "nil", "null", "unknown", "not known", "not stated", "nobody", "tbd"})


def names_nobody(text: str) -> bool:
    """An empty place for a name, or what people write into one to fill it: "-", "?", "n/a", "unknown"."""
    said = folded(text)
    return said in _NOBODY or not any(character.isalnum() for character in said)


def qualified(entries: Sequence[Entry], qualification: str, day: date) -> tuple[bool, str]:
    """Whether a person held a qualification on a day, and why (not), in words. `entries`: those about the person."""
    wanted = folded(qualification)
    held = [e for e in entries if e.kind == "qualification" and folded(e.text("qualification")) == wanted]
    if not held:
        return False, f"no qualification {qualification!r} is entered"
    ends = [e for e in entries if e.kind == "qualification withdrawn" and folded(e.text("qualification")) == wanted]
    reason = ""
    for entry in sorted(held, key=lambda e: e.text("until"), reverse=True):
        first, last = date.fromisoformat(entry.text("from")), date.fromisoformat(entry.text("until"))
        if not first <= day <= last:
            reason = reason or f"{qualification!r} held from {first} to {last}, not on {day}"
            continue
        taken = [e for e in ends if e.at.date() <= day and e.at.date() >= first]
        if taken:
            reason = f"{qualification!r} was withdrawn on {taken[0].at:%Y-%m-%d} by {taken[0].by}"
            continue
        return True, f"{qualification!r} held from {first} to {last}, issued by {entry.text('issued_by')}"
    return False, reason


def blocked(entries: Sequence[Entry], first: datetime, last: datetime) -> str:
    """Why a tool must not have been used between these moments, by the entries about it; "" when nothing says so.

    A block, a drop, an overload, a loss or a shift check outside its limits counts until an unblocking or, but for a
    block, a shift check within the limits. Where the times overlap, the tool counts as blocked.
    """
    why = ""
    for entry in sorted(entries, key=lambda e: (e.at, e.seq)):
        if entry.at.timestamp() - entry.at_uncertainty > last.timestamp():
            break
        surely = entry.at.timestamp() + entry.at_uncertainty < first.timestamp()
        if entry.kind == "tool blocked":
            why = f"blocked since {entry.at:%Y-%m-%d %H:%M} UTC by {entry.by}: {entry.reason}"
        elif entry.kind == "tool dropped":
            why = f"dropped or abused on {entry.at:%Y-%m-%d %H:%M} UTC ({entry.text('what')}) and not looked at since"
        elif entry.kind == "tool overloaded":
            why = f"overloaded on {entry.at:%Y-%m-%d %H:%M} UTC ({entry.text('what')}) and not looked at since"
        elif entry.kind == "tool lost":
            why = f"lost on {entry.at:%Y-%m-%d %H:%M} UTC ({entry.text('what')}) and not looked at since"
        elif entry.kind == "shift check" and entry.text("result") == "outside limits":
            why = f"outside its limits in the shift check of {entry.at:%Y-%m-%d %H:%M} UTC"
        elif surely and (entry.kind == "tool unblocked" or (
            entry.kind == "shift check" and not why.startswith("blocked")
        )):  # fmt: skip
            why = ""
    return why
