"""A dossier of its own for every test: a fresh folder, and the database that pytest-django gives."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def dossier(tmp_path: Path, settings: Any, transactional_db: None) -> Path:
    """An empty folder that the services use; facts are written once, so the tables are made anew for each test."""
    from evenpull.store import services

    settings.EVENPULL_HOME = tmp_path / "home"
    services.prepare()
    return tmp_path / "home"
