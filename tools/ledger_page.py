"""Write docs/ledger.md and its drawing from the table of transitions.

python tools/ledger_page.py            (a test keeps both equal to the table)
"""

from __future__ import annotations

from pathlib import Path

from evenpull.ledger.machine import STATES, TRANSITIONS

DOCS = Path(__file__).parent.parent / "docs"
PAGE, PICTURE = DOCS / "ledger.md", DOCS / "pictures" / "ledger.svg"
WIDTH, HEIGHT, GAP, LEFT, FULL = 190, 46, 40, 110, 860
LINE = 'fill="none" stroke="#1c2730" marker-end="url(#tip)"'
BACK = 'fill="none" stroke="#96241c" stroke-dasharray="5 3" marker-end="url(#tip)"'
HEAD = """# The life of a fastener: open items

Whatever is loosened, removed, disturbed or found loose stays an open item of that fastener until its parts are
complete, it is tightened in all passes, locked, and seen by a second person, each of them **after** what undid it.
Which steps a joint asks for stands in its file (`[parts]`, `[gates]`); a step not asked is passed. A fastener
of a new joint begins as not fitted and goes the same way.

What undid a fastener comes from entries and from records alike. An order that clocks and counters do not tell is no
order: then the item stays open. No decision closes it, and none takes a loosening away because another record stands
for it. An exception that a person with the authority enters takes away one single requirement (parts, drag, locking,
mark, protrusion, independent check), never the tightening. Once the fastener is undone, or a part of it is found unfit,
it has to be given anew.

A step that is proven already is passed at once: where the parts are stated after the pulls, the fastener goes from
disturbed to tightened. The lock is made after the last pull, the check comes after the lock. The state says what was
entered and recorded; a decision on a part that is not fit lets a release go on and leaves the state where it is. How
often a fastener was tightened again after service is counted; a limit to that is the engineer's.

A gasket is held by all fasteners together: what was stated about it stands while at least one of them was not undone
since. Once all may have been, it has to be stated anew, also where they were undone one after the other.

A fastener that was found loose twice stops the joint until the engineer who answers for it has decided.

![The states and what leads from one to the next](pictures/ledger.svg)

The numbers are those of the table. A whole line leads on, a broken one back.

| no. | from | what happens | to | taken as its proof |
| --- | --- | --- | --- | --- |
"""


def page() -> str:
    rows = "".join(
        f"| {n} | {t.before} | {t.event} | {t.after} | {t.proof} |\n" for n, t in enumerate(TRANSITIONS, start=1)
    )
    return HEAD + rows


def edges() -> dict[tuple[str, str], str]:
    """(from, to) -> the numbers of the transitions between them, as the table counts them."""
    found: dict[tuple[str, str], list[int]] = {}
    for number, t in enumerate(TRANSITIONS, start=1):
        found.setdefault((t.before, t.after), []).append(number)
    return {pair: ", ".join(map(str, numbers)) for pair, numbers in found.items()}


def picture() -> str:
    """States from top to bottom, steps forward down the middle or on the left, what throws back on the right."""
    at = {state: 20 + place * (HEIGHT + GAP) for place, state in enumerate(STATES)}
    order = {state: place for place, state in enumerate(STATES)}
    height = 20 + len(STATES) * (HEIGHT + GAP)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {FULL} {height}" role="img" '
        'aria-label="States of a fastener" font-family="DejaVu Sans, sans-serif" font-size="12">',
        '<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="8" markerHeight="8" orient="auto">'
        '<path d="M0 0 8 4 0 8z" fill="#1c2730"/></marker></defs>',
        f'<rect width="{FULL}" height="{height}" fill="#ffffff"/>',
    ]
    for state, y in at.items():
        parts.append(
            f'<rect x="{LEFT}" y="{y}" width="{WIDTH}" height="{HEIGHT}" rx="6" fill="#f6ebe2" stroke="#1c2730"/>'
            f'<text x="{LEFT + WIDTH / 2:g}" y="{y + 28}" text-anchor="middle" font-weight="bold">{state}</text>'
        )
    left = right = 0
    for (before, after), numbers in edges().items():
        step = order[after] - order[before]
        if step == 1:
            x = LEFT + WIDTH / 2
            parts.append(f'<path d="M{x:g} {at[before] + HEIGHT} V{at[after] - 2}" {LINE}/>')
            parts.append(f'<text x="{x + 8:g}" y="{at[before] + HEIGHT + GAP / 2 + 4:g}">{numbers}</text>')
        elif step > 1:
            left += 1
            parts.append(_side(LEFT, LEFT - 24 * left - 10, at[before] + 32, at[after] + 8, numbers, "end", LINE))
        else:
            right += 1
            edge, lane = LEFT + WIDTH, LEFT + WIDTH + 34 * right
            y = at[after] + 6 + (5 * right) % 34
            parts.append(_side(edge, lane, at[before] + 12 + (7 * right) % 24, y, numbers, "start", BACK))
    return "\n".join([*parts, "</svg>"]) + "\n"


def _side(edge: float, lane: float, start: float, end: float, numbers: str, anchor: str, line: str) -> str:
    """A line out of a box, along a lane, and into another box; its numbers stand at the lane, turned upright."""
    tip = edge + (2 if lane > edge else -2)
    middle, beside = (start + end) / 2, lane + (4 if lane > edge else -4)
    return (
        f'<path d="M{edge:g} {start:g} H{lane:g} V{end:g} H{tip:g}" {line}/>'
        f'<text x="{beside:g}" y="{middle:g}" text-anchor="{anchor}" font-size="10">{numbers}</text>'
    )


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    PICTURE.write_text(picture(), encoding="utf-8")
