"""Layout of fasteners and the map for the screen."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from evenpull.card.drawing import INK, LOOKS, PAPER, joint_map_svg
from evenpull.card.layout import labelled, layout
from evenpull.card.print_map import POINT, print_map
from tests.card.plans import plan

SVG = "{http://www.w3.org/2000/svg}"
COUNTS = (1, 2, 8, 16, 36, 61, 100, 141, 200)


def place(of: object, fastener: int) -> tuple[float, float]:
    spot = of.spots[fastener - 1]  # type: ignore[attr-defined]
    return round(spot.x, 6), round(spot.y, 6)


def test_a_ring_runs_in_the_stated_direction_from_the_stated_hour() -> None:
    clockwise = layout(plan(4).spec)
    assert [place(clockwise, f) for f in (1, 2, 3, 4)] == [(0, -1), (1, 0), (0, 1), (-1, 0)]
    other = layout(plan(4, numbering="anticlockwise", first_fastener="at 3 o'clock, by the drain").spec)
    assert [place(other, f) for f in (1, 2, 3, 4)] == [(1, 0), (0, -1), (-1, 0), (0, 1)]
    unstated = layout(plan(4, first_fastener="next to the keyway, 2 from 6").spec)
    assert (unstated.clock, unstated.clock_stated) == (12, False)


def test_a_grid_is_numbered_row_by_row_from_the_stated_side() -> None:
    left = layout(plan(6, grid=(2, 3)).spec)
    assert [place(left, f) for f in (1, 3, 4)] == [(-1, -1), (1, -1), (-1, 1)]
    right = layout(plan(6, grid=(2, 3), numbering="anticlockwise").spec)
    assert [place(right, f) for f in (1, 3, 4)] == [(1, -1), (-1, -1), (1, 1)]
    with pytest.raises(ValueError, match="has 4 places, the joint has 6"):
        layout(plan(6, grid=(2, 2)).spec)


@pytest.mark.parametrize("count", COUNTS)
def test_numbers_on_a_ring_keep_apart(count: int) -> None:
    chosen = sorted(labelled(count, 360 / count, 7.0))
    assert chosen[0] == 1
    gaps = [(b - a) * 360 / count for a, b in zip(chosen, [*chosen[1:], count + 1], strict=True)]
    assert len(chosen) == 1 or min(gaps) >= 7.0 or chosen == list(range(1, count + 1))


def texts_of(svg: str) -> list[tuple[float, float, float, str, str]]:
    """(x, y, size, anchor, text) of each text."""
    root = ElementTree.fromstring(svg)
    return [
        (
            float(t.attrib["x"]),
            float(t.attrib["y"]),
            float(t.attrib["font-size"]),
            t.attrib["text-anchor"],
            t.text or "",
        )
        for t in root.iter(f"{SVG}text")
    ]


def overlaps(texts: list[tuple[float, float, float, str, str]], wide: float) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes meet; `wide` is the mean width of a character in sizes."""
    boxes = []
    for x, y, size, anchor, text in texts:
        width = len(text) * size * wide
        left = x - width / 2 if anchor == "middle" else x
        boxes.append((left, y - 0.75 * size, left + width, y, text))
    return [
        (a[4], b[4])
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]


def mixed(count: int) -> dict[int, str]:
    names = list(LOOKS)
    return {f: names[(f * 7) % 11 % 4] for f in range(1, count + 1)}


@pytest.mark.parametrize("count", COUNTS)
def test_the_map_is_legible_at_phone_width(count: int) -> None:
    svg = joint_map_svg(plan(count), states=mixed(count), title="Map")
    texts = texts_of(svg)
    scale = 390 / 720
    assert min(size for _, _, size, _, _ in texts) * scale >= 10
    assert overlaps(texts, 0.55) == []
    assert all(0 <= x <= 720 for x, *_ in texts)


@pytest.mark.parametrize(
    ("count", "grid"), [(8, (2, 4)), (12, (6, 2)), (60, (6, 10)), (200, (10, 20)), (200, (1, 200))]
)
def test_grids_are_legible_as_well(count: int, grid: tuple[int, int]) -> None:
    svg = joint_map_svg(plan(count, grid=grid), states=mixed(count), title="Map")
    assert overlaps(texts_of(svg), 0.55) == []
    assert len(print_map(plan(count, grid=grid), plan(count).passes[0].order, 180, 150).svg) > 100


