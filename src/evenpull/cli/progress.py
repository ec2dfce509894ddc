"""How far long work is, on the terminal of the person who waits; nothing where nobody watches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """Gives a function that hears (done, all); it draws on standard error, and only on a terminal, so that output
    that is read by another program stays what it is."""
    console = Console(stderr=True)
    parts = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*parts, console=console, transient=True, disable=not console.is_terminal) as drawn:
        task = drawn.add_task(what, total=None)

        def told(done: int, count: int) -> None:
            drawn.update(task, completed=done, total=count)

        yield told
