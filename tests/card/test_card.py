"""The printed card, read back from the PDF as a crew and a scanner would."""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import pytest
import typst
import zxingcpp
from PIL import Image
from pypdf import PdfReader
from tests.card.pdf_marks import marks
from tests.card.plans import ISSUED, UNTIL, plan, tool

from evenpull.card import (
    CardPDF,
    CardRefused,
    SerialError,
    TypesettingError,
    make_card,
    make_serial,
    read_page_payload,
    read_payload,
)
from evenpull.card.texts import printed, visible
from evenpull.plan.model import Plan, Problem, Series

COUNTS = (1, 8, 16, 36, 200)
STOP = Problem("overload", "stop", "At 350 N.m the fastener reaches 112 % of its yield strength; the limit is 90 %.")


def card(of: Plan, **changes: Any) -> CardPDF:
    wanted: dict[str, Any] = {"serial": make_serial(of.spec.id, 7), "issued_at": ISSUED, "valid_until": UNTIL}
    return make_card(of, **{**wanted, **changes})


@cache
def ring(count: int, paper: str) -> CardPDF:
    return card(plan(count), paper=paper)


def pages_of(pdf: bytes) -> list[str]:
    """Text of each page, white space and break places made one space."""
    return [
        re.sub(r"\s+", " ", page.extract_text().replace("\N{ZERO WIDTH SPACE}", ""))
        for page in PdfReader(io.BytesIO(pdf)).pages
    ]


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


def test_map_stop_rules_totals_and_return_are_there() -> None:
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
        "Fewer ticks than fasteners",
        "That person decides"[5:],
    ):
        assert part in text, part
    for caution_part in ("Cautions for this work", "Stop:", "Who decides:"):
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
        assert all(code.ec_level in ("Q", "H") for code in found)
        texts = {code.text for code in found}
        page_codes = [text for text in texts if text.startswith("EVENPULL PAGE")]
        assert [read_page_payload(text) for text in page_codes] == [(made.serial, made.fingerprint, number)]
        if number == 1:
            assert made.payload in texts
    identity = read_payload(made.payload)
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


def test_a_plan_that_must_not_be_used_makes_no_card() -> None:
    with pytest.raises(CardRefused) as refused:
        card(plan(16, problems=(STOP, replace(STOP, severity="warning", text="only a warning"))))
    assert refused.value.reasons == (STOP.text,)


def test_a_draft_says_on_each_page_that_it_is_one() -> None:
    made = card(plan(16, problems=(STOP,)), draft=True)
    pages = pages_of(made.pdf)
    assert all("DRAFT: NOT FOR WORK" in text for text in pages)
    assert "DO NOT USE:" in pages[0] and STOP.text in pages[0]
    sizes = marks(made.pdf)[0].text_sizes
    assert 24 in [round(size) for size in sizes]


def test_a_pass_that_no_tool_can_do_makes_no_card() -> None:
    unfit = {(1, "TW-0207"): "105 N.m is below its range of 120 to 600 N.m"}
    only_one = card(plan(16, unfit=unfit))
    (sheet,) = [t for t in pages_of(only_one.pdf) if "PASS 1 of 3" in t and "Count the ticks" in t]
    assert "DO NOT USE for this pass: 105 N.m is below its range" in sheet
    assert sheet.count("105 N·m") == 1
    with pytest.raises(CardRefused, match=r"no tool of this card can do pass 1 of 3.*below its range"):
        card(plan(16, unfit={**unfit, (1, "TW-0219"): "certificate ended"}))
    with pytest.raises(CardRefused, match="no tool of this card can do pass 1"):
        card(plan(16, unfit=unfit), tools=["TW-0207"])


