"""Server-drawn charts. They draw numbers that the mechanics computed; nothing is computed here but positions."""

from __future__ import annotations

from html import escape

from evenpull.joint.target import Target

WIDTH, ROW, LEFT, RIGHT = 640, 34, 150, 20
INK, ACCENT, BAD, LINE = "#1c2730", "#87431a", "#96241c", "#8f8a7e"


def load_window_svg(target: Target, *, required: float | None, limits: tuple[tuple[str, float], ...]) -> str:
    """The load band of one fastener (kN) against the load it must keep and the loads it must not pass.

    `limits` are (name, newtons), drawn as lines from the left row down; `required` likewise.
    """
    if target.load is None:
        raise ValueError("there is no load to draw: the thread is not stated")
    marks = [(name, value, BAD) for name, value in limits]
    if required is not None:
        marks.insert(0, ("least load needed", required, INK))
    top = max([target.load.high, *(value for _, value, _ in marks)]) * 1.08
    if top <= 0:
        return ""

    def x(value: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * value / top

    low, nominal, high = target.load.low, target.load.nominal, target.load.high
    words = f"Load of one fastener: {low / 1e3:.1f} to {high / 1e3:.1f} kN, nominal {nominal / 1e3:.1f} kN"
    words += "".join(f"; {name} {value / 1e3:.1f} kN" for name, value, _ in marks) + "."
    height = ROW * (len(marks) + 2) + 30
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-label="{escape(words, quote=True)}" font-size="14" fill="{INK}">',
        f'<text x="0" y="{ROW * 0.75:.1f}" font-weight="600">load it may get</text>',
        f'<rect x="{x(low):.1f}" y="8" width="{max(x(high) - x(low), 1):.1f}" height="20" fill="{ACCENT}" '
        f'fill-opacity="0.25" stroke="{ACCENT}" stroke-width="2"/>',
        f'<line x1="{x(nominal):.1f}" x2="{x(nominal):.1f}" y1="4" y2="32" stroke="{ACCENT}" stroke-width="4"/>',
    ]
    for index, (name, value, colour) in enumerate(marks):
        base = ROW * (index + 2)
        dash = "" if colour == INK else ' stroke-dasharray="7 4"'
        parts.append(
            f'<text x="0" y="{base + 16}">{escape(name)}</text>'
            f'<line x1="{x(value):.1f}" x2="{x(value):.1f}" y1="2" y2="{base + 20}" stroke="{colour}" '
            f'stroke-width="2"{dash}/>'
        )
        right = x(value) < WIDTH - 110
        offset, anchor = (6, "start") if right else (-6, "end")
        parts.append(
            f'<text x="{x(value) + offset:.1f}" y="{base + 16}" text-anchor="{anchor}">{value / 1e3:.1f} kN</text>'
        )
    for value, place, anchor in ((low, x(low), "end"), (nominal, x(nominal), "middle"), (high, x(high), "start")):
        if anchor == "middle" and x(high) - x(low) < 50:
            continue  # no room between the two ends
        # A white rim keeps the figure readable where a limit's line passes behind it.
        parts.append(
            f'<text x="{place:.1f}" y="46" text-anchor="{anchor}" paint-order="stroke" stroke="#fff" stroke-width="5">'
            f"{value / 1e3:.1f}</text>"
        )
    axis = height - 22
    parts.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{axis}" y2="{axis}" stroke="{LINE}"/>')
    parts.append(f'<text x="{LEFT}" y="{axis + 17}" fill="#4d5a64">0</text>')
    end = f'<text x="{WIDTH - RIGHT}" y="{axis + 17}" text-anchor="end" fill="#4d5a64">'
    parts.append(f"{end}{top / 1e3:.0f} kN</text>")
    parts.append("</svg>")
    return "".join(parts)
