"""The printed card, read back from the PDF as a crew and a scanner would."""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest
import typst
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from evenpull.card import (
    CardPDF,
    CardRefused,
    TypesettingError,
    read_card_data,
    read_page_payload,
)
from evenpull.card.texts import printed, visible
from evenpull.plan import make_plan, read_specification, read_tools, template, tools_template
from evenpull.plan.model import JOINT_KINDS, Pass, Plan
from tests.card.pdf_marks import marks
from tests.card.plans import plan, tool
from tests.card.printed_cards import card, pages_of, ring

COUNTS = (1, 8, 16, 36, 200)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("count", COUNTS)
def test_each_page_says_what_it_belongs_to(count: int, paper: str) -> None:
    made = ring(count, paper)
    pages = pages_of(made.pdf)
    assert len(pages) == made.pages
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {made.pages}" in text
        for part in (
            made.serial,
            "KN-CW-014",
            "KN-SPEC-0114 rev. C",
            made.fingerprint,
            "2026-09-16 06:30 UTC",
            "No correction fluid",
        ):
            assert part in text, (number, part)
        assert "DRAFT" not in text
    size = PdfReader(io.BytesIO(made.pdf)).pages[0].mediabox
    assert [round(float(v)) for v in (size.width, size.height)] == ([595, 842] if paper == "a4" else [612, 792])


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("count", COUNTS)
def test_usable_with_gloves_in_the_rain(count: int, paper: str) -> None:
    """Black and white only, no text below 11 points, nothing to write into smaller than 8 mm."""
    for number, page in enumerate(marks(ring(count, paper).pdf), start=1):
        assert page.text_sizes and min(page.text_sizes) >= 10.99, number
        assert all(min(box) >= 7.99 for box in page.boxes), number
        assert page.colours <= {(0.0,), (1.0,)}, number


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("count", COUNTS)
def test_every_fastener_has_a_row_with_boxes_in_each_pass_in_pulling_order(count: int, paper: str) -> None:
    of = plan(count)
    pages = pages_of(ring(count, paper).pdf)
    drawn = marks(ring(count, paper).pdf)
    for title, one in zip(
        ("PASS 1 of 3: 30 %", "PASS 2 of 3: 70 %", "PASS 3 of 3: 100 %", "CHECK PASS"), of.passes, strict=True
    ):
        sheets = [i for i, text in enumerate(pages) if title in text and "Count the ticks" in text]
        assert sheets == list(range(sheets[0], sheets[-1] + 1))
        rows, boxes = [], 0
        for position, sheet in enumerate(sheets):
            table = pages[sheet].split("Count the ticks")[0].split("order no. done", 1)[1]
            # A map drawn beside the rows comes after them; it repeats the numbers.
            rows += [(int(a), int(b)) for a, b in re.findall(r"\b(\d+)\. (\d+)\b", table)]
            boxes += len(drawn[sheet].boxes) - (2 + 8 * (position == 0))
        planned = [(place, group[0]) for place, group in enumerate(one.order, start=1)]
        assert rows[: len(planned)] == planned
        # A tick and three digit cells each; on the check pass a tick for "moved?" and two cells for degrees as well.
        assert boxes == count * (7 if one.check else 4)
        assert sum(int(re.search(r"of (\d+) on this page", pages[s])[1]) for s in sheets) == count  # type: ignore[index]


def test_a_pass_sheet_shows_its_own_setting_and_no_other() -> None:
    pages = pages_of(ring(16, "a4").pdf)
    shown = {
        "PASS 1 of 3": ("105 N·m", "one hundred and five newton metres"),
        "PASS 2 of 3": ("245 N·m", "two hundred and forty-five newton metres"),
        "PASS 3 of 3": ("350 N·m", "three hundred and fifty newton metres"),
    }
    for title, (digits, words) in shown.items():
        (sheet,) = [text for text in pages if title in text and "Count the ticks" in text]
        assert sheet.count(digits) == 2 and sheet.count(words) == 2  # two tools, a line each
        assert "TW-0207" in sheet and "TW-0219" in sheet
        for other, (digits_there, words_there) in shown.items():
            if other != title:
                assert digits_there not in sheet and words_there not in sheet
    front = " ".join(pages[:3])
    assert not any(digits in front for digits, _ in shown.values())


