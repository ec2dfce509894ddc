"""A dossier of its own for every test: a fresh folder with its own database."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings as generated
from typer.main import get_command

from tests import databases

# No test asserts a time; the machine may be busy with other things.
generated.register_profile("untimed", deadline=None)
generated.load_profile("untimed")


@pytest.fixture(scope="session", autouse=True)
def commands_made_once() -> Iterator[None]:
    """The more than a hundred commands with their options are made from the functions once, as when the program starts;
    the runner of the tests makes them anew at each call, which takes longer than most commands."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("typer.testing._get_command", cache(get_command))
        yield


@pytest.fixture
def dossier(tmp_path: Path, settings: Any, django_db_blocker: Any) -> Iterator[Path]:
    """An empty, prepared folder on the embedded database."""
    from evenpull.store import services

    home = tmp_path / "home"
    home.mkdir()
    settings.EVENPULL_HOME = home
    with django_db_blocker.unblock(), databases.database(databases.sqlite(home / "records.sqlite3")):
        services.prepare()
        yield home
