"""Write docs/records.md, the fields of a record and the kinds of entries, from the tables of the code.

python tools/record_page.py            (a test keeps the page equal to the tables)
"""

from __future__ import annotations

from pathlib import Path

from evenpull.intake.fields import FIELDS
from evenpull.intake.record_fields import RECORD_FIELDS
from evenpull.ledger.kinds import GROUPS, Field
from tools.file_pages import cell

PAGE = Path(__file__).parent.parent / "docs" / "records.md"
HEAD = """# What a record holds, and where it is kept

One record is one tightening event on one fastener. Below stand all the fields it may need. Those of the **minimum
set** have to be known: without one of them the tightening is not proven. Much is not written in the record itself: what
was asked stands in the joint file, what the tool is in the tool register, what people did and saw in entries, and what
follows from all this is computed and can be computed again. Where one of those stands in for a record that is silent,
the column "when it is missing" says so.

A mapping file says which column of a source holds which field of the record, or which particular; both keep the text
as it was received.

This page is made from the tables that the program works by (`tools/record_page.py`).

## Fields

| no. | field | minimum set | form | kept in | when it is missing | source |
| --- | --- | --- | --- | --- | --- | --- |
"""
LINES = """
## The same line of a card again

A record without a counter of its tool is named by card, pass and line: each pass has its own sheet, and its lines count
from the top. Typed again, by whomever, it is the same record when it says the same: numbers are compared as numbers
(90.5 and 90.50 N.m), moments as moments, names without regard to capitals. Who typed it, how the writer knows, why it
comes late and the image of the page belong to the typing and are no content of the line. The second one is then
ignored and counted. If it says anything else, or states a field that the first one does not, nothing is written, and
both are shown: a person writes a correction of the record, or withdraws the reading that is wrong. A record that gives
neither counter nor line is named by its file and row; two of the same values at the same moment are flagged as a
near-duplicate.

A correction that names no record of the joint, another old value than the record has, or a new one that cannot be is
refused when it is entered. One that stops fitting later, because its reading is withdrawn, stays an open point.
"""
ENTRIES = """
## Particulars

Further fields of a record, by the names that `[[particular]]` of a mapping file takes. A quantity keeps its text and
gets an SI value; everything else is a text as it was received.

| name | meaning | form |
| --- | --- | --- |
"""
KINDS_HEAD = """
## Entries

What people state, each entry once, under a name. It says when it happened and how exactly that is known, and how the
writer knows; written more than a day after it happened it needs a reason and is marked late. Texts have at most 200
characters, long texts 2000. Quantities carry their unit. A name in brackets may be left out.
"""

CARDS = """
## Cards out and in

A record from paper names its card (`card`, `card_line`); the card itself is a fact from its printing on, and
the entries `card returned` and `card lost` say what became of it. A card that is overdue, not found, short of
pages, or back with nothing typed from it is an open item of its joint. It does not block a release: until it is
back nobody knows whether it holds anything, what its records would have to prove is missing in the matrix
anyhow and blocks there, and the mere end of a card's time must not take a signed release away. A signature
names the cards that are out. See [audit.md](audit.md).
"""


def _kept(places: tuple[str, ...]) -> str:
    by_place: dict[str, list[str]] = {}
    for place in places:
        where, colon, name = place.partition(": ")
        by_place.setdefault(where if colon else place, []).extend([f"`{name}`"] if colon else [])
    return "; ".join(f"{where} {', '.join(names)}".strip() for where, names in by_place.items())


def _field(one: Field) -> str:
    form = " / ".join(one.choices) if one.choices else one.quantity or one.form
    return f"`{one.name}` ({form})" if one.required else f"[`{one.name}` ({form})]"


def page() -> str:
    """The whole page."""
    lines = [HEAD.rstrip("\n")]
    for one in RECORD_FIELDS:
        row = (str(one.number), f"{one.label} ({one.group})", "yes" if one.minimum else "", one.form, _kept(one.kept),
               one.lack, one.source)  # fmt: skip
        lines.append("| " + " | ".join(cell(value) for value in row) + " |")
    lines.append(LINES.rstrip("\n"))
    lines.append(ENTRIES.rstrip("\n"))
    lines += [f"| `{f.name}` | {cell(f.meaning)} | {f.quantity or 'text'} |" for f in FIELDS.values()]
    lines.append(KINDS_HEAD.rstrip("\n"))
    for group, kinds in GROUPS.items():
        lines += ["", f"### {group.capitalize()}", ""]
        lines += ["| entry | about a | what it says | fields | fasteners | reason |", "| --- " * 6 + "|"]
        for kind in kinds:
            fasteners = {"needed": "named", "may": "named or all", "no": ""}[kind.fasteners]
            row = (f"`{kind.name}`", kind.subject, f"{kind.label}. {kind.meaning}",
                   ", ".join(map(_field, kind.fields)), fasteners, "always" if kind.reason else "")  # fmt: skip
            lines.append("| " + " | ".join(cell(value) for value in row) + " |")
    lines.append(CARDS.rstrip("\n"))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
