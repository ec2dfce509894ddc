"""Where each key of a TOML text stands, so that an error can name the line.

`tomllib` reads values but forgets places. `lines_of` walks over a text that `tomllib` has already accepted and
returns the 1-based line of every table, key and array item by its path: ("fasteners", "thread"), ("clamped", 0,
"part"), ("procedure", "groups", 1). It understands tables, arrays of tables, dotted and quoted keys, inline tables,
arrays over several lines and multi-line strings.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Sequence

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BASIC = re.compile(r'"(?:[^"\\\n]|\\.)*"')
_LITERAL = re.compile(r"'[^'\n]*'")
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\[\s\S]|"{1,2}(?!"))*"{3,5}')
_LONG_LITERAL = re.compile(r"'''(?:[^']|'{1,2}(?!'))*'{3,5}")
_PLAIN = re.compile(r"[^,\]}\n#]+")
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)|\(at end of document\)")


class _Walk:
    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.starts = [0, *(found.end() for found in re.finditer("\n", text))]
        self.places: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}  # array of tables: how many so far

    def line(self) -> int:
        return bisect_right(self.starts, self.at)

    def skip(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"not a TOML text at line {self.line()}")
        self.at = found.end()
        return found[0]

    def starts_with(self, mark: str) -> bool:
        return self.text.startswith(mark, self.at)

    def take(self, mark: str) -> bool:
        if self.starts_with(mark):
            self.at += len(mark)
            return True
        return False

    def note(self, path: Path, line: int) -> None:
        self.places.setdefault(path, line)

    def key(self) -> tuple[str, ...]:
        parts = []
        while True:
            self.skip(_SPACE)
            if self.starts_with('"'):
                parts.append(str(tomllib.loads("k = " + self.skip(_BASIC))["k"]))
            elif self.starts_with("'"):
                parts.append(self.skip(_LITERAL)[1:-1])
            else:
                parts.append(self.skip(_BARE))
            self.skip(_SPACE)
            if not self.take("."):
                return tuple(parts)

    def place_of(self, keys: Sequence[str]) -> Path:
        """The path of a header's keys: where a part names an array of tables, its last item is meant."""
        path: Path = ()
        for key in keys:
            path = (*path, key)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return path

    def document(self) -> dict[Path, int]:
        table: Path = ()
        while True:
            self.skip(_BLANK)
            if self.at >= len(self.text):
                return self.places
            if self.take("[["):
                line, keys = self.line(), self.key()
                self.take("]]")
                array = (*self.place_of(keys[:-1]), keys[-1])
                self.note(array, line)
                table = (*array, self.counts.get(array, 0))
                self.counts[array] = self.counts.get(array, 0) + 1
                self.note(table, line)
            elif self.take("["):
                line, keys = self.line(), self.key()
                self.take("]")
                table = self.place_of(keys)
                self.note_all(table, (), line)
            else:
                self.pair(table)

    def note_all(self, path: Path, below: Path, line: int) -> None:
        for length in range(len(below), len(path)):
            self.note(path[: length + 1], line)

    def pair(self, table: Path) -> None:
        line = self.line()
        path: Path = (*table, *self.key())
        self.note_all(path, table, line)
        self.take("=")
        self.skip(_SPACE)
        self.value(path)

    def value(self, path: Path) -> None:
        if self.starts_with('"""'):
            self.skip(_LONG_BASIC)
        elif self.starts_with("'''"):
            self.skip(_LONG_LITERAL)
        elif self.starts_with('"'):
            self.skip(_BASIC)
        elif self.starts_with("'"):
            self.skip(_LITERAL)
        elif self.take("["):
            self.array(path)
        elif self.take("{"):
            self.inline_table(path)
        else:
            self.skip(_PLAIN)

    def array(self, path: Path) -> None:
        index = 0
        while True:
            self.skip(_BLANK)
            if self.take("]"):
                return
            item = (*path, index)
            self.note(item, self.line())
            self.value(item)
            index += 1
            self.skip(_BLANK)
            self.take(",")

    def inline_table(self, path: Path) -> None:
        while True:
            self.skip(_BLANK)
            if self.take("}"):
                return
            self.pair(path)
            self.skip(_BLANK)
            self.take(",")


def lines_of(text: str) -> dict[Path, int]:
    """Lines (1-based) of all paths in a text that `tomllib` accepts; ValueError for one that it does not."""
    return _Walk(text).document()


def line_at(places: dict[Path, int], path: Path) -> int | None:
    """Line of `path`, or of the nearest thing above it that stands in the text; None for the file as a whole."""
    for length in range(len(path), 0, -1):
        if path[:length] in places:
            return places[path[:length]]
    return None


def line_of_syntax_error(text: str, message: str) -> int | None:
    """The line a `tomllib` message speaks of; the last line when it says "at end of document"."""
    found = _AT_LINE.search(message)
    if found is None:
        return None
    return int(found[1]) if found[1] else max(1, text.count("\n") + (not text.endswith("\n")))
