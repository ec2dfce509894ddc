"""Accounts for tests, and browsers that are logged in under them."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from evenpull.store.services import accounts

PASSWORD = "seven tides at the narrows"
HEADERS = {"HTTP_HOST": "127.0.0.1"}
ADMINISTRATOR = "R. Admin-Halvorsen"


@pytest.fixture(autouse=True)
def fast_hashing(settings: Any) -> None:
    """The hasher is argon2; its cost is not what these tests are about (one test uses the real one)."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def opened(role: str) -> str:
    """An account of this role in a dossier that has an administrator; its login."""
    if not accounts.in_use():
        accounts.add_account("root.admin", ADMINISTRATOR, "administrator", PASSWORD, ADMINISTRATOR)
    login = role.replace(" ", ".") + ".1"
    accounts.add_account(login, f"Person {role}", role, PASSWORD, ADMINISTRATOR)
    return login


def logged_in(login: str) -> Client:
    client = Client(**HEADERS)
    answer = client.post("/log-in/", {"login": login, "password": PASSWORD})
    assert answer.status_code == 302, answer.content
    return client
