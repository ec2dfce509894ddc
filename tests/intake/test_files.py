"""Files as a whole: encodings, what is no table, limits, headings."""

from __future__ import annotations

import io
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from evenpull.intake import IntakeError, decode, limits, read_bytes, read_file, textrows
from evenpull.intake import read as reading_module
from tests.intake.samples import GOOD, HEAD, SEMICOLON, SHEET, SHEET_HEAD, cell, changed, mapping, read, rows, workbook


def refused(data: bytes, how: object = None, name: str = "yard.csv") -> IntakeError:
    with pytest.raises(IntakeError) as caught:
        read_bytes(data, how or mapping(), name)  # type: ignore[arg-type]
    assert caught.value.file == name
    return caught.value


@pytest.mark.parametrize("name", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings_give_the_same_records(name: str) -> None:
    text = rows(cell(12, "Zoë Pönitz")).decode()
    data = text.encode(name)
    if name in ("utf-16-le", "utf-16-be"):
        data = "\ufeff".encode(name) + data
    wanted = "utf-16" if name.startswith("utf-16") else name.removesuffix("-sig")
    how = changed(SEMICOLON, ('encoding = "utf-8"', f'encoding = "{wanted}"'))
    one = read_bytes(data, how, "yard.csv").tightenings[0]
    assert one.operator == "Zoë Pönitz"
    assert one.raw_sha256 == read(cell(12, "Zoë Pönitz")).tightenings[0].raw_sha256
    if name != "cp1252":
        found = read_bytes(data, changed(SEMICOLON, ('"utf-8"', '"detect"')), "yard.csv")
        assert found.tightenings[0].operator == "Zoë Pönitz"
        assert found.encoding == {"utf-8": "utf-8", "utf-8-sig": "utf-8 with byte order mark"}.get(name, "utf-16")


def test_a_wrong_encoding_names_byte_and_line() -> None:
    data = rows(GOOD, cell(12, "Zoë")).decode().encode("cp1252")
    error = refused(data)
    assert (error.code, error.line) == ("wrong-encoding", 3)
    offset = data.index(b"\xeb")
    assert f"byte {offset}" in error.message and "'cp1252'" in error.message
    assert refused(data, changed(SEMICOLON, ('"utf-8"', '"detect"'))).code == "wrong-encoding"
    far = rows(*[GOOD] * 9000, cell(12, "Zoë")).decode().encode("cp1252")  # beyond the first piece that is decoded
    assert refused(far).line == 9002
    assert f"byte {far.index(bytes([0xEB])):,}" in refused(far).message


def test_marks_that_contradict_the_mapping_are_refused() -> None:
    data = rows(GOOD).decode()
    error = refused(data.encode("utf-16"))
    assert error.code == "wrong-encoding" and "UTF-16" in error.message and "'detect'" in error.message
    assert refused(data.encode(), changed(SEMICOLON, ('"utf-8"', '"utf-16"'))).code == "wrong-encoding"
    assert "UTF-32" in refused(data.encode("utf-32")).message
    half = ("\ufeff" + data).encode("utf-16-le")[:-1]
    assert refused(half, changed(SEMICOLON, ('"utf-8"', '"utf-16"'))).code == "wrong-encoding"
    assert "NUL" in refused(data.encode("utf-16-le")).message


def test_utf8_read_as_cp1252_is_noted() -> None:
    how = changed(SEMICOLON, ('"utf-8"', '"cp1252"'))
    assert any("valid UTF-8" in note for note in read_bytes(rows(cell(12, "Zoë")), how, "yard.csv").notes)
    assert not read_bytes(rows(GOOD), how, "yard.csv").notes
    assert refused(rows(GOOD) + b"\x81", how).code == "wrong-encoding"


@pytest.mark.parametrize(
    ("data", "code", "says"),
    [
        (b"", "empty-file", "is empty"),
        (b"\xef\xbb\xbf", "empty-file", "blank lines"),
        (b"\r\n \r\n\t\n", "empty-file", "blank lines"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj", "not-a-table", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not-a-table", "a PNG picture"),
        (b"\x7fELF\x02\x01\x01" + bytes(9), "not-a-table", "a program"),
        (b"MZ\x90\x00\x03\0\0\0", "not-a-table", "a program"),
        (b"\x1f\x8b\x08\0", "not-a-table", "gzip"),
        (b"\n <!DOCTYPE HTML><title>x", "not-a-table", "web page"),
        (b"PK\x05\x06" + bytes(18), "not-a-table", "ZIP"),
        (b"PK\x03\x04broken", "not-a-table", "damaged ZIP"),
        (bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600), "not-a-table", "old office file"),
        (bytes.fromhex("d0cf11e0a1b11ae1") + "EncryptedPackage".encode("utf-16-le"), "password", "password"),
    ],
)
def test_what_is_no_table_is_refused_for_both_kinds(data: bytes, code: str, says: str) -> None:
    error = refused(data)
    assert error.code == code and says in error.message
    if code != "empty-file":
        assert refused(data, mapping(SHEET)).code == code


def test_the_other_kind_of_table_is_refused_with_a_way_out() -> None:
    error = refused(workbook([SHEET_HEAD]))
    assert error.code == "spreadsheet-not-csv" and 'kind = "xlsx"' in error.message
    error = refused(rows(GOOD), mapping(SHEET))
    assert error.code == "csv-not-spreadsheet" and 'kind = "csv"' in error.message
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as out:
        out.writestr("content.xml", "<x/>")
    assert "OpenDocument" in refused(archive.getvalue(), mapping(SHEET)).message


