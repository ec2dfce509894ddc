"""A second dossier beside the one of a test: its own folder, key and database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests import databases


@contextmanager
def another(folder: Path, settings: Any) -> Iterator[None]:
    """Everything inside happens in a dossier on the embedded database; afterwards the one before is back."""
    from evenpull.store import services

    before, settings.EVENPULL_HOME = settings.EVENPULL_HOME, folder
    folder.mkdir(exist_ok=True)
    try:
        with databases.database(databases.sqlite(folder / "records.sqlite3")):
            services.prepare()
            yield
    finally:
        settings.EVENPULL_HOME = before
