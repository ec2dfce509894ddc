"""Every test of the store that asks for `anywhere` runs on both databases: the embedded one and PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests import databases
from tests.store.postgres import Server, running_server


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """One PostgreSQL server for the whole run."""
    with running_server() as running:
        yield running


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def anywhere(request: pytest.FixtureRequest, tmp_path: Path, settings: Any, django_db_blocker: Any) -> Iterator[Path]:
    """An empty, prepared folder; its facts lie in SQLite or in a fresh PostgreSQL database."""
    from evenpull.store import services

    home = tmp_path / "home"
    home.mkdir()
    settings.EVENPULL_HOME = home
    if request.param == "sqlite":
        entry = databases.sqlite(home / "records.sqlite3")
    else:
        running: Server = request.getfixturevalue("server")
        entry = databases.postgres(running.url(running.create()))
    with django_db_blocker.unblock(), databases.database(entry):
        services.prepare()
        yield home
