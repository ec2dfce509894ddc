"""Whatever comes in: rows are read, kept as unread, or set aside, and only IntakeError is ever raised."""

from __future__ import annotations

import io
import json
from functools import cache

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenpull.intake import IntakeError, Mapping, Reading, from_json, read_bytes, to_json
from evenpull.intake.numbers import NumberError, NumberForm
from tests.intake.samples import GOOD, HEAD, SEMICOLON, SHEET, SHEET_HEAD, cell, changed, mapping, workbook

QUIET = settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])


@cache
def mappings() -> tuple[Mapping, ...]:
    return (
        mapping(),
        changed(SEMICOLON, ('"utf-8"', '"detect"'),
                ('decimal = ","', 'decimal = ","\nthousands = "."\nshort_rows = true'),
                ('unit_column = "Unit"', 'unit_in_cell = true\nnegative = "loosening"')),
        changed(SEMICOLON, ('"utf-8"', '"cp1252"'),
                ('decimal = ","', 'decimal = ","\nquote = "none"\nstop_at = "Total"')),
        changed(SEMICOLON, ('encoding = "utf-8"', 'encoding = "utf-16"')),
    )  # fmt: skip


def check(found: Reading) -> None:
    """Each row stands in exactly one of the three lists, and every record survives JSON."""
    numbers = [item.row for part in (found.tightenings, found.unread, found.set_aside) for item in part]
    assert len(numbers) == len(set(numbers))
    for part in (found.tightenings, found.unread, found.set_aside):
        assert [item.row for item in part] == sorted(item.row for item in part)
        for item in part:
            assert from_json(json.loads(json.dumps(to_json(item), allow_nan=False))) == item
            assert "\0" not in json.dumps(to_json(item), ensure_ascii=False)
    for row in found.unread:
        assert row.reason and row.code and len(row.raw_sha256) == 64
    for one in found.tightenings:
        assert one.joint and one.fastener >= 1 and (one.torque is None or one.torque >= 0)
        assert one.time is None or one.time.utcoffset() is not None
        assert one.time is not None or one.time_doubt


cells = st.one_of(
    st.text(st.characters(blacklist_characters=";\"\r\n", blacklist_categories=("Cs",)), max_size=12),
    st.sampled_from(["NaN", "-1,5", "1.234", "31.02.2026", "25:61", "Nm", "", " ", "Total", "L", "\0", "1e400"]),
)
lines = st.one_of(
    st.just(GOOD),
    st.just(HEAD),
    st.builds(lambda place, text: cell(place, text), st.integers(0, 12), cells),
    st.lists(cells, max_size=16).map(";".join),
)


@QUIET
@given(st.lists(lines, max_size=25), st.sampled_from(["\n", "\r\n", "\r"]), st.sampled_from([0, 1]))
def test_no_row_is_dropped(body: list[str], end: str, which: int) -> None:
    data = end.join([HEAD, *body, ""]).encode()
    try:
        found = read_bytes(data, mappings()[which], "any.csv")
    except IntakeError as error:
        assert error.code in ("wrong-encoding",), error  # too many NUL
        return
    check(found)
    numbers = sorted(item.row for part in (found.tightenings, found.unread, found.set_aside) for item in part)
    assert numbers == list(range(1, len(body) + 2)), "one entry for each line of the file"


@QUIET
@given(st.lists(st.text('";\n\rab1,', max_size=30), max_size=12), st.sampled_from([0, 1, 2]))
def test_no_line_is_lost_between_quotation_marks(body: list[str], which: int) -> None:
    text = "\n".join([HEAD, GOOD, *body, GOOD]) + "\n"
    found = read_bytes(text.encode(), mappings()[which], "any.csv")
    check(found)
    kept = {row.row: row.raw for part in (found.unread, found.set_aside) for row in part}
    plain = list(io.StringIO(text, newline=""))  # physical lines with their ends
    rows = sorted([*kept, *(one.row for one in found.tightenings)])
    assert rows[0] == 1
    for number, following in zip(rows, [*rows[1:], len(plain) + 1], strict=True):
        if number in kept:
            assert kept[number] == "".join(plain[number - 1 : following - 1]).rstrip("\r\n")


@QUIET
@given(
    st.binary(max_size=400), st.sampled_from([b"", b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", f"{HEAD}\n".encode()])
)
def test_any_bytes_end_in_a_reading_or_an_intake_error(data: bytes, start: bytes) -> None:
    for how in (*mappings(), mapping(SHEET)):
        try:
            check(read_bytes(start + data, how, "any"))
        except IntakeError as error:
            assert error.message and error.file == "any"


values = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**6), 10**6), st.floats(allow_nan=False, allow_infinity=False),
    st.datetimes(), st.dates(), st.times(),
    st.text(st.characters(min_codepoint=32, blacklist_categories=("Cs",), blacklist_characters="￾￿"), max_size=10),
    st.sampled_from(["KN-1", "=1+1", "NaN", "2026-03-29 01:30:00", "-3.5"]),
)  # fmt: skip


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.lists(values, max_size=8), max_size=8))
def test_any_sheet_keeps_every_row(table: list[list[object]]) -> None:
    try:
        data = workbook([SHEET_HEAD, *table])
    except (ValueError, TypeError, OverflowError):
        return  # the library that writes the sheet refuses it
    found = read_bytes(data, mapping(SHEET), "any.xlsx")
    check(found)
    numbers = sorted(item.row for part in (found.tightenings, found.unread, found.set_aside) for item in part)
    assert numbers == list(range(1, len(numbers) + 1))
    filled = [at + 2 for at, row in enumerate(table) if any(value not in (None, "") for value in row)]
    assert not filled or numbers[-1] >= filled[-1]


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_damaged_sheets_end_in_a_reading_or_an_intake_error(data: st.DataObject) -> None:
    whole = bytearray(workbook([SHEET_HEAD, [1, "TW-1", "2026-07-01 12:00:00", "KN-1", 2, 90.5]]))
    for _ in range(data.draw(st.integers(1, 6))):
        # The length differs by some bytes from run to run, because the writer packs the time of saving into it.
        whole[data.draw(st.integers(0, 10**6)) % len(whole)] = data.draw(st.integers(0, 255))
    try:
        check(read_bytes(bytes(whole), mapping(SHEET), "any.xlsx"))
    except IntakeError as error:
        assert error.message


@settings(deadline=None)
@given(st.decimals(-(10**9), 10**9, places=3), st.booleans())
def test_a_number_written_by_the_rule_is_read_back(number: object, german: bool) -> None:
    text = f"{number:,}"
    if german:
        text = text.translate(str.maketrans(",.", ".,"))
    form = NumberForm(",", ".") if german else NumberForm(".", ",")
    assert form.read(text) == float(number)  # type: ignore[arg-type]


@settings(deadline=None)
@given(st.text(max_size=20))
def test_any_text_is_a_finite_number_or_refused(text: str) -> None:
    for form in (NumberForm(".", None), NumberForm(",", "."), NumberForm(".", "'")):
        try:
            assert abs(form.read(text)) < float("inf")
        except NumberError as error:
            assert error.code in ("not-a-number", "not-finite")