def test_identity_is_to_be_copied_by_hand() -> None:
    front = pages_of(ring(16, "a4").pdf)[0]
    for part in (
        "Do not copy from this card",
        "Tag at the joint",
        "Second mark at the joint",
        "Permit number",
        "Isolation number",
        "No pressure, no stored energy: proven by",
        "Pump discharge flange",
        "gallery 3",
        "Class B",
        "16 × M24",
        "molybdenum disulfide paste",
        "M. Okonjo-Reyes",
    ):
        assert part in front, part
    # Two boxes for identity, a tick with initials, two for permits, three for the proof.
    assert len(marks(ring(16, "a4").pdf)[0].boxes) == 9


def test_map_stop_rules_grid_and_return_are_there() -> None:
    text = " ".join(pages_of(ring(16, "a4").pdf))
    for part in (
        "Seen from the pump, looking downstream",
        "clockwise, from 1 to 16",
        "at 12 o'clock, next to the keyway",
        "more than 5 deg",
        "another check pass",
        "moved?",
        "clock used for all times",
        "counter at start",
        "Tool serial: read it on the tool",
        "Change of person or tool",
        "last fastener done",
        "witness marks",
        "I stopped because",
        "handed in to",
        "Fewer: find the empty box first.",
        "that person decides",
    ):
        assert part in text, part
    for caution_part in ("Cautions for this work", "Stop when", "Who decides:"):
        assert caution_part in text


def png_pages(of: Plan, made: CardPDF, **changes: Any) -> list[Image.Image]:
    """The very pages of the PDF as pictures (200 dots per inch, as a cheap scanner has them)."""
    from evenpull.card import make, typesetting

    pictures: list[bytes] = []

    def picture(template: Any, inputs: Any, *, at: datetime) -> bytes:
        pages = typst.compile(
            template,
            root=template.parent,
            font_paths=[typesetting.FONTS],
            ignore_system_fonts=True,
            format="png",
            ppi=200,
            sys_inputs=dict(inputs),
        )
        pictures.extend(pages if isinstance(pages, list) else [pages])
        return b""

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(make, "typeset", picture)
        again = card(of, **changes)
    assert again.fingerprint == made.fingerprint
    return [Image.open(io.BytesIO(data)) for data in pictures]


@pytest.mark.parametrize("count", [1, 36])
def test_the_codes_are_read_from_the_printed_pages(count: int) -> None:
    of = plan(count)
    made = card(of)
    pictures = png_pages(of, made)
    assert len(pictures) == made.pages
    for number, picture in enumerate(pictures, start=1):
        found = zxingcpp.read_barcodes(picture.convert("L"))
        strong = [code for code in found if not code.text.startswith("EVENPULL P2")]
        assert all(code.ec_level in ("Q", "H") for code in strong)
        texts = {code.text for code in found}
        assert texts >= set(made.places[number - 1].texts())
        page_codes = [text for text in texts if text.startswith("EVENPULL PAGE")]
        assert [read_page_payload(text) for text in page_codes] == [(made.serial, made.fingerprint, number)]
        if number == 1:
            assert texts >= set(made.payload.split("\n"))
    identity = read_card_data(made.payload.split("\n")).identity()
    assert identity.specification == of.spec.digest
    assert (identity.joint, identity.content, identity.fasteners, identity.passes) == (
        "KN-CW-014",
        made.fingerprint,
        count,
        4,
    )


def test_the_same_card_is_the_same_bytes() -> None:
    assert card(plan(8)).pdf == ring(8, "a4").pdf


@pytest.mark.parametrize(
    "other",
    [
        plan(8, name="Pump suction flange"),
        plan(9),
        plan(8, tools=(tool("TW-0207"),)),
        plan(8, numbering="anticlockwise"),
        plan(8, percents=(50, 100)),
    ],
)
def test_any_printed_change_changes_the_fingerprint(other: Plan) -> None:
    assert card(other).fingerprint != ring(8, "a4").fingerprint


