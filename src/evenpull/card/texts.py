"""Text of people made safe to print: nothing dropped, nothing interpreted."""

from __future__ import annotations

import unicodedata
from xml.sax.saxutils import escape

LONGEST_WORD, LONGEST_RUN = 24, 14  # characters: longer words may break, after so many
_BREAK = "\N{ZERO WIDTH SPACE}"


def visible(text: str) -> str:
    """Control and format characters (a name could hide or turn text with them) written out as <U+202E>."""
    return "".join(
        f"<U+{ord(character):04X}>"
        if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn") and character != "\N{SOFT HYPHEN}"
        else character
        for character in text.replace("\r\n", " ").replace("\n", " ").replace("\t", " ")
    ).replace("\N{SOFT HYPHEN}", "<U+00AD>")


def printed(text: str, longest: int = LONGEST_WORD) -> str:
    """`visible`, with invisible break places in words longer than `longest`, which might not fit a line."""
    run = min(LONGEST_RUN, longest)
    words = []
    for word in visible(text).split(" "):
        pieces = [word[i : i + run] for i in range(0, len(word), run)] if len(word) > longest else [word]
        words.append(_BREAK.join(pieces))
    return " ".join(words)


def xml(text: str) -> str:
    """`visible` text as XML character data."""
    return escape(visible(text))


def numbers_in_words(numbers: list[int], most: int = 24) -> str:
    """Rising numbers with runs drawn together: "3, 17-19"; beyond `most` pieces the rest is counted."""
    pieces: list[str] = []
    start = 0
    ordered = sorted(numbers)
    for i in range(1, len(ordered) + 1):
        if i == len(ordered) or ordered[i] != ordered[i - 1] + 1:
            run = ordered[start:i]
            pieces.append(
                str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" if len(run) > 2 else f"{run[0]}, {run[1]}"
            )
            start = i
    return ", ".join(pieces[:most]) + (f" and {len(pieces) - most} more" if len(pieces) > most else "")
