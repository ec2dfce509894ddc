"""The heading of a table: names of its columns, and where the columns of the mapping are."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Protocol

from evenpull.intake.record import IntakeError
from evenpull.intake.schema import FileTable
from evenpull.intake.sources import tidy

JOINER = " / "
_SHOWN = 40


class NamesColumns(Protocol):
    """What a mapping says of a heading: how the file is written, and which columns it needs for which field."""

    @property
    def file(self) -> FileTable: ...

    def columns_used(self) -> dict[str, tuple[str, ...]]: ...


class Heading:
    """`names`: a name of its own for each column (a doubled one gets its position); `at`: name -> position (0-based);
    `least`: cells up to the last named column."""

    def __init__(self, rows: Sequence[Sequence[str]], mapping: NamesColumns, file: str) -> None:
        plain = column_names(rows)
        found: dict[str, list[int]] = {}
        for position, name in enumerate(plain):
            if name:
                found.setdefault(name, []).append(position)
        self.at = {name: positions[0] for name, positions in found.items()}
        self.names = _unique(plain, found)
        self.least = max((position + 1 for position, name in enumerate(plain) if name), default=0)
        self.notes: list[str] = []
        self._check(found, mapping, file)

    def _check(self, found: dict[str, list[int]], mapping: NamesColumns, file: str) -> None:
        line = mapping.file.header_rows[-1]
        used = mapping.columns_used()
        lacking = [(field, name) for field, names in used.items() for name in names if name not in found]
        if lacking:
            raise IntakeError("missing-column", file, _lacking(lacking, found, self.names, mapping), line=line,
                              field=lacking[0][0])
        for name, positions in found.items():
            if len(positions) == 1:
                continue
            places = ", ".join(str(position + 1) for position in positions[:20])
            fields = [field for field, names in used.items() if name in names]
            if fields:
                raise IntakeError(
                    "duplicate-column", file,
                    f"the heading has the name {name[:80]!r} in the columns {places}; which one is meant is not "
                    "guessed: give each column a name of its own, or map another column", line=line, field=fields[0],
                )
            self.notes.append(f"the name {name[:80]!r} stands over the columns {places}; the mapping does not use it")


def column_names(rows: Sequence[Sequence[str]]) -> list[str]:
    """Names from the rows of a heading, top to bottom; "" where nothing stands.

    In all rows but the last a blank cell carries its left neighbour, as a cell merged over several columns shows it.
    """
    width = max((len(row) for row in rows), default=0)
    levels: list[list[str]] = []
    for index, row in enumerate(rows):
        texts = [tidy(cell) for cell in row] + [""] * (width - len(row))
        if index < len(rows) - 1:
            left = ""
            for position, text in enumerate(texts):
                left = texts[position] = text or left
        levels.append(texts)
    names = []
    for position in range(width):
        parts = [level[position] for level in levels if level[position]]
        names.append(JOINER.join(parts).replace("\0", "\u2400"))
    return names


def _unique(plain: Sequence[str], found: dict[str, list[int]]) -> tuple[str, ...]:
    taken = {name for name, positions in found.items() if len(positions) == 1}
    names = []
    for position, name in enumerate(plain):
        if not name or len(found[name]) > 1:
            name = f"{name} (column {position + 1})" if name else f"column {position + 1}"
            while name in taken:
                name += "'"
            taken.add(name)
        names.append(name)
    return tuple(names)


def _lacking(
    lacking: list[tuple[str, str]], found: dict[str, list[int]], names: tuple[str, ...], mapping: NamesColumns
) -> str:
    texts = [name[:100] for name in list(found)[:400]]
    folded = {text.casefold(): text for text in texts}
    parts, near_all = [], []
    for field, name in lacking[:8]:
        near = [folded[match] for match in get_close_matches(name.casefold(), list(folded), 2, 0.6)]
        near_all += [text for text in near if text not in near_all]
        meant = f" (did you mean {' or '.join(map(repr, near))}?)" if near else ""
        parts.append(f"{name!r} for {field}{meant}")
    rest = near_all + [text for text in texts if text not in near_all]
    shown = ", ".join(map(repr, rest[:_SHOWN])) + (", …" if len(rest) > _SHOWN else "")
    hint = ""
    only = names[0] if len(names) == 1 else ""
    other = next((mark for mark in (";", ",", "\t", "|") if mark in only and mark != mapping.file.delimiter), None)
    if other is not None:
        hint = f"; the heading holds {other!r} while the mapping says delimiter = {mapping.file.delimiter!r}"
    more = f" and {len(lacking) - 8} more" if len(lacking) > 8 else ""
    return (f"the heading lacks columns that the mapping names: {'; '.join(parts)}{more}; columns found: "
            f"{shown or 'none'}{hint}")
