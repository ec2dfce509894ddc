"""Reads back from a PDF what is drawn: text sizes in points, rectangles in millimetres, colours."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from pypdf import PdfReader
from pypdf.generic import ContentStream

Matrix = tuple[float, float, float, float, float, float]
IDENTITY: Matrix = (1, 0, 0, 1, 0, 0)
MM = 25.4 / 72


def times(a: Matrix, b: Matrix) -> Matrix:
    return (
        a[0] * b[0] + a[1] * b[2],
        a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2],
        a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4],
        a[4] * b[1] + a[5] * b[3] + b[5],
    )


@dataclass
class Marks:
    height: float = 0.0  # pt, of the page
    text_sizes: list[float] = field(default_factory=list)  # pt, one for each piece of shown text
    boxes: list[tuple[float, float]] = field(default_factory=list)  # mm, outlined rectangles (width, height)
    places: list[tuple[float, float, float, float]] = field(default_factory=list)  # mm, left, top, width, height
    colours: set[tuple[float, ...]] = field(default_factory=set)  # of fill and stroke


@lru_cache(maxsize=32)
def marks(pdf: bytes) -> tuple[Marks, ...]:
    """The marks of each page; read once however many tests look at it."""
    reader = PdfReader(io.BytesIO(pdf))
    found = []
    for page in reader.pages:
        on_page = Marks(float(page.mediabox.height))
        _walk(ContentStream(page.get_contents(), reader), page["/Resources"], IDENTITY, on_page, reader)
        found.append(on_page)
    return tuple(found)


def _walk(stream: ContentStream, resources: Any, base: Matrix, out: Marks, reader: PdfReader) -> None:
    matrix, stack = base, []
    size, line = 0.0, IDENTITY
    path: list[list[tuple[float, float]]] = []
    curved = False
    for operands, operator in stream.operations:
        op = operator.decode()
        numbers = [float(o) for o in operands if isinstance(o, (int, float))] if op not in ("Tj", "TJ") else []
        if op == "q":
            stack.append(matrix)
        elif op == "Q":
            matrix = stack.pop()
        elif op == "cm":
            matrix = times(tuple(numbers), matrix)  # type: ignore[arg-type]
        elif op == "Tf":
            size = float(operands[1])
        elif op == "BT":
            line = IDENTITY
        elif op == "Tm":
            line = tuple(numbers)  # type: ignore[assignment]
        elif op in ("Tj", "TJ"):
            whole = times(line, matrix)
            out.text_sizes.append(size * (whole[2] ** 2 + whole[3] ** 2) ** 0.5)
        elif op == "m":
            path.append([(numbers[0], numbers[1])])
        elif op == "l":
            path[-1].append((numbers[0], numbers[1]))
        elif op == "re":
            x, y, w, h = numbers
            path.append([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])
        elif op in ("c", "v", "y"):
            curved = True
        elif op in ("S", "s", "f", "F", "f*", "B", "b", "n", "B*", "b*"):
            if op in ("S", "s", "B", "b") and not curved:
                for piece in path:
                    if len(piece) >= 4:
                        placed = [times((1, 0, 0, 1, *point), matrix)[4:] for point in piece]
                        xs, ys = [p[0] for p in placed], [p[1] for p in placed]
                        out.boxes.append(((max(xs) - min(xs)) * MM, (max(ys) - min(ys)) * MM))
                        out.places.append((min(xs) * MM, (out.height - max(ys)) * MM, *out.boxes[-1]))
            path, curved = [], False
        elif op in ("g", "G", "rg", "RG", "k", "K", "sc", "SC", "scn", "SCN"):
            out.colours.add(tuple(numbers))
        elif op == "Do":
            form = resources["/XObject"][operands[0]]
            if form["/Subtype"] == "/Form":
                inner = tuple(float(v) for v in form.get("/Matrix", IDENTITY))
                _walk(ContentStream(form, reader), form.get("/Resources", resources), times(inner, matrix), out, reader)  # type: ignore[arg-type]
