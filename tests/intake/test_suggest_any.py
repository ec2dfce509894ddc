"""Suggestions for whatever comes in: only IntakeError, and what the file does not say is asked."""

from __future__ import annotations

import io
import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from evenpull.intake import IntakeError, read_bytes, read_mapping
from evenpull.intake.suggest import LEAVE_OUT, Known, Suggestion, suggest
from tests.intake.contractors import make

QUIET = settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
NOBODY = Known()


def check(name: str, data: bytes, known: Known = NOBODY) -> None:
    """Answers whatever is asked with the first choice, until nothing is; the mapping must then be read, and read."""
    answers: dict[str, str] = {}
    try:
        found = suggest(name, data, known=known)
        for _ in range(12):
            fresh = {q.key: q.choices[0].value for q in found.questions if q.choices and q.key not in answers}
            if not fresh:
                break
            answers |= fresh
            found = suggest(name, data, known=known, answers=answers)
        if not found.questions:
            read_bytes(data, read_mapping(found.text, "any.toml"), name)
    except IntakeError as error:
        assert error.code != "mapping", error  # a mapping of our own that we refuse


@QUIET
@given(st.binary(max_size=3000))
def test_any_bytes(data: bytes) -> None:
    check("any.bin", data)


cells = st.one_of(
    st.text(max_size=10),
    st.sampled_from(["Torque", "Bolt", "Joint", "Date", "Nm", "OK", "12,5", "1.234", "03/04/2026", "10.11.12", "7", "",
                     "KN-1 / 3", "9:30", "Angle (deg)", "\0", '"', "1e400", "٣", "²"]),
)


@QUIET
@given(st.lists(st.lists(cells, min_size=1, max_size=7), max_size=14), st.sampled_from(";,\t|"),
       st.sampled_from(["utf-8", "utf-16"]))
def test_any_table(rows: list[list[str]], mark: str, encoding: str) -> None:
    check("any.csv", "\n".join(mark.join(row) for row in rows).encode(encoding, "replace"),
          Known(frozenset({"KN-1"}), frozenset({"7"})))


@QUIET
@given(st.lists(st.sampled_from(["Torque (Nm)", "Torque", "Bolt", "Joint", "Date", "Time", "Unit", "Result", "Angle",
                                 "Tool", "No", "Value", "Pass"]), min_size=3, max_size=8), st.data())
def test_any_cells_under_plain_headings(heads: list[str], data: st.DataObject) -> None:
    rows = data.draw(st.lists(st.lists(cells, min_size=len(heads), max_size=len(heads)), min_size=2, max_size=8))
    lines = [";".join(heads), *(";".join(text.replace(";", "") for text in row) for row in rows)]
    check("plain.csv", "\n".join(lines).encode("utf-8", "replace"))


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 12), st.integers(0, 2**32))
def test_damaged_files(seed: int, damage: int) -> None:
    # Draws of our own: a workbook holds the time of its making, so that its length is not the same in each run.
    file, rng = make(seed), random.Random(damage)
    data = bytearray(file.data)
    for _ in range(rng.randint(1, 8)):
        at = rng.randrange(len(data))
        data[at : at + rng.randint(0, 6)] = bytes(rng.randrange(256) for _ in range(rng.randint(0, 6)))
    check(file.name, bytes(data))


def lines(*rows: str) -> bytes:
    return ("\n".join(rows) + "\n").encode()


def keys(found: Suggestion) -> set[str]:
    return {question.key for question in found.questions}


ROWS = [f"KN-1;{n};{90 + n / 10:.1f};{n:02d}/03/2026 10:{n:02d}" for n in range(1, 9)]
HEAD = "Joint;Bolt;Torque (Nm);Date and time"
SITE = Known(frozenset({"KN-1"}), zone="Europe/London")


