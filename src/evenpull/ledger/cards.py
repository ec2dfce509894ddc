"""Printed cards counted out and in: what each of them is by the entries about it. Pure.

Whether a card that is out stands against its joint: it does not block. Until it is back nobody knows whether it holds
anything, it may be a second print that was never used, and what it proves is missing in the records anyhow, where it
blocks by itself. But it is an open item of its joint, shown beside the others, and a signature names the cards that
were out when it was given.
"""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from evenpull.ledger.entry import Entry

RETURNED, LOST = "card returned", "card lost"
State = Literal["out", "overdue", "returned", "unused", "void", "lost"]


@dataclass(frozen=True)
class Issued:
    """A card as it was printed. `lines`: lines that can be filled in, None where it was not kept at printing;
    `dossier`: fingerprint of the dossier that issued it, "" where that is this one."""

    serial: str
    joint: str
    by: str
    issued_at: datetime
    valid_until: datetime
    pages: int
    lines: int | None
    dossier: str = ""


@dataclass(frozen=True)
class CardStanding:
    """`typed`: lines of it that are records. `counted`: pages that came back. `open` says why it is an open item, ""
    when it is none; `out` also where nothing is wrong yet."""

    card: Issued
    state: State
    counted: int | None
    kept: str
    since: datetime  # of the state
    by: str
    typed: int
    open: str

    @property
    def out(self) -> bool:
        """Whether the paper may still come back."""
        return self.state in ("out", "overdue", "lost")


def same_serial(serial: str) -> str:
    """A serial as it is compared: capitals, no blanks."""
    return "".join(serial.split()).upper()


def standing(
    card: Issued, entries: Iterable[Entry], typed: int, now: datetime, scanned: Set[int] = frozenset()
) -> CardStanding:
    """What a card is now. `entries`: those of its joint, the last about it counts. `typed`: its lines in records;
    `scanned`: numbers of its pages of which there is a scan."""
    about = [
        entry for entry in sorted(entries, key=lambda e: e.seq)
        if entry.kind in (RETURNED, LOST) and same_serial(entry.text("card")) == same_serial(card.serial)
    ]  # fmt: skip
    if not about:
        late = now > card.valid_until
        why = f"valid until {card.valid_until:%Y-%m-%d %H:%M} UTC and not back" if late else ""
        if scanned:
            why = f"{len(scanned)} of its {card.pages} pages were scanned, and that it is back was not entered"
            why += _not_scanned(card, scanned)
        elif not late and typed:
            why = f"{typed} of its lines were typed in, and the paper is not back"
        since = card.valid_until if late else card.issued_at
        return CardStanding(card, "overdue" if late else "out", None, "", since, card.by, typed, why)
    last = about[-1]
    if last.kind == LOST:
        why = f"not found; looked for: {last.text('searched')}"
        return CardStanding(card, "lost", None, "", last.at, last.by, typed, why)
    states: dict[str, State] = {"filled in": "returned", "unused": "unused", "void": "void"}
    state, counted = states[last.text("state")], int(last.text("pages"))
    return CardStanding(
        card, state, counted, last.text("kept"), last.at, last.by, typed,
        _fault(card, state, counted, typed) or _not_scanned(card, scanned).removeprefix("; "),
    )  # fmt: skip


def _not_scanned(card: Issued, scanned: Set[int]) -> str:
    """Pages of which there is no scan where there is one of others: a front or close left out holds who proved that no
    pressure was on, and who checked."""
    missing = [str(n) for n in range(1, card.pages + 1) if n not in scanned] if scanned else []
    return f"; {'page' if len(missing) == 1 else 'pages'} {', '.join(missing)} not among its scans" if missing else ""


def _fault(card: Issued, state: State, counted: int, typed: int) -> str:
    """What does not fit in a card that came back, "" when all fits."""
    if counted < card.pages:
        return f"{counted} of {card.pages} pages came back"
    if counted > card.pages:
        return f"{counted} pages came back, and it was printed with {card.pages}: a page of another card is among them"
    if state in ("unused", "void") and typed:
        return f"came back {state}, and {typed} lines are said to be typed from it"
    if state == "returned" and not typed:
        return "came back filled in, and nothing of it has been typed in"
    return ""