@pytest.mark.parametrize("count", (8, 16, 36))
def test_labels_beside_the_marks_keep_apart(count: int) -> None:
    svg = joint_map_svg(plan(count), labels={f: f"{200 + f}" for f in range(1, count + 1)}, title="Values")
    texts = texts_of(svg)
    assert {"201", f"{200 + count}"} <= {t for *_, t in texts}
    assert overlaps(texts, 0.55) == []


def test_the_order_of_a_pass_can_be_drawn() -> None:
    svg = joint_map_svg(plan(8), order_of_pass=1, title="Order")
    assert {"1.", "8."} <= {t for *_, t in texts_of(svg)}
    with pytest.raises(ValueError, match="no pass 9"):
        joint_map_svg(plan(8), order_of_pass=9, title="Order")


def test_a_reader_that_sees_nothing_gets_every_state() -> None:
    svg = joint_map_svg(
        plan(16),
        states={1: "accepted", 2: "missing", 3: "missing", 4: "missing", 9: "not judged"},
        title="Map of KN-CW-014",
    )
    root = ElementTree.fromstring(svg)
    assert root.attrib["role"] == "img"
    ids = root.attrib["aria-labelledby"].split()
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None and desc is not None and desc.text is not None
    assert [title.attrib["id"], desc.attrib["id"]] == ids
    assert title.text == "Map of KN-CW-014"
    assert (
        "missing: 2 to 4." in desc.text
        and "not judged: 9." in desc.text
        and "the pump, looking downstream" in desc.text
    )


def test_states_differ_without_colour() -> None:
    """Mark shapes with all colour taken away are four different ones, and each has a letter in the legend."""
    seen = set()
    for state in LOOKS:
        svg = joint_map_svg(plan(8), states={3: state}, title="Map")
        marks = re.sub(r"#[0-9a-f]{6}", "", re.split("</defs>", svg)[1])
        marks = re.sub(r"<text.*?</text>", "", marks)
        seen.add(re.sub(r"m[0-9a-f]{10}", "", marks))
        assert any(t.startswith(f"{LOOKS[state].letter}  {state}: 1") for *_, t in texts_of(svg))
    assert len(seen) == len(LOOKS)


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast() -> None:
    assert math.isclose(contrast("#000000", "#ffffff"), 21)
    assert contrast(INK, PAPER) >= 4.5
    for state, look in LOOKS.items():
        assert contrast(look.text, look.ground) >= 4.5, state
        assert contrast(look.line, PAPER) >= 4.5, state


def test_two_maps_on_a_page_share_no_id() -> None:
    one, other = (joint_map_svg(plan(8), states={1: s}, title="Map") for s in ("missing", "accepted"))
    ids = [set(re.findall(r'id="([^"]+)"', svg)) for svg in (one, other)]
    assert ids[0] and not ids[0] & ids[1]
    assert one == joint_map_svg(plan(8), states={1: "missing"}, title="Map")


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", '"><b', "a & b ]]>", "nul\x00 \x1b", "\u202eelttaw", "ü𝔘"]
)
def test_hostile_texts_stay_text(name: str) -> None:
    svg = joint_map_svg(plan(4, viewed_from=name, first_fastener=name), labels={1: name}, title=name)
    root = ElementTree.fromstring(svg)
    assert not list(root.iter(f"{SVG}script")) and not list(root.iter(f"{SVG}b"))
    assert "\u202e" not in svg and "\x00" not in svg


def test_unknown_states_and_fasteners_are_refused() -> None:
    with pytest.raises(ValueError, match="'fine'"):
        joint_map_svg(plan(4), states={1: "fine"}, title="Map")
    with pytest.raises(ValueError, match=r"\[5\], the joint has 1 to 4"):
        joint_map_svg(plan(4), states={5: "accepted"}, title="Map")


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("size", (62.0, 120.0, 165.0))
def test_numbers_of_the_printed_map_keep_apart(count: int, size: float) -> None:
    drawn = print_map(plan(count), plan(count).passes[0].order, size, size)
    texts = texts_of(drawn.svg)
    assert min(s for _, _, s, _, _ in texts) >= 10.99 * POINT
    assert overlaps(texts, 0.5) == []
    shown = {t for *_, t in texts}
    assert drawn.every_number == ({str(f) for f in range(1, count + 1)} <= shown)
    assert drawn.order_on_map == (f"{count}." in shown)
