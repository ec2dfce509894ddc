"""Sessions of accounts: when they end, what their cookies and answers forbid, and what stands in front of the pages."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.test import Client, RequestFactory

from evenpull.store.services import accounts
from evenpull.web.guard import address_of
from tests.store.people import ADMINISTRATOR, HEADERS, PASSWORD, fast_hashing, logged_in, opened

__all__ = ["fast_hashing"]  # a fixture that every test of this file uses


def log_in_asked(client: Client) -> bool:
    answer = client.get("/")
    return answer.status_code == 302 and "/log-in/" in answer["Location"]


def test_changing_the_password_ends_the_other_sessions(anywhere: Path) -> None:
    login = opened("auditor")
    client, other = logged_in(login), logged_in(login)
    new = PASSWORD + " again"
    answer = client.post("/password/", {"old": PASSWORD, "new": new, "again": new})
    assert answer.status_code == 302 and client.get("/").status_code == 200
    assert log_in_asked(other)
    assert accounts.log_in(login, new, "192.0.2.7").login == login


def test_a_password_is_changed_only_with_the_old_one_and_twice_the_same(dossier: Path) -> None:
    client = logged_in(opened("auditor"))
    new = PASSWORD + " again"
    for form, words in (
        ({"old": "wrong", "new": new, "again": new}, "The old password is not right"),
        ({"old": PASSWORD, "new": new, "again": new + "."}, "The two new passwords differ"),
        ({"old": PASSWORD, "new": "short", "again": "short"}, "too short"),
        ({"old": PASSWORD, "new": "123412341234", "again": "123412341234"}, "entirely numeric"),
    ):
        assert words in client.post("/password/", form).content.decode()
    assert accounts.log_in("auditor.1", PASSWORD, "192.0.2.7").login == "auditor.1"


def test_closing_an_account_ends_its_sessions_for_good(anywhere: Path) -> None:
    login = opened("auditor")
    client, administrator = logged_in(login), logged_in("root.admin")
    accounts.close_account(login, ADMINISTRATOR)
    assert log_in_asked(client) and not log_in_asked(administrator)
    refused = Client(**HEADERS).post("/log-in/", {"login": login, "password": PASSWORD})
    assert refused.status_code == 403 and "not right" in refused.content.decode()
    accounts.reopen_account(login, ADMINISTRATOR)
    assert log_in_asked(client)


def test_another_role_holds_from_the_next_request_on(dossier: Path) -> None:
    login = opened("tightening lead")
    client = logged_in(login)
    assert client.post("/new-joint/", {}).status_code == 422
    accounts.set_role(login, "auditor", ADMINISTRATOR)
    assert client.post("/new-joint/", {}).status_code == 403


def test_a_session_ends_after_half_an_hour_without_a_request(dossier: Path) -> None:
    client = logged_in(opened("auditor"))
    row = Session.objects.get()
    left = row.expire_date - datetime.now(UTC)
    assert timedelta(minutes=29) < left <= timedelta(minutes=30)
    store = SessionStore(row.session_key)
    store["used"] -= 29 * 60
    store.save()
    Session.objects.update(expire_date=datetime.now(UTC) + timedelta(minutes=1))
    assert client.get("/").status_code == 200  # a request in time prolongs it
    assert Session.objects.get().expire_date - datetime.now(UTC) > timedelta(minutes=29)
    Session.objects.update(expire_date=datetime.now(UTC) - timedelta(seconds=1))
    assert log_in_asked(client)
    logged_in("auditor.1")
    assert Session.objects.count() == 1  # what has run out is cleared away


def test_logging_in_changes_the_key_of_the_session_and_logging_out_ends_it(dossier: Path) -> None:
    login = opened("auditor")
    client = Client(**HEADERS)
    client.post("/who/", {"name": "Ines Harrowgate"})
    session = SessionStore()
    session["author"] = "Ines Harrowgate"
    session.save()
    client.cookies["sessionid"] = session.session_key or ""
    client.post("/log-in/", {"login": login, "password": PASSWORD})
    assert client.cookies["sessionid"].value != session.session_key
    page = client.get("/").content.decode()
    assert "Person auditor" in page and "Ines Harrowgate" not in page
    key = client.cookies["sessionid"].value
    assert client.get("/log-out/").status_code == 405
    assert client.post("/log-out/").status_code == 302
    client.cookies["sessionid"] = key
    assert log_in_asked(client)


def test_forms_without_the_token_of_this_browser_are_refused(dossier: Path) -> None:
    opened("auditor")
    client = Client(**HEADERS, enforce_csrf_checks=True)
    answer = client.post("/log-in/", {"login": "auditor.1", "password": PASSWORD})
    assert answer.status_code == 403 and "did not come from a page" in answer.content.decode()


def test_log_in_leads_to_no_other_site(dossier: Path) -> None:
    opened("auditor")
    form = {"login": "auditor.1", "password": PASSWORD, "next": "https://elsewhere.example/"}
    assert Client(**HEADERS).post("/log-in/", form)["Location"] == "/"


def test_answers_forbid_framing_guessing_of_types_and_keeping(dossier: Path) -> None:
    open_page = Client(**HEADERS).get("/")
    assert "Cache-Control" not in open_page
    client = logged_in(opened("auditor"))
    for path, status in (("/", 200), ("/accounts/", 403), ("/joints/NONE/", 404)):
        answer = client.get(path)
        assert answer.status_code == status
        assert answer["X-Frame-Options"] == "DENY" and answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Referrer-Policy"] == "same-origin" and answer["Cache-Control"] == "no-store"
        assert "default-src 'self'" in answer["Content-Security-Policy"]
    cookie = client.cookies["sessionid"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and not cookie["secure"]


def test_the_address_is_taken_from_a_named_server_only(settings: Any) -> None:
    told = {"HTTP_X_FORWARDED_FOR": "203.0.113.9, 192.0.2.7", "REMOTE_ADDR": "127.0.0.1"}
    assert address_of(RequestFactory().get("/", **told)) == "127.0.0.1"
    settings.PROXIES = {"127.0.0.1"}
    assert address_of(RequestFactory().get("/", **told)) == "192.0.2.7"
    assert address_of(RequestFactory().get("/", REMOTE_ADDR="127.0.0.1")) == "127.0.0.1"
    assert address_of(RequestFactory().get("/", **told | {"REMOTE_ADDR": "198.51.100.1"})) == "198.51.100.1"


BEHIND_HTTPS = """
import json, django
django.setup()
from django.test import Client
from evenpull.store import services
from evenpull.store.services import accounts
services.prepare()
accounts.add_account("a.b", "A. Bee", "administrator", "seven tides at the narrows", "A. Bee")
client = Client(HTTP_HOST="pages.example.org", enforce_csrf_checks=True)
client.get("/log-in/")
token = client.cookies["csrftoken"].value
form = {"login": "a.b", "password": "seven tides at the narrows", "csrfmiddlewaretoken": token}
found = {"from elsewhere": client.post("/log-in/", form, HTTP_ORIGIN="https://other.example.org").status_code}
found["own"] = client.post("/log-in/", form, HTTP_ORIGIN="https://pages.example.org").status_code
found["secure"] = [bool(client.cookies[name]["secure"]) for name in ("sessionid", "csrftoken")]
print(json.dumps(found))
"""


def test_behind_a_server_that_speaks_https_forms_work_and_cookies_are_secure(tmp_path: Path) -> None:
    environment = os.environ | {
        "EVENPULL_HOME": str(tmp_path), "EVENPULL_HTTPS": "1", "EVENPULL_HOSTS": "pages.example.org",
        "DJANGO_SETTINGS_MODULE": "evenpull.store.settings",
    }  # fmt: skip
    command = [sys.executable, "-c", BEHIND_HTTPS]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {"from elsewhere": 403, "own": 302, "secure": [True, True]}
