"""Two people blind to each other, a third where they differ; what is said while keying; rows that follow."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from evenpull.intake import read_bytes, read_mapping
from evenpull.intake.keyed import SCANNED_MAPPING, keyed_file
from evenpull.paper.admission import OnRecord, after_its_time, refused_at_reading
from evenpull.paper.answer import Answer, AnswerError, answer_of, same
from evenpull.paper.checks import (
    Asked,
    Window,
    neighbours_swapped,
    page_notes,
    pass_notes,
    sum_notes,
    sum_of_values,
    unlikeness,
    value_note,
)
from evenpull.paper.cross import cross
from evenpull.paper.keying import Decision, KeyingError, page_state, refuse_keyer, refuse_third
from evenpull.paper.page import Page, box_of_plain, box_to_plain
from evenpull.paper.records import CardFacts, rows_of, span_of
from tests.paper.pages import HEAD, VALUES, answers, box, by, sheet

ANNA, BELA, CORA = "Anna Thorsby", "Bela Quist", "Cora Munroe"
CARD = CardFacts("KN-CW-014-0001-26", "KN-CW-014", "N.m", {(1, n): n for n in VALUES}, {1: "first"}, "UTC")


def test_two_who_agree_prove_a_page_and_one_alone_proves_no_value():
    page = sheet()
    one = page_state(page, [by(ANNA, page)])
    assert one.stage == "one" and one.answer("got.1.1") is None
    assert one.answer("done.1.1") == Answer("ticked")  # the reader of marks says it
    both = page_state(page, [by(ANNA, page), by(BELA, page, pass_name="J. MWANGALE")])
    assert both.stage == "proven" and both.proven["got.1.1"].by == (ANNA, BELA)


def test_nobody_keys_twice_and_the_third_is_another():
    page = sheet()
    first = by(ANNA, page)
    with pytest.raises(KeyingError, match="another person's"):
        refuse_keyer(page, [first], " anna  THORSBY")
    refuse_keyer(page, [first], BELA)
    second = by(BELA, page, got_2_1="19.0")
    with pytest.raises(KeyingError, match="third person decides"):
        refuse_keyer(page, [first, second], CORA)
    state = page_state(page, [first, second])
    assert state.stage == "differ" and [m.box for m in state.open] == ["got.2.1"]
    with pytest.raises(KeyingError, match="a third person"):
        refuse_third(state, "bela quist")
    refuse_third(state, CORA)
    said = Decision(CORA, "got.2.1", Answer("written", "91.0"), "the 9 is closed")
    settled = page_state(page, [first, second], [said])
    assert settled.stage == "proven" and settled.proven["got.2.1"].by == (ANNA, BELA, CORA)
    with pytest.raises(KeyingError, match="nothing is to be decided"):
        refuse_third(settled, CORA)


def test_two_who_cannot_read_agree_on_nothing():
    assert not same(Answer("cannot read"), Answer("cannot read"))
    page = sheet()
    keyed = [by(ANNA, page, got_1_1="cannot read"), by(BELA, page, got_1_1="cannot read")]
    assert page_state(page, keyed).stage == "differ"


@pytest.mark.parametrize(("text", "kept"), [("090.5", "90.5"), ("90,5", "90.5"), ("90", "90.0"), ("90.55", "90.55")])
def test_numbers_have_one_form(text, kept):
    assert answer_of(box("got", 1, 1, whole=3, decimals=1), "written", text).text == kept


@pytest.mark.parametrize(
    ("field", "state", "text"),
    [("got", "written", "9O.5"), ("got", "written", ""), ("got", "ticked", ""), ("got", "empty", "3"),
     ("pass_date", "written", "17.03.2026"), ("pass_end", "written", "25:00"), ("got", "maybe", ""),
     ("pass_name", "written", "x" * 81)],
)  # fmt: skip
def test_what_a_box_cannot_hold_is_refused(field, state, text):
    with pytest.raises(AnswerError):
        answer_of(box(field, 1, 1, decimals=1), state, text)


def test_slips_are_named():
    assert neighbours_swapped("91.0", "19.0") and not neighbours_swapped("91.0", "90.0")
    assert not neighbours_swapped("910", "019")  # changed places, but not two neighbours
    assert "changed places" in unlikeness(Answer("written", "91.0"), Answer("written", "19.0"))
    assert "shifted" in unlikeness(Answer("written", "9.10"), Answer("written", "91.0"))
    assert unlikeness(Answer("written", "91.0"), Answer("written", "94.0")) == ""
    window, got = Window(Decimal(85), Decimal(90), Decimal(95)), box("got", 1, 1, whole=3, decimals=1)
    assert value_note(got, "90.5", window) == ""
    assert "to the right" in value_note(got, "9.1", window) and "to the left" in value_note(got, "905.0", window)
    assert "neighbouring digits" in value_note(got, "19.5", Window(Decimal(90), Decimal(91), Decimal(92)))
    assert "so on the paper" in value_note(got, "40.0", window)
    assert "room for" in value_note(got, "90.55", window)


def test_totals_are_compared_while_keying():
    page = sheet(seen={2: "empty"})
    notes = [n.text for n in page_notes(page, answers(page))]
    assert any("4 ticks were counted on the paper, 3 are there" in n for n in notes)
    assert any("1204 to 1208, which is 4 pulls; 3 rows" in n for n in notes)
    assert any("not ticked" in n for n in notes)
    whole = sheet()
    assert page_notes(whole, answers(whole)) == ()
    unsure = sheet(seen={2: "ambiguous"})
    assert "done.2.1" in {b.name for b in unsure.to_key}
    assert page_notes(unsure, {k: v for k, v in answers(unsure).items() if k != "done.2.1"}) == ()


def proven(**kwargs):
    page = sheet(**kwargs)
    return page_state(page, [by(ANNA, page), by(BELA, page)])


def keyed(state):
    return state.page, {name: one.answer for name, one in state.proven.items()}


def test_rows_come_from_ticked_rows_alone_and_cite_their_crop():
    state = proven(seen={2: "empty"})
    rows = rows_of(state, state, CARD)
    assert [r["fastener"] for r in rows] == ["1", "3", "4"]
    read = read_bytes(keyed_file(rows, scanned=True), read_mapping(SCANNED_MAPPING, "scans.toml"), "scans.csv")
    first = read.tightenings[0]
    assert (first.torque, first.tool, first.operator, first.counter) == (90.5, "TW-0207", "J. Mwangale", None)
    assert first.particulars["page_image"].text.startswith("a" * 64 + " picture 1 box ")
    assert (first.particulars["keyed_by"].text, first.particulars["keyed_again_by"].text) == (ANNA, BELA)
    assert first.card_line == ("KN-CW-014-0001-26", "1", "1") and not read.unread
    assert span_of(state, 1) == (1204, 1208) and sum_of_values([keyed(state)], 1) == Decimal("361.0")


@pytest.mark.parametrize(("summed", "said"), [("361.0", 0), ("361", 0), ("352.0", 1), ("empty", 0)])
def test_the_sum_made_on_the_paper_is_compared(summed, said):
    """90.5 + 91.0 + 89.5 + 90.0 = 361.0; 352.0 is 9.0 apart, as neighbouring digits changed are."""
    last = Page("a" * 64, 2, CARD.serial, "0F1E2D3C", 9, 9, "N.m", (box("value_sum", line=1),))
    close = page_state(last, [by(who, last, value_sum=summed) for who in (ANNA, BELA)])
    notes = sum_notes([keyed(proven()), keyed(close)])
    assert len(notes) == said
    assert not said or "352.0 on the paper and 361.0 as keyed, 9.0 apart" in notes[0]


def test_a_unit_slip_is_asked_after_and_never_repaired():
    """66.4 lbf.ft are 90.0 N.m (1 lbf.ft is 1.3558 N.m, NIST SP 811, table B.8)."""
    window, got = Window(Decimal(85), Decimal(90), Decimal(95)), box("got", 1, 1, whole=3, decimals=1)
    said = value_note(got, "66.4", window, "N.m")
    assert "as lbf·ft it would be inside" in said and "key it so" in said
    assert "unit" not in value_note(got, "66.4", window, "bar")  # a pressure is no torque


def test_values_that_are_too_alike_are_asked_after():
    many = Page("a" * 64, 1, CARD.serial, "0F1E2D3C", 4, 9, "N.m",
                tuple(one for n in range(1, 9) for one in (box("done", n, 1, seen="ticked"),
                                                           box("got", n, 1, whole=3, decimals=1))))  # fmt: skip
    def notes(*texts):
        said = {f"got.{n}.1": Answer("written", text) for n, text in enumerate(texts, start=1)}
        return [n.text for n in page_notes(many, said)]
    assert notes(*["90.0"] * 8) == ["all 8 values are 90.0: read on the tool, or copied from the setting?"]
    assert "end in 0 or 5" in notes("90.0", "90.5", "91.0", "89.5", "90.0", "90.5", "89.0", "91.5")[0]
    assert notes("90.1", "90.5", "91.0", "89.5", "90.0", "90.5", "89.0", "91.5") == []
    assert notes(*["90.0"] * 7) == []  # too few to say so


def test_a_pass_on_two_sheets_is_counted_over_both():
    """The head with the counter stands on the first sheet alone: 1204 to 1208 are the pulls of both."""
    first, second = sheet(), sheet(head=False)
    asked = Asked({}, {1: 8})
    assert page_notes(first, answers(first), asked) == ()  # 4 pulls, 4 ticks: no fewer than this sheet's
    sheets = [(first, answers(first) | {f"done.{n}.1": Answer("ticked") for n in VALUES}),
              (second, answers(second) | {f"done.{n}.1": Answer("ticked") for n in VALUES})]  # fmt: skip
    assert pass_notes(sheets) == ("pass 1: the counter of the tool ran from 1204 to 1208, which is 4 pulls; 8 rows are "
                                  "ticked on its 2 sheets",)  # fmt: skip
    right = answers(first, pass_counter_end="1212")
    assert pass_notes([(first, right), sheets[1]]) == ()
    assert page_notes(first, right, asked) == () and page_notes(first, right, Asked({}, {1: 4})) != ()
    few = answers(first, pass_counter_end="1207")
    assert "3 pulls; 4 rows" in page_notes(first, few, asked)[0].text


def test_a_page_that_is_not_proven_gives_no_rows():
    page = sheet()
    with pytest.raises(ValueError, match="not proven"):
        rows_of(page_state(page, [by(ANNA, page)]), page_state(page, [by(ANNA, page)]), CARD)
    with pytest.raises(ValueError, match="not proven"):
        rows_of(proven(), page_state(page, []), CARD)


def test_boxes_are_kept_and_read_back():
    for one in sheet().boxes:
        assert box_of_plain(box_to_plain(one)) == one


UNTIL = datetime(2026, 3, 19, 8, tzinfo=UTC)
ON_RECORD = OnRecord("KN-CW-014-0001-26", "0F1E2D3C", 9, "digest", UNTIL)


@pytest.mark.parametrize(
    ("card", "content", "hours", "part"),
    [
        (None, "0F1E2D3C", -1, "was not issued here"),
        (ON_RECORD, "FFFFFFFF", -1, "another print"),
        (replace(ON_RECORD, specification="old"), "0F1E2D3C", -1, "no longer in force"),
        (ON_RECORD, "0F1E2D3C", 1, "is read after that"),
        (replace(ON_RECORD, returned_at=UNTIL + timedelta(hours=1)), "0F1E2D3C", 2, "handed in after that"),
        (replace(ON_RECORD, void="void"), "0F1E2D3C", -1, "entered as void"),
        (ON_RECORD, "0F1E2D3C", -1, ""),
        (replace(ON_RECORD, returned_at=UNTIL), "0F1E2D3C", 500, ""),
        (replace(ON_RECORD, admitted="work done in time"), "0F1E2D3C", 500, ""),
        (replace(ON_RECORD, specification="old", admitted="work before it"), "0F1E2D3C", -1, ""),
        (replace(ON_RECORD, void="void", admitted="no"), "0F1E2D3C", -1, "entered as void"),
    ],
)
def test_outdated_cards_are_refused_with_the_way_out(card, content, hours, part):
    said = refused_at_reading(card, serial="KN-CW-014-0001-26", content=content, in_force="digest", revision="C",
                              read_at=UNTIL + timedelta(hours=hours))  # fmt: skip
    assert part in said and bool(said) == bool(part)


def test_work_after_the_time_of_the_card_is_not_taken_silently():
    assert "after its time" in after_its_time(ON_RECORD, UNTIL + timedelta(minutes=1))
    assert not after_its_time(ON_RECORD, UNTIL) and not after_its_time(ON_RECORD, None)


def test_card_and_memory_agree_differ_or_stand_alone():
    state = proven()
    rows = rows_of(state, state, CARD)
    paper = read_bytes(keyed_file(rows, scanned=True), read_mapping(SCANNED_MAPPING, "s.toml"), "s.csv").tightenings
    def tool(n, text, counter, **more):
        return replace(paper[n - 1], torque=float(text), torque_text=text, counter=counter, particulars={},
                       file_sha256="b" * 64, **more)  # fmt: skip
    memory = [tool(1, "90.48", 1205), tool(2, "93.0", 1206), tool(3, "89.5", 1299)]
    found = cross([*paper, *memory], {(CARD.serial, 1): span_of(state, 1)})
    assert [(p.fastener, t.counter) for p, t in found.agree] == [(1, 1205), (3, 1299)]
    assert [(p.fastener, t.counter) for p, t, _ in found.differ] == [(2, 1206)]
    assert "91.0 N.m, the tool 93.0" in found.differ[0][2]
    assert [p.fastener for p in found.only_paper] == [4] and not found.only_tool
    assert [t.counter for t in found.outside] == [1299]
    again = cross([*paper, memory[0], tool(1, "95.0", 1207)])
    assert [t.counter for _, t in again.agree] == [1205] and [t.counter for t in again.only_tool] == [1207]
    swapped = cross([*paper, tool(1, "90.5", 1206), tool(2, "91.0", 1205)])
    assert swapped.order and "not pulled in the order" in swapped.order[0]
    other = cross([*paper, tool(1, "90.5", 1205, tool="TW-0999")])
    assert "memory is that of TW-0999" in other.differ[0][2]
    assert HEAD["pass_tool"] == "TW-0207"
