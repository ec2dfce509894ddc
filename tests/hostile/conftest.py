"""A dossier with one joint, its tools and its mapping, and a browser that nobody has told who they are."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.test import Client

from evenpull.store import services
from tests.store import samples


@pytest.fixture
def furnished(dossier: Path) -> Path:
    samples.furnish()
    return dossier


@pytest.fixture
def unharmed(furnished: Path) -> Iterator[Path]:
    """The furnished dossier; afterwards the log must be just as long as before and sound."""
    before = services.log_status()
    yield furnished
    assert services.log_status() == before
    assert services.check_log() == []


@pytest.fixture
def stranger() -> Client:
    return Client(HTTP_HOST="localhost", raise_request_exception=False)


@pytest.fixture
def person(stranger: Client) -> Client:
    stranger.post("/who/", {"name": "Ines Harrowgate", "next": "/log/"})
    return stranger
