"""What stands in an XLSX file besides its values: sheets, formulas, error cells, merged and hidden parts.

The library that reads the values gives an empty cell where a formula was never computed, where a cell holds an error
and where a cell is covered by a merged one. Here the XML is read once more for just these facts, so that nothing of
that kind passes for "the tool wrote nothing". No entity is ever expanded, and no more is unpacked than the limits
allow.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from xml.parsers import expat

from evenpull.intake.limits import (
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_MEMBERS,
    MAX_MERGED,
    MAX_ROWS,
    MAX_UNPACKED,
    megabytes,
)
from evenpull.intake.record import IntakeError

_AREA = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})")
_KEPT = (".xml", ".rels")
Area = tuple[int, int, int, int]  # first row, first column, last row, last column; 0-based


@dataclass(frozen=True, slots=True)
class Sheet:
    name: str
    member: str  # name of its XML inside the file
    hidden: bool


@dataclass
class SheetFacts:
    """Facts of one sheet; cells as (row, column), 0-based."""

    rows: int = 0
    columns: int = 0
    formulas: int = 0
    without_value: set[tuple[int, int]] = field(default_factory=set)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    merged: list[Area] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)


def damaged(file: str, why: str) -> IntakeError:
    return IntakeError("damaged-workbook", file, f"the spreadsheet cannot be read: {why}; open it in a spreadsheet "
                       "program and save it again, or save the sheet as CSV")


class Workbook:
    """An XLSX file whose XML parts were unpacked within the limits; `safe` is a ZIP archive of just these."""

    def __init__(self, data: bytes, file: str) -> None:
        self.file = file
        self._parts = _unpack(data, file)
        if "xl/workbook.xml" not in self._parts:
            raise damaged(file, "its list of sheets is missing")
        self.sheets = self._sheets()

    def safe(self) -> bytes:
        """The XML parts as an archive that holds nothing else, for the library that reads the values."""
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
            for name, data in self._parts.items():
                archive.writestr(zipfile.ZipInfo(name), data)
        return out.getvalue()

    def _sheets(self) -> tuple[Sheet, ...]:
        targets: dict[str, str] = {}
        found: list[tuple[str, str, bool]] = []

        def relation(tag: str, given: dict[str, str]) -> None:
            if tag == "Relationship":
                targets[given.get("Id", "")] = given.get("Target", "")

        def sheet(tag: str, given: dict[str, str]) -> None:
            if tag == "sheet":
                hidden = given.get("state", "visible") != "visible"
                found.append((given.get("name", ""), _local(given).get("id", ""), hidden))

        self._walk("xl/_rels/workbook.xml.rels", relation)
        self._walk("xl/workbook.xml", sheet)
        sheets = []
        for name, relation_id, hidden in found:
            target = targets.get(relation_id, "")
            member = target.lstrip("/") if target.startswith("/") else posixpath.normpath(f"xl/{target}")
            sheets.append(Sheet(name, member, hidden))
        return tuple(sheets)

    def _walk(self, member: str, start: Callable[[str, dict[str, str]], None]) -> None:
        parser = _parser()
        parser.StartElementHandler = lambda name, given: start(name.rpartition(":")[2], given)
        self._parse(parser, member)

    def _parse(self, parser: expat.XMLParserType, member: str) -> None:
        if member not in self._parts:
            raise damaged(self.file, f"its part {member[:80]!r} is missing")
        try:
            parser.Parse(self._parts[member], True)
        except expat.ExpatError as error:
            raise damaged(self.file, f"its part {member[:80]!r} is no XML: {error}") from None
        except _DoctypeError:
            raise damaged(self.file, f"its part {member[:80]!r} holds a document type; no spreadsheet does") from None

    def facts(self, sheet: Sheet) -> SheetFacts:
        """Facts of one sheet. Raises IntakeError "too-many-rows" or "too-many-cells" beyond the limits."""
        scan = _Scan(self.file, sheet.name)
        parser = _parser()
        parser.StartElementHandler = scan.start
        parser.EndElementHandler = scan.end
        parser.CharacterDataHandler = scan.text
        parser.buffer_text = True
        self._parse(parser, sheet.member)
        return scan.facts


class _DoctypeError(Exception):
    """A document type declaration was met; what it could declare is not wanted here."""


def _parser() -> expat.XMLParserType:
    parser = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise _DoctypeError

    parser.StartDoctypeDeclHandler = refuse
    return parser


def _local(given: dict[str, str]) -> dict[str, str]:
    """Attributes by their name without prefix; the relation id of a sheet is "r:id" or has another prefix."""
    return {name.rpartition(":")[2]: value for name, value in given.items() if ":" in name}


def _unpack(data: bytes, file: str) -> dict[str, bytes]:
    parts: dict[str, bytes] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            total = sum(member.file_size for member in members if member.filename.lower().endswith(_KEPT))
            if len(members) > MAX_MEMBERS or total > MAX_UNPACKED:
                raise IntakeError(
                    "too-large", file,
                    f"unpacked, the spreadsheet has {megabytes(total)} in {len(members):,} parts; at most "
                    f"{megabytes(MAX_UNPACKED)} in {MAX_MEMBERS:,} parts are read; save the sheet as CSV, or split it",
                )
            for member in members:
                if not member.filename.lower().endswith(_KEPT):
                    continue
                if member.flag_bits & 1:
                    raise IntakeError("password", file, "it is protected by a password; save it without one")
                if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                    raise damaged(file, "it is packed in a way that spreadsheets are not")
                # ZipFile gives no more than the stated size and checks the sum, so a false size cannot grow here.
                parts[_name(member.filename)] = archive.read(member)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, NotImplementedError, OSError, RuntimeError) as error:
        raise damaged(file, f"{error or type(error).__name__}") from None
    return parts


def _name(name: str) -> str:
    """Part names are compared without regard to case in this format; the list of sheets has one fixed name."""
    return "xl/workbook.xml" if name.lower() == "xl/workbook.xml" else name


def cell_at(text: str) -> tuple[int, int] | None:
    """Row and column (0-based) of a reference such as "B7"; None when it is none."""
    found = _AREA.fullmatch(text)
    if found is None:
        return None
    column = 0
    for letter in found[1]:
        column = column * 26 + ord(letter) - 64
    return int(found[2]) - 1, column - 1


def cell_name(row: int, column: int) -> str:
    """ "B7" for row 6, column 1 (0-based)."""
    name, rest = "", column + 1
    while rest:
        rest, letter = divmod(rest - 1, 26)
        name = chr(65 + letter) + name
    return f"{name}{row + 1}"


class _Scan:
    """Handlers that walk over the XML of one sheet."""

    def __init__(self, file: str, sheet: str) -> None:
        self.file, self.sheet = file, sheet
        self.facts = SheetFacts()
        self.row, self.column = -1, -1
        self.kind = ""
        self.formula = False
        self.value: list[str] = []
        self.in_value = False

    def start(self, tag: str, given: dict[str, str]) -> None:
        name = tag.rpartition(":")[2] if ":" in tag else tag
        if name == "c":
            place = cell_at(given["r"]) if "r" in given else (self.row, self.column + 1)
            if place is None:
                raise damaged(self.file, f"{given['r'][:20]!r} is no cell")
            self.row, self.column = place
            self.kind, self.formula, self.value = given.get("t", "n"), False, []
        elif name == "v":
            self.in_value = True
        elif name == "f":
            self.formula = True
        elif name == "row":
            number = given.get("r", "")
            self.row = int(number) - 1 if number.isascii() and number.isdigit() and len(number) < 9 else self.row + 1
            self.column = -1
            if given.get("hidden") in ("1", "true"):
                self.facts.hidden_rows.append(self.row)
        elif name == "mergeCell":
            self._merged(given.get("ref", ""))
        elif name == "col" and given.get("hidden") in ("1", "true"):
            low, high = given.get("min", ""), given.get("max", "")
            if low.isascii() and low.isdigit() and high.isascii() and high.isdigit():
                self.facts.hidden_columns.append((int(low) - 1, int(high) - 1))

    def text(self, data: str) -> None:
        if self.in_value:
            self.value.append(data)

    def end(self, tag: str) -> None:
        name = tag.rpartition(":")[2] if ":" in tag else tag
        if name == "v":
            self.in_value = False
        elif name == "c":
            self._cell()

    def _cell(self) -> None:
        text = "".join(self.value)
        if self.formula:
            self.facts.formulas += 1
            if not text and self.kind != "str":  # an empty text is a result too
                self.facts.without_value.add((self.row, self.column))
        if self.kind == "e":
            self.facts.errors[(self.row, self.column)] = text or "an error"
        if not (text or self.formula or self.kind == "inlineStr"):
            return  # a cell that only has a format
        facts = self.facts
        facts.rows = max(facts.rows, self.row + 1)
        facts.columns = max(facts.columns, self.column + 1)
        if facts.rows > MAX_ROWS or facts.columns > MAX_COLUMNS or facts.rows * facts.columns > MAX_CELLS:
            raise IntakeError(
                "too-many-cells", self.file,
                f"the sheet {self.sheet!r} reaches to cell {cell_name(self.row, self.column)}; at most {MAX_ROWS:,} "
                f"rows, {MAX_COLUMNS:,} columns and {MAX_CELLS:,} cells are read; clear what lies far outside the "
                "table, split the sheet, or save it as CSV",
            )

    def _merged(self, text: str) -> None:
        first, _, last = text.partition(":")
        begin, end = cell_at(first), cell_at(last or first)
        if begin is None or end is None:
            raise damaged(self.file, f"{text[:40]!r} is no area of cells")
        if len(self.facts.merged) >= MAX_MERGED:
            raise IntakeError("too-many-cells", self.file, f"the sheet {self.sheet!r} has more than {MAX_MERGED:,} "
                              "merged areas; undo the merging, or save it as CSV")
        self.facts.merged.append((*begin, *end))
