"""What the codes carry: every box where the printed page has it, packed, cut into parts, read back or refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.card import make_serial, read_card_data, read_page_data
from evenpull.card.codes import CodeError
from evenpull.card.packing import PackingError, from_base45, from_numbers, pack, to_base45, to_numbers, unpack
from evenpull.card.payload import FINEST_FRONT, FINEST_HEAD, HEAD_ERROR, MOST_PARTS, PageData
from evenpull.card.places import FIELDS, BoxPlace
from evenpull.card.serial import SerialError
from tests.card.pdf_marks import marks
from tests.card.plans import plan
from tests.card.printed_cards import card, ring

SERIAL = make_serial("KN-CW-014", 7)
COUNTS = (1, 16, 36, 200)


@pytest.mark.parametrize(
    ("plain", "coded"),
    [(b"AB", "BB8"), (b"Hello!!", "%69 VD92EX0"), (b"base-45", "UJCLQE7W581"), (b"ietf!", "QED8WEX0"), (b"", "")],
)
def test_base45_as_published(plain: bytes, coded: str) -> None:
    """RFC 9285, clauses 4.3 and 4.4: its worked examples."""
    assert to_base45(plain) == coded
    assert from_base45(coded) == plain


@pytest.mark.parametrize("text", ["GGW", ":::", "A", "AB8A", "a", "BB8\n", "::"])
def test_what_is_not_base45_is_refused(text: str) -> None:
    """GGW is the example of RFC 9285 clause 6: 65,536 does not fit two bytes."""
    with pytest.raises(PackingError):
        from_base45(text)


@given(st.binary(max_size=300))
def test_bytes_come_back(data: bytes) -> None:
    assert from_base45(to_base45(data)) == data
    assert unpack(pack(data)) == data


@given(st.lists(st.integers(-(10**6), 10**6), max_size=40))
def test_numbers_come_back(numbers: list[int]) -> None:
    assert list(to_numbers(from_numbers(numbers))) == numbers


def test_a_packed_body_does_not_open_without_end() -> None:
    with pytest.raises(PackingError):
        unpack(pack(bytes(10**6)))


BOXES = st.lists(
    st.builds(
        BoxPlace, st.sampled_from([f.name for f in FIELDS]), st.integers(0, 400), st.integers(0, 20), st.integers(0, 5),
        st.integers(0, 3), st.integers(0, 1500), st.integers(0, 2500), st.integers(1, 600), st.integers(1, 300),
    ),
    max_size=60,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(BOXES, st.lists(st.tuples(st.integers(1, 400), st.sampled_from(["105", "77.4", ""])), max_size=8))
def test_any_boxes_come_back(boxes: list[BoxPlace], own: list[tuple[int, str]]) -> None:
    page = PageData(SERIAL, "0A1B2C3D", 3, 8, (2100, 2970), "N.m", tuple(boxes), tuple(own))
    texts = page.texts()
    assert read_page_data(texts) == page
    assert read_page_data(reversed(texts)) == page
    assert len(texts) <= MOST_PARTS
    for text in texts:
        assert int(segno.make_qr(text, error=HEAD_ERROR).version) <= FINEST_HEAD


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("count", COUNTS)
def test_every_box_stands_where_the_code_says(count: int, paper: str) -> None:
    """Against the rectangles in the PDF itself; a box that is drawn and not named, or the other way, fails."""
    made = ring(count, paper)
    for drawn, page in zip(marks(made.pdf), made.places, strict=True):
        named = [cell for box in page.boxes if box.field != "odd" for cell in box.cells()]
        assert len(named) == len(drawn.places), page.page
        for at in named:
            # A tenth of a millimetre by rounding, half of one for the width that rests on it.
            near = [d for d in drawn.places if all(abs(a - b) <= 0.11 for a, b in zip(at, d, strict=True))]
            assert len(near) == 1, (page.page, at)
        assert page == read_page_data(page.texts())


@pytest.mark.parametrize("count", COUNTS)
def test_every_fastener_has_its_boxes_in_each_pass(count: int) -> None:
    of, made = plan(count), ring(count, "a4")
    boxes = [box for page in made.places for box in page.boxes]
    for one in of.passes:
        wanted = [fastener for group in one.order for fastener in group]
        for field in ("done", "got", *(("moved", "moved_by") if one.check else ())):
            assert [b.fastener for b in boxes if b.field == field and b.line == one.number] == wanted
        assert sorted(b.fastener for b in boxes if b.field == "grid" and b.line == one.number) == sorted(wanted)
    elsewhere = {"series", "angle", "count_initials"}  # the last on cards of earlier versions
    assert {b.field for b in boxes} == {f.name for f in FIELDS} - elsewhere


def test_the_front_carries_the_whole_card() -> None:
    of, made = plan(16), ring(16, "a4")
    texts = made.payload.split("\n")
    data = read_card_data(texts)
    assert (data.serial, data.content, data.specification) == (made.serial, made.fingerprint, of.spec.digest)
    assert (data.name, data.place, data.document, data.revision) == (
        of.spec.name, of.spec.place, of.spec.source.document, of.spec.source.revision,
    )  # fmt: skip
    assert (data.unit, data.whole, data.decimals, data.paper) == ("N.m", 3, 0, (2100, 2970))
    assert data.tools == ("TW-0207", "TW-0219")
    assert [(p.number, p.check, p.settings) for p in data.passes] == [
        (1, False, ("105", "105")), (2, False, ("245", "245")), (3, False, ("350", "350")),
        (4, True, ("350", "350")),
    ]  # fmt: skip
    assert all(int(segno.make_qr(text, error="q").version) <= FINEST_FRONT for text in texts)


def test_long_texts_are_split_over_several_codes() -> None:
    made = card(plan(4, name="Gallery " * 40, place="Turbine hall " * 30, notes="x"))
    texts = made.payload.split("\n")
    assert len(texts) == 1  # repeated words pack well
    varied = "".join(f"{n * 7919:x} " for n in range(150))
    made = card(plan(4, place=varied))
    assert len(made.payload.split("\n")) > 1
    assert read_card_data(made.payload.split("\n")).place == varied
    for drawn, page in zip(marks(made.pdf), made.places, strict=True):
        assert len(drawn.places) == sum(len(box.cells()) for box in page.boxes if box.field != "odd")


def page_texts() -> tuple[str, ...]:
    return ring(36, "a4").places[3].texts()


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (lambda t: t[:1], "part 2 of the 2 codes"),
        (lambda t: (), "no code was given"),
        (lambda t: (t[0], t[1].replace(" 4 2/2", " 5 2/2")), "different cards or pages"),
        (lambda t: (t[0], t[1].replace("P2", "P3")), "form 'EVENPULL P3'.*version that printed it"),
        (lambda t: (t[0], t[1][:-1] + ("0" if t[1][-1] != "0" else "1")), "check sum|damaged|group|scan the page"),
        (lambda t: (t[0], t[1][:30]), "cut off|scan"),
        (lambda t: (t[0], t[1].replace("2/2", "2/9")), "part 2 of 9"),
        (lambda t: (t[0], t[1].replace("2/2", "x/2")), "no number"),
        (lambda t: ("hello",), "not the code of a card"),
        (lambda t: ring(36, "a4").payload.split("\n"), "not that of a page"),
    ],
)
def test_a_torn_or_foreign_code_is_refused(texts: Any, words: str) -> None:
    with pytest.raises(CodeError, match=words):
        read_page_data(texts(page_texts()))


def test_a_page_is_no_front_and_a_serial_is_checked() -> None:
    with pytest.raises(CodeError, match="not the one on the front"):
        read_card_data(page_texts())
    with pytest.raises(SerialError):
        read_page_data([text.replace("KN-CW-014", "KN-CW-015") for text in page_texts()])


def test_a_box_outside_the_page_or_of_another_version_is_refused() -> None:
    page = ring(16, "a4").places[3]
    for box in (replace(page.boxes[0], x=2000), replace(page.boxes[0], y=-5), replace(page.boxes[0], width=0)):
        with pytest.raises(CodeError, match="outside the page"):
            read_page_data(replace(page, boxes=(box,)).texts())
