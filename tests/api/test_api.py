"""The HTTP interface: tokens, roles, sending twice, errors; and what its own description promises, by schemathesis."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from django.test import Client
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import response_schema_conformance, status_code_conformance

from evenpull.api import clients
from evenpull.store import access, services
from evenpull.store.models import ApiRequest, Fact
from tests.store.samples import AUTHOR, JOINT, furnish

RECORD = {"joint": JOINT, "fastener": 1, "pass_number": 1, "torque": "45.2", "tool": "TW-0207", "counter": 7001,
          "operator": "J. Mwangale", "time": "2026-03-17T09:12:00+00:00", "direction": "tighten"}  # fmt: skip


class Caller:
    """A client of the interface with its token."""

    def __init__(self, role: str) -> None:
        token = clients.add_client(f"gateway {role}", role, AUTHOR)
        self.web = Client(HTTP_HOST="127.0.0.1", HTTP_AUTHORIZATION=f"Bearer {token}")

    def get(self, path: str) -> Any:
        return self.web.get(f"/api/1{path}")

    def post(self, path: str, body: Any, key: str = "key-0001") -> Any:
        return self.web.post(
            f"/api/1{path}", json.dumps(body), content_type="application/json", HTTP_IDEMPOTENCY_KEY=key
        )


def test_records_sent_twice_are_written_once(anywhere: Path) -> None:
    furnish()
    caller = Caller("operator")
    first = caller.post("/records", {"records": [RECORD]})
    assert first.status_code == 200 and first.json()["new"] == 1 and not first.json()["sent_before"]
    again = caller.post("/records", {"records": [RECORD]})
    assert again.json() == first.json() | {"sent_before": True}
    other_key = caller.post("/records", {"records": [RECORD]}, key="key-0002")
    assert other_key.json()["already"] and len(services.joint(JOINT).tightenings) == 1
    held = services.joint(JOINT).tightenings[0]
    assert (held.torque, held.counter, held.operator) == (45.2, 7001, "J. Mwangale")


def test_a_gateway_does_not_bring_back_what_a_person_withdrew(dossier: Path) -> None:
    furnish()
    caller = Caller("operator")
    sha = caller.post("/records", {"records": [RECORD]}).json()["sha256"]
    services.withdraw_reading(sha, "the gateway stood at another joint", AUTHOR)
    assert caller.post("/records", {"records": [RECORD]}).json()["sent_before"]  # the answer of then, nothing written
    answer = caller.post("/records", {"records": [RECORD]}, key="key-0003")
    assert answer.status_code == 409 and "stood at another joint" in answer.json()["error"]
    assert services.joint(JOINT).tightenings == ()


def test_a_key_with_another_content_is_refused(dossier: Path) -> None:
    furnish()
    caller = Caller("operator")
    caller.post("/records", {"records": [RECORD]})
    answer = caller.post("/records", {"records": [RECORD | {"counter": 7002}]})
    assert answer.status_code == 409 and "another content" in answer.json()["error"]
    assert len(services.joint(JOINT).tightenings) == 1


def test_a_conflict_leaves_neither_records_nor_key(dossier: Path) -> None:
    furnish()
    caller = Caller("operator")
    caller.post("/records", {"records": [RECORD]})
    answer = caller.post("/records", {"records": [RECORD | {"torque": "99.9"}]}, key="key-0002")
    assert answer.status_code == 409 and "counter 7001" in answer.json()["error"]
    assert ApiRequest.objects.count() == 1
    right = caller.post("/records", {"records": [RECORD | {"counter": 7003}]}, key="key-0002")
    assert right.status_code == 200 and right.json()["new"] == 1


@pytest.mark.parametrize("role", access.ROLES)
def test_roles_hold_here_too(dossier: Path, role: str) -> None:
    furnish()
    caller, before = Caller(role), Fact.objects.count()
    assert caller.get("/joints").status_code == 200
    sent = caller.post("/records", {"records": [RECORD]})
    assert sent.status_code == (200 if access.may(role, "take in") else 403)
    entry = {"kind": "conditions", "name": JOINT, "values": {"wetness": "dry"}}
    written = caller.post("/entries", entry, key="key-0009")
    assert written.status_code == (200 if access.may(role, "enter") else 403)
    if sent.status_code == written.status_code == 403:
        assert Fact.objects.count() == before


def test_signatures_stay_with_people(dossier: Path) -> None:
    furnish()
    values = {"seen": "all marks in line", "result": "in order"}
    answer = Caller("tightening lead").post("/entries", {"kind": "checked", "name": JOINT, "values": values})
    assert answer.status_code == 403 and "signed by a person" in answer.json()["error"]


def test_without_a_token_nothing_is_answered(dossier: Path) -> None:
    token = clients.add_client("gateway", "operator", AUTHOR)
    for given in ("", "Bearer wrong", f"Bearer {token}x", token):
        web = Client(HTTP_HOST="127.0.0.1", HTTP_AUTHORIZATION=given)
        assert web.get("/api/1/joints").status_code == 401
    clients.close_client("Gateway", AUTHOR)
    assert Client(HTTP_HOST="127.0.0.1", HTTP_AUTHORIZATION=f"Bearer {token}").get("/api/1/log").status_code == 401
    assert all(token not in fact.body for fact in Fact.objects.all())


def test_faults_of_an_entry_come_back_by_field(dossier: Path) -> None:
    furnish()
    answer = Caller("operator").post("/entries", {"kind": "loosened", "name": JOINT, "fasteners": [99], "values": {}})
    assert answer.status_code == 422
    assert {fault["field"] for fault in answer.json()["faults"]} == {"why", "fasteners"}


def _schema() -> Any:
    import django

    if not django.apps.apps.ready:
        django.setup()
    from evenpull.web.wsgi import application

    def here(environ: dict[str, Any], start: Any) -> Any:
        """From the machine itself: without accounts nobody else is answered."""
        return application(environ | {"REMOTE_ADDR": "127.0.0.1"}, start)

    return schemathesis.openapi.from_wsgi("/api/1/openapi.json", here)


@pytest.mark.slow
def test_what_the_description_promises(dossier: Path) -> None:
    """Generated requests to every address, with a token that may do most: no fault of the program, only answers that
    the description knows."""
    furnish()
    token = clients.add_client("fuzz", "tightening lead", AUTHOR)
    schema = _schema()
    tried = 0
    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck), database=None)
        @schemathesis_given(operation)
        def call(case: Any) -> None:
            nonlocal tried
            tried += 1
            headers = {"Authorization": f"Bearer {token}", "Host": "127.0.0.1"}
            case.call_and_validate(
                headers=headers, checks=(not_a_server_error, status_code_conformance, response_schema_conformance)
            )

        call()
    assert tried > 200


def schemathesis_given(operation: Any) -> Any:
    """hypothesis.given with the requests of one address."""
    from hypothesis import given

    return given(case=operation.as_strategy())
