"""Without accounts the pages and the HTTP interface answer on the machine itself only, however they were started."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from evenpull.api import clients
from evenpull.store.loopback import is_loopback
from evenpull.store.models import Fact
from tests.store.people import HEADERS, fast_hashing, logged_in, opened
from tests.store.samples import AUTHOR
from tests.store.test_accounts import addresses

__all__ = ["fast_hashing"]  # a fixture that every test of this file uses
FROM_ELSEWHERE: list[dict[str, Any]] = [
    {"REMOTE_ADDR": "192.0.2.7"},
    {"REMOTE_ADDR": "2001:db8::7"},
    {"REMOTE_ADDR": ""},  # a socket of a server in front
    {"HTTP_HOST": "pages.example.org"},  # that server passes on what it was asked for
    {"HTTP_X_FORWARDED_FOR": "192.0.2.7"},
    {"HTTP_FORWARDED": "for=192.0.2.7"},
    {"HTTP_X_REAL_IP": "192.0.2.7"},
]


@pytest.mark.parametrize("how", FROM_ELSEWHERE, ids=lambda how: " ".join(f"{k}={v}" for k, v in how.items()))
def test_nothing_is_answered_to_other_machines(dossier: Path, settings: Any, how: dict[str, Any]) -> None:
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "pages.example.org"]
    token = clients.add_client("gateway", "operator", AUTHOR)
    client, size = Client(**(HEADERS | how)), Fact.objects.count()
    for name, path in addresses():
        for answer in (client.get(path), client.post(path, {"name": "Ines Harrowgate"})):
            assert answer.status_code == 403 and "evenpull account add" in answer.content.decode(), name
    answer = client.get("/api/1/joints", HTTP_AUTHORIZATION=f"Bearer {token}")
    assert answer.status_code == 403 and "no accounts" in answer.json()["error"]
    assert Fact.objects.count() == size


def test_the_machine_itself_is_answered(dossier: Path) -> None:
    for address in ("127.0.0.1", "::1", "::ffff:127.0.0.1"):
        for host in ("127.0.0.1", "127.0.0.1:8716", "localhost:8716", "[::1]", "[::1]:8716"):
            assert Client(HTTP_HOST=host, REMOTE_ADDR=address).get("/").status_code == 200, (address, host)


def test_with_accounts_other_machines_are_answered(dossier: Path) -> None:
    client = logged_in(opened("auditor"))
    assert client.get("/", REMOTE_ADDR="192.0.2.7").status_code == 200


@pytest.mark.parametrize(("host", "own"), [
    ("127.0.0.1", True), ("127.8.9.1", True), ("::1", True), ("::ffff:127.0.0.1", True), ("localhost", True),
    ("0.0.0.0", False), ("::", False), ("192.0.2.1", False), ("::ffff:192.0.2.1", False),
    ("localhost.example.org", False), ("127.0.0.1.example.org", False), ("", False), ("127.1", False),
    ("2130706433", False),
])  # fmt: skip
def test_which_addresses_are_this_machine(host: str, own: bool) -> None:
    assert is_loopback(host) is own