def test_day_and_month_that_no_row_settles_are_asked_with_both_readings() -> None:
    found = suggest("a.csv", lines(HEAD, *ROWS), known=SITE)
    question = next(q for q in found.questions if q.key == "time.format")
    assert {choice.value for choice in question.choices} == {"%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M"}
    assert any("1 March 2026" in choice.says for choice in question.choices)
    assert any("3 January 2026" in choice.says for choice in question.choices)
    assert "[time]" not in found.text and "OPEN time.format" in found.text
    late = suggest("a.csv", lines(HEAD, *ROWS, "KN-1;9;91.0;13/03/2026 10:00"), known=SITE)
    assert not late.questions and 'format = "%d/%m/%Y %H:%M"' in late.text


def test_the_zone_is_asked_when_nobody_has_said_it() -> None:
    data = lines(HEAD, *ROWS, "KN-1;9;91.0;13/03/2026 10:00")
    assert keys(suggest("a.csv", data, known=Known(SITE.joints))) == {"time.zone"}
    answered = suggest("a.csv", data, known=Known(SITE.joints), answers={"time.zone": "Asia/Tokyo"})
    assert not answered.questions and 'zone = "Asia/Tokyo"' in answered.text
    assert keys(suggest("a.csv", data, known=Known(SITE.joints), answers={"time.zone": "Summer"})) == {"time.zone"}


def test_thousands_or_decimals_are_asked_when_no_number_settles_it() -> None:
    rows = [f"KN-1;{n};1.{230 + n}" for n in range(1, 9)]
    found = suggest("a.csv", lines("Joint;Bolt;Torque (Nm)", *rows), known=SITE)
    assert keys(found) == {"file.decimal"}
    ways = {c.value for c in next(q for q in found.questions if q.key == "file.decimal").choices}
    assert ways == {". none", ", ."}
    for value, torque in ((". none", 1.231), (", .", 1231.0)):
        data = lines("Joint;Bolt;Torque (Nm)", *rows)
        mapping = read_mapping(suggest("a.csv", data, known=SITE, answers={"file.decimal": value}).text, "m")
        assert read_bytes(data, mapping, "a").tightenings[0].torque == torque


def test_a_torque_without_a_unit_is_asked() -> None:
    assert keys(suggest("a.csv", lines("Joint;Bolt;Torque", *(r.rsplit(";", 1)[0] for r in ROWS)), known=SITE)) == {
        "torque.unit"}


def test_two_torques_of_which_neither_says_which_it_is_are_asked() -> None:
    rows = [f"KN-1;{n};{90 + n}.5;{80 + n}.5" for n in range(1, 9)]
    found = suggest("a.csv", lines("Joint;Bolt;Torque (Nm);Moment (Nm)", *rows), known=SITE)
    assert "torque.column" in keys(found)
    question = next(q for q in found.questions if q.key == "torque.column")
    assert {c.value for c in question.choices} == {"Torque (Nm)", "Moment (Nm)"}


def test_a_torque_with_few_values_may_be_what_was_set() -> None:
    rows = [f"KN-1;{n};{(120, 240)[n > 12]}" for n in range(1, 25)]
    found = suggest("a.csv", lines("Joint;Bolt;Torque (Nm)", *rows), known=SITE)
    assert keys(found) == {"torque.column"}
    assert "2 different values in 24 rows" in found.questions[0].text


def test_a_joint_above_the_table_is_offered_and_not_taken() -> None:
    rows = [row.split(";", 1)[1].rsplit(";", 1)[0] for row in ROWS]
    data = lines("Flange KN-1", "", "Bolt;Torque (Nm);Angle (deg)", *(f"{row};20" for row in rows))
    found = suggest("a.csv", data, known=SITE)
    question = next(q for q in found.questions if q.key == "columns.joint")
    assert "value=KN-1" in {c.value for c in question.choices} and "\njoint = " not in found.text
    answered = suggest("a.csv", data, known=SITE, answers={"columns.joint": "value=KN-1"})
    assert not answered.questions
    reading = read_bytes(data, read_mapping(answered.text, "m"), "a.csv")
    assert {t.joint for t in reading.tightenings} == {"KN-1"} and len(reading.tightenings) == 8


