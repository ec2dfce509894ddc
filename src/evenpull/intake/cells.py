"""The cells of one row by column name, held in little space: the names are shared by all rows of a file."""

from __future__ import annotations

from collections.abc import ItemsView, Iterator, Mapping


class Cells(Mapping[str, str]):
    """A read-only mapping from column name to the untouched text of the cell."""

    __slots__ = ("_names", "_texts")

    def __init__(self, names: tuple[str, ...], texts: tuple[str, ...]) -> None:
        if len(names) < len(texts):
            raise ValueError(f"{len(texts)} cells for {len(names)} columns")
        self._names, self._texts = names, texts

    def __getitem__(self, name: str) -> str:
        for own, text in zip(self._names, self._texts, strict=False):
            if own == name:
                return text
        raise KeyError(name)

    def __iter__(self) -> Iterator[str]:
        return iter(self._names[: len(self._texts)])

    def items(self) -> ItemsView[str, str]:
        return dict(zip(self._names, self._texts, strict=False)).items()

    def pairs(self) -> list[list[str]]:
        """Name and text of each cell, in the order of the columns."""
        return list(map(list, zip(self._names, self._texts, strict=False)))

    def __len__(self) -> int:
        return len(self._texts)

    def __hash__(self) -> int:
        return hash((self._names, self._texts))

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Cells):
            return self._texts == other._texts and self._names[: len(self)] == other._names[: len(other)]
        return dict(self) == dict(other) if isinstance(other, Mapping) else NotImplemented

    def __repr__(self) -> str:
        return f"Cells({dict(self)!r})"