def test_one_card_has_one_unit() -> None:
    mixed = plan(8, tools=(tool("TW-0301", "lbf.ft", 0.1), tool("TW-0207")))
    made = card(mixed)
    text = " ".join(pages_of(made.pdf))
    assert "Not with this card: TW-0207: it is set in N.m" in text
    assert "77.4 lbf·ft" in text and "seventy-seven point four pound-force feet" in text and "N·m" not in text
    assert "105 N·m" in " ".join(pages_of(card(mixed, tools=["TW-0207"]).pdf))
    with pytest.raises(CardRefused, match=r"TW-0301 in lbf\.ft, TW-0207 in N\.m.*one card for each unit"):
        card(mixed, tools=["TW-0301", "TW-0207"])


@pytest.mark.parametrize("tools", [[], ["TW-9999"]])
def test_a_tool_that_is_not_of_the_plan_is_refused(tools: list[str]) -> None:
    with pytest.raises(CardRefused, match="is not in the plan of this joint; allowed: TW-0207, TW-0219"):
        card(plan(8), tools=tools)


def test_a_plan_without_tools_makes_no_card() -> None:
    with pytest.raises(CardRefused, match="has no tool"):
        card(plan(8, tools=()))


def test_angle_and_series_have_their_boxes() -> None:
    of = plan(12, grid=(6, 2), kind="structural connection", method="torque and angle", series=Series("workpiece"))
    made = card(of)
    pages = pages_of(made.pdf)
    assert "workpiece: write its number" in pages[0]
    (sheet,) = [t for t in pages if "PASS 3 of 3" in t and "Count the ticks" in t]
    assert "angle °" in sheet and "turn on by 60 deg (accepted 45 deg to 75 deg)" in sheet
    (earlier,) = [t for t in pages if "PASS 2 of 3" in t and "Count the ticks" in t]
    assert "angle °" not in earlier
    assert "row by row, left to right" in " ".join(pages)


def test_fasteners_pulled_together_share_an_order_number() -> None:
    of = plan(8)
    pairs = ((1, 5), (3, 7), (2, 6), (4, 8))
    of = replace(of, passes=tuple(replace(p, order=pairs) for p in of.passes))
    pages = pages_of(card(of).pdf)
    (sheet,) = [t for t in pages if "PASS 1 of 3" in t and "Count the ticks" in t]
    assert "Rows with the same order number are pulled at the same time" in sheet
    assert "1. 1 1. 5 2. 3 2. 7" in sheet.replace("  ", " ")


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
    assert read_payload(made.payload).document == " ".join(text[:60].split())
    for page in marks(made.pdf):
        assert min(page.text_sizes) >= 10.99


def test_control_characters_become_visible_and_long_runs_may_break() -> None:
    assert visible("a\u202eb\u0000\n") == "a<U+202E>b<U+0000> "
    assert printed("W" * 30).replace("\N{ZERO WIDTH SPACE}", "") == "W" * 30
    assert max(len(run) for run in printed("W" * 300).split("\N{ZERO WIDTH SPACE}")) <= 14


def test_a_character_that_no_font_has_is_refused_not_printed_as_a_blank() -> None:
    with pytest.raises(TypesettingError, match="漢"):
        card(plan(8, name="漢字"))


@pytest.mark.parametrize(
    ("changes", "error", "words"),
    [
        ({"serial": "KN-CW-014-477X-07"}, SerialError, "do not fit"),
        ({"serial": make_serial("KN-CW-015", 7)}, ValueError, "does not belong to joint KN-CW-014"),
        ({"issued_at": ISSUED.replace(tzinfo=None)}, ValueError, "issued_at .* has no time zone"),
        ({"valid_until": UNTIL.replace(tzinfo=None)}, ValueError, "valid_until .* has no time zone"),
        ({"valid_until": ISSUED - timedelta(minutes=1)}, ValueError, "would end"),
        ({"paper": "a3"}, ValueError, "allowed: a4, us-letter"),
    ],
)
def test_bad_orders_say_what_is_wrong(changes: dict[str, Any], error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words):
        card(plan(8), **changes)