def test_a_heading_and_no_records_is_a_reading_with_a_note() -> None:
    found = read()
    assert (found.tightenings, found.unread) == ((), ())
    assert found.notes == ("the file has a heading and no records",)
    how = changed(SEMICOLON, ('decimal = ","', 'decimal = ","\nheader_rows = [4]'))
    assert refused(b"x\n", how).code == "no-heading"


def test_a_missing_column_names_the_near_ones_first() -> None:
    error = refused(rows(GOOD, head=HEAD.replace("Torque", "Torqe N.m").replace("Joint", "joint")))
    assert error.code == "missing-column" and error.line == 1 and error.field == "columns.joint"
    assert "'Joint' for columns.joint (did you mean 'joint'?)" in error.message
    assert "columns found: 'joint', 'Torqe N.m', 'No'" in error.message
    comma = refused(rows(GOOD, head=HEAD.replace(";", ",")))
    assert "the heading holds ',' while the mapping says delimiter = ';'" in comma.message


def test_two_columns_of_one_name() -> None:
    head = HEAD.replace("By", "Torque")
    error = refused(rows(GOOD, head=head), changed(SEMICOLON, ('operator = "By"\n', "")))
    assert error.code == "duplicate-column" and "columns 8, 13" in error.message and error.field == "torque.column"
    head = HEAD + ";Note;Note;;column 16"
    found = read_bytes(rows(GOOD + ";a;b;c;d", head=head), mapping(), "yard.csv")
    assert any("'Note' stands over the columns 14, 15" in note for note in found.notes)
    cells = found.tightenings[0].received_cells
    assert (cells["Note (column 14)"], cells["Note (column 15)"], cells["column 16"]) == ("a", "b", "d")
    assert cells["column 16'"] == "c", "no cell is lost to another of the same name"


def test_nested_headings() -> None:
    head = "Where;;Pull;;;Who\nJoint;Bolt;Torque;Hand;End;"
    text = """form = "evenpull mapping 1"
name = "nested"
[file]
kind = "csv"
delimiter = ";"
header_rows = [1, 2]
[columns]
joint = "Where / Joint"
fastener = "Where / Bolt"
operator = "Who"
[torque]
column = "Pull / Torque"
unit = "N.m"
"""
    one = read_bytes(rows("KN-1;2;90;R;x;Ada", head=head, end="\n"), mapping(text), "n.csv").tightenings[0]
    assert (one.joint, one.fastener, one.operator, one.time_doubt) == ("KN-1", 2, "Ada", "the file states no time")


def test_limits_are_named_with_the_way_out(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(decode, "MAX_ROWS", 5)
    assert len(read(*[GOOD] * 4).tightenings) == 4
    error = refused(rows(*[GOOD] * 6))
    assert error.code == "too-many-rows" and "split it" in error.message
    assert refused(rows("x" * 2_000_000)).line == 2
    monkeypatch.setattr(decode, "MAX_LINE", 1000)
    monkeypatch.setattr(decode, "CHUNK", 100)
    assert read("x" * 999).unread[0].code == "too-few-cells"
    error = refused(rows(GOOD, "x" * 1001, GOOD))
    assert (error.code, error.line) == ("line-too-long", 3)
    monkeypatch.setattr(reading_module, "MAX_BYTES", 100)
    path = tmp_path / "large.csv"
    path.write_bytes(rows(GOOD))
    with pytest.raises(IntakeError, match="shorter period, or split"):
        read_file(path, mapping())


class _Endless(io.RawIOBase):
    """A file of any size that is never in memory: a head, then the same piece over and over."""

    def __init__(self, piece: bytes, size: int) -> None:
        self.piece, self.left = piece, size

    def read(self, size: int = -1) -> bytes:
        data = self.piece[: min(size, self.left)]
        self.left -= len(data)
        return data

    def seek(self, offset: int, whence: int = 0) -> int:
        return 0


@pytest.mark.parametrize(
    ("piece", "code"), [(b"x" * 2**20, "line-too-long"), ((b"y" * 99 + b"\n") * 2**13, "too-many-rows")]
)
def test_a_file_of_300_megabytes_is_refused_in_little_memory(piece: bytes, code: str) -> None:
    tracemalloc.start()
    with pytest.raises(IntakeError) as caught:
        decode.survey(_Endless(piece, 300_000_000), "utf-8", "large.csv")  # type: ignore[arg-type]
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert caught.value.code == code
    assert peak < 20e6


def test_a_file_of_300_megabytes_on_disk_is_refused_by_its_size(tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    with path.open("wb") as out:
        out.truncate(300_000_000)  # a sparse file: takes no space
    with pytest.raises(IntakeError) as caught:
        read_file(path, mapping())
    assert caught.value.code == "too-large"
    assert "300 MB" in caught.value.message and "268 MB" in caught.value.message


def test_rows_stream_through_without_the_file_in_memory() -> None:
    line = (GOOD + "\r\n").encode()
    data = rows() + line * 100_000
    seen = decode.survey(io.BytesIO(data), "utf-8", "x")
    stream = io.BytesIO(data)
    tracemalloc.start()
    count = sum(1 for _ in textrows.text_rows(stream, seen, mapping().file))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 100_001 and peak < 1e6 < len(data)


def test_a_file_that_changes_while_it_is_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "growing.csv"
    path.write_bytes(rows(GOOD))
    plain = reading_module._read

    def slow(*arguments: object) -> object:
        found = plain(*arguments)  # type: ignore[arg-type]
        with path.open("ab") as out:
            out.write(GOOD.encode())
        return found

    monkeypatch.setattr(reading_module, "_read", slow)
    with pytest.raises(IntakeError, match="changed while it was read"):
        read_file(path, mapping())


def test_limits_hold_together() -> None:
    assert limits.MAX_LINE < limits.MAX_BYTES
    assert decode.CHUNK < limits.MAX_LINE, "a line within one piece is never too long"
