"""The dossier on both databases, as the tests of the store use it."""

from tests.store.conftest import anywhere, server

__all__ = ["anywhere", "server"]