def test_the_file_is_tagged_and_names_itself() -> None:
    reader = PdfReader(io.BytesIO(ring(16, "a4").pdf))
    root: Any = reader.trailer["/Root"]
    assert root["/Lang"] == "en-GB"
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712  (a PDF object, not a bool)
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert reader.metadata is not None and reader.metadata.title is not None
    assert "KN-CW-014" in reader.metadata.title and "Pump discharge flange" in reader.metadata.title
    assert b"pdfuaid" in root["/Metadata"].get_data()
    kinds: Counter[str] = Counter()
    with_words = 0

    def count(node: Any) -> None:
        nonlocal with_words
        node = node.get_object()
        if isinstance(node, dict):
            kinds[str(node.get("/S"))] += 1
            with_words += "/Alt" in node
            children = node.get("/K", [])
            for child in children if isinstance(children, list) else [children]:
                if not isinstance(child, int):
                    count(child)

    count(root["/StructTreeRoot"])
    assert kinds["/H1"] >= 11 and kinds["/Table"] >= 8 and kinds["/TH"] > 20
    assert with_words >= 2  # the code and the map


HOSTILE = [
    '#strong[x] $a^2$ *b* <b> "q" _i_ \\ @ref //c',
    "Größe & Ökonomie, 50 µm",
    "]] #panic()",
    "W" * 300,
    "nul\u0001 \u202eesrever",
    "{{7*7}} ${x} %s",
    "'; DROP TABLE joints; --",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_what_people_write_is_printed_as_written(text: str) -> None:
    of = plan(
        16,
        name=text,
        place=text,
        viewed_from=text,
        first_fastener=text,
        notes=text,
        tools=(tool("TW-0207"), tool(f"TW {text[:40]}")),
    )
    of = replace(of, spec=replace(of.spec, source=replace(of.spec.source, document=text[:60], approved_by=text)))
    made = card(of)
    seen = re.sub(r"\s+", "", "".join(pages_of(made.pdf)))
    assert seen.count(re.sub(r"\s+", "", visible(text))) >= 4
    assert read_card_data(made.payload.split("\n")).document == text[:60]
    for page in marks(made.pdf):
        assert min(page.text_sizes) >= 10.99


def test_control_characters_become_visible_and_long_runs_may_break() -> None:
    assert visible("a\u202eb\u0000\n") == "a<U+202E>b<U+0000> "
    assert printed("W" * 30).replace("\N{ZERO WIDTH SPACE}", "") == "W" * 30
    assert max(len(run) for run in printed("W" * 300).split("\N{ZERO WIDTH SPACE}")) <= 14
    assert printed("T. Abernethy-Voss, in force") == "T. Abernethy-Voss, in force"


def test_a_character_that_no_font_has_is_refused_not_printed_as_a_blank() -> None:
    with pytest.raises(TypesettingError, match="漢"):
        card(plan(8, name="漢字"))


@pytest.mark.parametrize("kind", JOINT_KINDS)
def test_the_card_of_a_plan_that_was_read_and_computed(kind: str) -> None:
    """No hand-made plan: the template of each kind of joint, read, computed, printed and read back."""
    spec = read_specification(template(kind), "template.toml")
    register = read_tools(tools_template(), "tools.toml")
    tools = tuple(replace(register[0], serial=serial) for serial in spec.tools_allowed)
    of = make_plan(spec, tools, date(2026, 9, 14))
    of = replace(of, problems=(), target=replace(of.target, problems=()))
    try:
        made = card(of)
    except CardRefused as refused:
        # Only the tool may be unfit: the register of the template is not made for each joint.
        assert all("no tool of this card can do" in reason for reason in refused.reasons)
        made = card(of, draft=True)
    pages = pages_of(made.pdf)
    assert spec.id in pages[0] and spec.name in pages[0]
    for one in of.passes:
        sheets = [text for text in pages if "Count the ticks" in text and _title(one, of) in text]
        rows = [
            (int(a), int(b))
            for text in sheets
            for a, b in re.findall(r"\b(\d+)\. (\d+)\b", text.split("Count the ticks")[0].split("order no. done", 1)[1])
        ]
        planned = [(place, f) for place, group in enumerate(one.order, start=1) for f in group]
        assert rows[: len(planned)] == planned
        for setting in one.settings:
            if not setting.problems:
                assert all(setting.words in text for text in sheets)
                assert all(f"{setting.digits} {setting.unit.replace('.', '·')}" in text for text in sheets)


def _title(one: Pass, of: Plan) -> str:
    return (
        "CHECK PASS" if one.check else f"PASS {one.number} of {sum(not p.check for p in of.passes)}: {one.percent:g} %"
    )
