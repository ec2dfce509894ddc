"""The map of a joint for the screen: one accessible SVG, states shown by shape, hatch and letter as well as colour."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256

from evenpull.card.layout import JointLayout, labelled, layout, order_numbers
from evenpull.card.texts import numbers_in_words, visible, xml
from evenpull.plan.model import Plan

WIDTH = 720.0
INK, PAPER = "#1c2730", "#ffffff"
FONT = "'DejaVu Sans', 'Noto Sans', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"
NUMBER = 22.0  # units; 12 px where the map is 390 px wide
LEGEND_LINE, LEGEND_TEXT = 34.0, 22.0


@dataclass(frozen=True, slots=True)
class Look:
    """How one state is drawn. Every text on its ground has a contrast of 4.5:1 or better (tested)."""

    letter: str
    ground: str
    line: str
    text: str
    shape: str  # round | square | diamond | open (round, dashed)
    hatched: bool


LOOKS: dict[str, Look] = {
    "accepted": Look("A", "#1f5b3a", "#1f5b3a", "#ffffff", "round", False),
    "not accepted": Look("N", "#96241c", "#5c120d", "#ffffff", "square", False),
    "not judged": Look("J", "#fbf1d5", "#6b4e00", "#1c2730", "diamond", True),
    "missing": Look("M", "#ffffff", "#96241c", "#1c2730", "open", False),
}
_PLAIN = Look("", "#ffffff", INK, INK, "round", False)


def joint_map_svg(
    plan: Plan,
    *,
    states: Mapping[int, str] | None = None,
    labels: Mapping[int, str] | None = None,
    title: str,
    order_of_pass: int | None = None,
) -> str:
    """SVG with role="img", title and description; scales with its box.

    `states`: fastener -> accepted | not accepted | not judged | missing. `labels`: fastener -> short text drawn
    beside it (a value). `order_of_pass`: draws the place in the order of that pass instead of labels. Beside-texts
    are drawn only where they keep apart; the description always holds all states. Raises ValueError for a state or
    a fastener that does not exist.
    """
    numbers = range(1, plan.spec.fasteners.count + 1)
    for name, given in (("states", states or {}), ("labels", labels or {})):
        unknown = [fastener for fastener in given if fastener not in numbers]
        if unknown:
            raise ValueError(f"{name} name fasteners {unknown}, the joint has 1 to {len(numbers)}")
    odd = sorted({state for state in (states or {}).values() if state not in LOOKS})
    if odd:
        raise ValueError(f"states {odd} are not known; allowed: {', '.join(LOOKS)}")
    beside: dict[int, str] = dict(labels or {})
    if order_of_pass is not None:
        one = plan.pass_by_number(order_of_pass)
        if one is None:
            raise ValueError(f"the plan has no pass {order_of_pass}")
        beside = {fastener: f"{place}." for fastener, place in order_numbers(one.order).items()}
    places = layout(plan.spec)
    looks = {f: LOOKS[states[f]] if states and f in states else _PLAIN for f in numbers}
    name = "m" + sha256(f"{plan.spec.id}\n{title}\n{states}\n{beside}".encode()).hexdigest()[:10]
    drawing = _Drawing(places, looks, beside, name, clockwise=plan.spec.numbering == "clockwise")
    body, height = drawing.circle() if places.shape == "circle" else drawing.grid()
    legend, height = _legend(states or {}, name, height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" role="img" '
        f'aria-labelledby="{name}-t {name}-d" font-family="{FONT}" width="100%">'
        f'<title id="{name}-t">{xml(title)}</title><desc id="{name}-d">{xml(_description(plan, states))}</desc>'
        f'<defs><pattern id="{name}-h" width="8" height="8" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="8" height="8" fill="{LOOKS["not judged"].ground}"/>'
        f'<path d="M0 0V8" stroke="{LOOKS["not judged"].line}" stroke-width="2.4" stroke-opacity="0.45"/>'
        "</pattern></defs>"
        f'<rect width="{WIDTH:g}" height="{height:g}" fill="{PAPER}"/>' + "".join(body) + legend + "</svg>"
    )


def _description(plan: Plan, states: Mapping[int, str] | None) -> str:
    spec = plan.spec
    text = (
        f"{spec.fasteners.count} fasteners seen from {spec.viewed_from}. Fastener 1 is {spec.first_fastener}; "
        f"counted {spec.numbering}."
    )
    for state in LOOKS:
        of_state = [fastener for fastener, found in (states or {}).items() if found == state]
        if of_state:
            text += f" {state}: {numbers_in_words(of_state, 400)}."
    return text


class _Drawing:
    def __init__(
        self, places: JointLayout, looks: Mapping[int, Look], beside: Mapping[int, str], name: str, *, clockwise: bool
    ) -> None:
        self.places, self.looks, self.beside, self.name, self.clockwise = places, looks, beside, name, clockwise

    def circle(self) -> tuple[list[str], float]:
        count = len(self.places.spots)
        centre, rim = WIDTH / 2, WIDTH / 2 - 30
        radius = rim - 36 if count > 1 else 0.0
        pitch = math.tau * radius / count
        size = min(32.0, 0.44 * pitch) if count > 1 else 32.0
        inside = size >= 19.5
        rings = 1
        if not inside:
            # Marks too small for a number: numbers outside; more rings when the marks would be dots.
            radius = rim - 56
            rings = 1 if count <= 80 else 2 if count <= 140 else 3
            pitch = math.tau * radius / count
            size = min(13.0, 0.42 * pitch * rings)
        numbers = labelled(count, math.tau * (rim - 20) / count, 46) if not inside else frozenset(range(1, count + 1))
        parts: list[str] = []
        for spot in self.places.spots:
            out = radius - (spot.fastener - 1) % rings * (2 * size + 3)
            x, y = _at(centre, out, spot.angle)
            parts.append(self._mark(x, y, size, spot.fastener, number=inside))
            if not inside and spot.fastener in numbers:
                x1, y1 = _at(centre, radius + size + 3, spot.angle)
                x2, y2 = _at(centre, radius + 26, spot.angle)
                if out == radius:
                    parts.append(f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{INK}" stroke-width="2"/>')
                parts.append(_text(*_at(centre, rim - 8, spot.angle), str(spot.fastener), NUMBER, bold=True))
        inner = radius - rings * (2 * size + 3) + size - 22
        if inside or self.beside:
            parts += self._beside_circle(centre, inner)
        if count > 1:
            parts.append(self._sense(centre, inner - 42))
        if rings > 1:
            parts.append(_text(centre, centre, f"one ring, drawn as {rings}", 20))
            parts.append(_text(centre, centre + 28, "so that the marks keep apart", 20))
        return parts, WIDTH

    def _beside_circle(self, centre: float, radius: float) -> list[str]:
        texts = self._beside_texts()
        widest = max((len(text) for text in texts.values()), default=0) * NUMBER * 0.6
        if not texts or math.tau * (radius - widest / 2) / len(self.places.spots) < max(NUMBER + 2, 0.62 * widest):
            return []
        parts = []
        for fastener, text in texts.items():
            angle = self.places.spots[fastener - 1].angle
            pull = radius - abs(math.sin(angle)) * max(0.0, widest / 2 - 10)
            parts.append(_text(*_at(centre, pull, angle), text, NUMBER))
        return parts

    def _beside_texts(self) -> dict[int, str]:
        """Label beside each fastener; without labels the letter of each state but accepted."""
        if self.beside:
            return {fastener: text for fastener, text in sorted(self.beside.items()) if text}
        return {f: look.letter for f, look in self.looks.items() if look.letter not in ("", "A")}

    def _sense(self, centre: float, radius: float) -> str:
        """Arc from the first fastener in the direction of counting."""
        radius = max(radius, 60.0)
        sense = 1 if self.clockwise else -1
        start = self.places.spots[0].angle
        end = start + sense * 0.75
        (x1, y1), (x2, y2) = _at(centre, radius, start), _at(centre, radius, end)
        u, v = sense * math.cos(end), sense * math.sin(end)
        tip_x, tip_y = x2 + 14 * u, y2 + 14 * v
        word_x, word_y = _at(centre, radius - 46, start + sense * 0.4)
        return (
            f'<path d="M{x1:.1f} {y1:.1f}A{radius:.1f} {radius:.1f} 0 0 {int(self.clockwise)} {x2:.1f} {y2:.1f}" '
            f'fill="none" stroke="{INK}" stroke-width="3"/>'
            f'<path d="M{tip_x:.1f} {tip_y:.1f}L{x2 - 7 * v:.1f} {y2 + 7 * u:.1f}L{x2 + 7 * v:.1f} {y2 - 7 * u:.1f}Z" '
            f'fill="{INK}"/><circle cx="{x1:.1f}" cy="{y1:.1f}" r="5" fill="{INK}"/>'
            + _text(word_x, word_y, "counted", 20)
        )

    def grid(self) -> tuple[list[str], float]:
        places = self.places
        texts = self._beside_texts()
        pitch = min((WIDTH - 70) / places.columns, 110.0)
        size = min(32.0, 0.44 * pitch)
        inside = size >= 18
        if not inside:  # room at the side for the number of each row's first fastener
            pitch = (WIDTH - 130) / places.columns
            size = 0.44 * pitch
        widest = max((len(text) for text in texts.values()), default=0) * NUMBER * 0.6
        show_texts = bool(texts) and inside and widest <= pitch - 4
        line = pitch + (26 if show_texts else 0) if places.rows > 1 else pitch
        height = line * (places.rows - 1) + 2 * size + (150 if show_texts else 120)
        left = (WIDTH - pitch * (places.columns - 1)) / 2
        top = 74 + size
        parts: list[str] = []
        for spot in places.spots:
            x = left + (spot.x + 1) / 2 * pitch * (places.columns - 1)
            y = top + (spot.y + 1) / 2 * line * (places.rows - 1)
            parts.append(self._mark(x, y, size, spot.fastener, number=inside))
            if not inside and (spot.fastener - 1) % places.columns == 0 and line >= NUMBER:
                aside = -1 if self.clockwise else 1
                parts.append(_text(x + aside * (size + 26), y, str(spot.fastener), NUMBER, bold=True))
            if show_texts and spot.fastener in texts:
                parts.append(_text(x, y + size + 18, texts[spot.fastener], NUMBER))
        sense = 1 if self.clockwise else -1
        first = left if self.clockwise else WIDTH - left
        tip = first + sense * max(40.0, min(110.0, pitch))
        parts.append(
            f'<path d="M{first:.1f} 40H{tip:.1f}" stroke="{INK}" stroke-width="3"/><circle cx="{first:.1f}" cy="40" '
            f'r="5" fill="{INK}"/><path d="M{tip + sense * 14:.1f} 40l{-sense * 14} -7v14z" fill="{INK}"/>'
            + _text(tip + sense * 66, 40, "counted", 20)
        )
        return parts, height

    def _mark(self, x: float, y: float, size: float, fastener: int, *, number: bool) -> str:
        look = self.looks[fastener]
        mark = _shape(x, y, size, look, self.name)
        if number:
            digits = NUMBER if size >= 24 and fastener < 100 else NUMBER - 3
            halo = look.ground if look.hatched else ""
            mark += _text(x, y, str(fastener), digits, bold=True, fill=look.text, halo=halo)
        return mark


def _shape(x: float, y: float, size: float, look: Look, name: str) -> str:
    ground = f"url(#{name}-h)" if look.hatched else look.ground
    width = 3 if size > 12 else 2
    style = f'fill="{ground}" stroke="{look.line}" stroke-width="{width}"'
    if look.shape == "square":
        half = 0.9 * size
        return f'<rect x="{x - half:.1f}" y="{y - half:.1f}" width="{2 * half:.1f}" height="{2 * half:.1f}" {style}/>'
    if look.shape == "diamond":
        reach = 1.16 * size
        r = f"{reach:.1f}"
        return f'<path d="M{x:.1f} {y - reach:.1f}l{r} {r}l-{r} {r}l-{r} -{r}z" {style}/>'
    dashed = f' stroke-dasharray="{0.45 * size:.1f} {0.3 * size:.1f}"' if look.shape == "open" else ""
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}" {style}{dashed}/>'


def _legend(states: Mapping[int, str], name: str, top: float) -> tuple[str, float]:
    """One line per state that occurs: its mark, letter, count and (but for accepted) the fasteners."""
    parts = []
    y = top + 16
    for state, look in LOOKS.items():
        of_state = [fastener for fastener, found in states.items() if found == state]
        if not of_state:
            continue
        words = f"{look.letter}  {state}: {len(of_state)}"
        if state != "accepted":
            words += f" (no. {numbers_in_words(of_state, 5)})"
        parts.append(_shape(44, y, 12, look, name) + _text(70, y, words, LEGEND_TEXT, anchor="start"))
        y += LEGEND_LINE
    return "".join(parts), (y if parts else top)


def _at(centre: float, radius: float, angle: float) -> tuple[float, float]:
    return centre + radius * math.sin(angle), centre - radius * math.cos(angle)


def _text(
    x: float,
    y: float,
    text: str,
    size: float,
    *,
    bold: bool = False,
    fill: str = INK,
    halo: str = "",
    anchor: str = "middle",
) -> str:
    weight = ' font-weight="700"' if bold else ""
    around = f' stroke="{halo}" stroke-width="5" paint-order="stroke" stroke-linejoin="round"' if halo else ""
    return (
        f'<text x="{x:.1f}" y="{y + 0.36 * size:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
        f'fill="{fill}"{weight}{around}>{xml(visible(text))}</text>'
    )
