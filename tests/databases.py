"""Pointing Django at another database for one test.

pytest-django's own database fixtures empty the tables after each test, which the store's triggers refuse by design.
So each test gets a database of its own instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connections


@contextmanager
def database(entry: dict[str, Any]) -> Iterator[None]:
    """Everything inside uses this entry of DATABASES; afterwards the one before is back."""
    before = connections.settings["default"]
    _point_at(connections.configure_settings({"default": entry})["default"])
    try:
        yield
    finally:
        _point_at(before)


def _point_at(entry: dict[str, Any]) -> None:
    connections["default"].close()
    del connections["default"]
    connections.settings["default"] = entry


def sqlite(path: Any) -> dict[str, Any]:
    """The embedded default as the settings make it, in another file."""
    from evenpull.store import settings

    return settings._database("") | {"NAME": path}


def postgres(address: str) -> dict[str, Any]:
    """A PostgreSQL database as the settings make it from EVENPULL_DATABASE."""
    from evenpull.store import settings

    return settings._database(address)