def test_numbers_of_lines_are_no_counter_without_a_question() -> None:
    rows = [f"{n};{row}" for n, row in enumerate(ROWS, 1)]
    found = suggest("a.csv", lines("No;" + HEAD, *rows), known=SITE)
    assert not any(g.field == "columns.counter" and g.sureness in ("sure", "likely") for g in found.columns)


def test_words_that_are_not_plain_are_asked_one_by_one() -> None:
    rows = [row.rsplit(";", 1)[0] + (";OK" if at % 2 else ";hm") for at, row in enumerate(ROWS)]
    data = lines("Joint;Bolt;Torque (Nm);Result", *rows)
    found = suggest("a.csv", data, known=SITE)
    assert keys(found) == {"meaning.result.hm"}
    done = suggest("a.csv", data, known=SITE, answers={"meaning.result.hm": "not_accepted"})
    verdicts = [t.source_verdict for t in read_bytes(data, read_mapping(done.text, "m"), "a").tightenings]
    assert verdicts == ["not accepted", "accepted"] * 4
    left = suggest("a.csv", data, known=SITE, answers={"meaning.result.hm": LEAVE_OUT})
    assert not left.questions


def test_a_word_that_no_mapping_can_hold_is_left_out() -> None:
    rows = [row.rsplit(";", 1)[0] + (";OK" if at % 2 else ";O\x03K") for at, row in enumerate(ROWS)]
    data = lines("Joint;Bolt;Torque (Nm);Result", *rows)
    found = suggest("a.csv", data, known=SITE)
    assert not found.questions
    taken = read_bytes(data, read_mapping(found.text, "m"), "a").tightenings
    assert [t.source_verdict for t in taken] == ["none", "accepted"] * 4
    assert all(bool(t.remarks) != (t.source_verdict == "accepted") for t in taken)


def test_of_several_sheets_with_tables_one_is_asked_for() -> None:
    book = Workbook()
    for title in ("Spring", "Autumn"):
        sheet = book.create_sheet(title)
        for row in [HEAD.split(";"), *(row.split(";") for row in ROWS)]:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    assert "file.sheet" in keys(suggest("a.xlsx", out.getvalue(), known=SITE))


@pytest.mark.parametrize(("heading", "cells"), [
    ("Nut", ["36", "41", "46"]),  # widths across flats
    ("Bolt", ["M24", "M27"]),
    ("Stage", ["10%", "20%", "30%"]),
    ("Time", ["1.25", "2.40", "1.10"]),  # seconds
    ("Joint", ["flat 1.5", "wound 2.0"]),  # a gasket, in French
    ("Wrench", ["46 mm", "41 mm"]),
    ("Count", ["8", "8"]),
    ("Date", ["5", "6"]),
    ("Operator", ["OK", "NOK"]),
    ("Result", ["12", "13"]),
    ("Angle", ["valve", "pipe"]),
])  # fmt: skip
def test_a_plain_heading_over_other_cells_is_never_sure(heading: str, cells: list[str]) -> None:
    rows = [f"{row.rsplit(';', 1)[0]};{cells[at % len(cells)]}" for at, row in enumerate(ROWS * 2)]
    found = suggest("a.csv", lines(f"Tag;Position;Torque (Nm);{heading}", *rows), known=SITE)
    guesses = [guess for guess in found.columns if guess.column == heading]
    assert guesses and all(guess.sureness != "sure" or not guess.field for guess in guesses), guesses


@pytest.mark.parametrize(("data", "code"), [
    (b"", "empty-file"), (b"\n \n", "empty-file"), (b"%PDF-1.7 ...", "not-a-table"),
    (b"a story\nwithout columns\n", "not-a-table"),
    (b"1;2;3\n4;5;6\n", "not-a-table"), (b"a;b;c\n\xff\xfe;\x81;\n", "wrong-encoding"),
])  # fmt: skip
def test_what_is_no_table_is_refused(data: bytes, code: str) -> None:
    with pytest.raises(IntakeError) as caught:
        suggest("a.csv", data, known=NOBODY)
    assert caught.value.code == code
