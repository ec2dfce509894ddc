"""How the demo talks: numbered chapters and plain lines of at most 80 columns; a progress bar only on a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from typing import TypeVar

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.text import Text

Item = TypeVar("Item")
WIDTH = 80


class Teller:
    """Prints to `console`; without one, to standard output. No control codes when the output is no terminal."""

    def __init__(self, chapters: int, console: Console | None = None) -> None:
        self.console = console or Console(highlight=False)
        self._chapters, self._chapter = chapters, 0

    def line(self, text: str = "", *, style: str = "") -> None:
        """One line as it is (no markup, no wrapping)."""
        self.console.print(Text(text, style=style), soft_wrap=True)

    def chapter(self, title: str) -> None:
        """Begin the next numbered part of the story."""
        self._chapter += 1
        self.line()
        self.line(f"{self._chapter} of {self._chapters}  {title}", style="bold")

    def say(self, text: str, indent: int = 2, hang: int | None = None) -> None:
        """A paragraph, indented; later lines by `hang`."""
        filled = textwrap.fill(
            text,
            WIDTH,
            initial_indent=" " * indent,
            subsequent_indent=" " * (indent if hang is None else hang),
            break_long_words=False,
            break_on_hyphens=False,
        )
        self.line(filled)

    def point(self, text: str, indent: int = 2) -> None:
        """One item of a list."""
        self.say(f"- {text}", indent, indent + 2)

    def each(self, items: Iterable[Item], what: str, total: int) -> Iterator[Item]:
        """The items, with a bar that counts them on a terminal and one closing line in a log."""
        if not self.console.is_terminal:
            count = 0
            for item in items:
                yield item
                count += 1
            self.line(f"  {what}: {count} of {total}")
            return
        with Progress(
            TextColumn("  {task.description}"), BarColumn(bar_width=30), MofNCompleteColumn(), console=self.console
        ) as progress:
            task = progress.add_task(what, total=total)
            for item in items:
                yield item
                progress.advance(task)
