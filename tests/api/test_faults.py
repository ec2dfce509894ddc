"""The HTTP interface in bad hands: without a token, in the wrong role, sent twice at once, on a locked or full disk.

Every refusal has one shape: {"error": words, "faults": [...]}.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import response_schema_conformance, status_code_conformance

from evenpull.api import clients
from evenpull.store import access, services
from evenpull.store.models import ApiRequest, Fact
from tests.api.test_api import RECORD, Caller, _schema
from tests.store.samples import AUTHOR, JOINT, MAPPING, furnish, many

QUIET = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), database=None)
LOOSENED = {"kind": "loosened", "name": JOINT, "fasteners": [2], "values": {"why": "cable tray"}}


@pytest.fixture
def gateway(dossier: Path) -> Caller:
    furnish()
    return Caller("operator")


def is_problem(answer: Any, status: int) -> str:
    """The words of a refusal, which has the one shape there is."""
    assert answer.status_code == status, (answer.status_code, answer.content[:300])
    assert answer.headers["Content-Type"].startswith("application/json")
    told = answer.json()
    assert set(told) == {"error", "faults"} and told["error"] and isinstance(told["faults"], list)
    return str(told["error"])


def everything(mode: Any, call: Any) -> int:
    """Call with generated requests to every address; how many there were."""
    tried = 0
    for found in _schema().get_all_operations():

        @QUIET
        @given(case=found.ok().as_strategy(generation_mode=mode))
        def one(case: Any) -> None:
            nonlocal tried
            tried += 1
            call(case)

        one()
    return tried


@pytest.mark.slow
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
def test_without_a_token_every_request_is_refused_in_one_shape(dossier: Path, mode: Any) -> None:
    furnish()
    size = Fact.objects.count()

    def call(case: Any) -> None:
        answer = case.call(headers={"Host": "127.0.0.1"})
        assert answer.status_code in (401, 404, 405), answer.status_code
        assert set(answer.json()) == {"error", "faults"}

    assert everything(mode, call) > 100
    assert Fact.objects.count() == size


@pytest.mark.slow
@pytest.mark.parametrize("role", access.ROLES)
def test_any_request_in_any_role(dossier: Path, role: str) -> None:
    """No fault of the program, no answer that the description does not know; a role that may not write writes nothing.
    The kinds that are signatures are nobody's."""
    furnish()
    token = clients.add_client("fuzz", role, AUTHOR)
    size = Fact.objects.count()
    checks = (not_a_server_error, status_code_conformance, response_schema_conformance)
    real = {"joint_id": JOINT, "mapping": MAPPING, "lot": services.specification(JOINT).fasteners.lot}
    found: Counter[tuple[str, int]] = Counter()
    for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):

        def call(case: Any) -> None:
            headers = {"Authorization": f"Bearer {token}", "Host": "127.0.0.1"}  # instead of those that were drawn
            if found.total() % 2:  # names that are there and a key that is none the less of this request alone
                case.path_parameters |= {name: real[name] for name in case.path_parameters if name in real}
                headers["Idempotency-Key"] = f"key-{role}-{found.total():05}"
            case.headers.update(headers)
            answer = case.call_and_validate(checks=checks)
            found[case.path, answer.status_code] += 1
            assert answer.status_code == 200 or set(answer.json()) == {"error", "faults"}

        everything(mode, call)
    if not any(access.may(role, act) for act in ("take in", "enter", "check", "tools", "people")):
        assert Fact.objects.count() == size
    for path in ("/joints", "/joints/{joint_id}", "/log", "/changes", "/lots/{lot}"):
        assert found[f"/api/1{path}", 200], f"no request to {path} came through: {found}"
    assert not Fact.objects.filter(kind__in=("disposition", "release")).exists() and services.check_log() == []


@QUIET
@given(st.one_of(st.text(max_size=250), st.binary(max_size=250).map(lambda b: b.decode("latin-1"))))
def test_any_token_opens_nothing(dossier: Path, token: str) -> None:
    for given_ in (token, f"Bearer {token}", f"bearer  {token}"):
        is_problem(Client(HTTP_HOST="127.0.0.1", HTTP_AUTHORIZATION=given_).get("/api/1/joints"), 401)


@QUIET
@given(st.one_of(st.text(max_size=130), st.text("ab \x7f", max_size=9)))
def test_any_key_is_taken_or_refused_with_the_rule(gateway: Caller, key: str) -> None:
    answer = gateway.post("/records", {"records": [RECORD]}, key=key)
    fits = 8 <= len(key) <= clients.LONGEST_KEY and key.isascii() and key.isprintable()
    if fits:
        assert answer.status_code == 200
    else:
        assert "8 to 100 printable" in is_problem(answer, 409)


def at_once(*calls: Any) -> list[Any]:
    """The answers of calls that begin at the same moment, each in a thread of its own."""
    start, answers = threading.Barrier(len(calls)), [None] * len(calls)

    def one(number: int) -> None:
        start.wait()
        try:
            answers[number] = calls[number]()
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one, args=(number,)) for number in range(len(calls))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def _file(caller: Caller, data: bytes) -> Any:
    return caller.web.post(
        f"/api/1/files/{MAPPING}", {"file": SimpleUploadedFile("pulls.csv", data)}, HTTP_IDEMPOTENCY_KEY="key-0001"
    )


def test_a_request_sent_several_times_at_once_is_carried_out_once(anywhere: Path) -> None:
    furnish()
    caller, size = Caller("operator"), Fact.objects.count()
    for path, body, kind, count in (
        ("/records", {"records": [RECORD]}, "tightening", 1), ("/entries", LOOSENED, "entry", 1),
    ):  # fmt: skip
        answers = at_once(*[lambda p=path, b=body: caller.post(p, b, key=f"key{p}") for _ in range(4)])
        assert [a.status_code for a in answers] == [200] * 4
        told = [{k: v for k, v in a.json().items() if k != "sent_before"} for a in answers]
        assert told == told[:1] * 4
        assert Fact.objects.filter(kind=kind).count() == count
    answers = at_once(*[lambda: _file(caller, many(20, start=500)) for _ in range(4)])
    assert sorted(a.json()["sent_before"] for a in answers) == [False, True, True, True]
    assert Fact.objects.filter(kind="tightening").count() == 21
    assert ApiRequest.objects.count() == 3 and services.check_log() == []
    assert Fact.objects.count() == size + 1 + 2 + 1 + 21  # mapping; file and record; entry; file and records


def test_one_key_with_two_contents_at_once_carries_out_one(anywhere: Path) -> None:
    furnish()
    caller = Caller("operator")
    answers = at_once(*[
        lambda n=n: caller.post("/records", {"records": [RECORD | {"counter": 7001 + n}]}) for n in range(3)
    ])  # fmt: skip
    assert sorted(a.status_code for a in answers) == [200, 409, 409]
    refused = [is_problem(a, 409) for a in answers if a.status_code == 409]
    assert all("another content" in words for words in refused)
    assert len(services.joint(JOINT).tightenings) == 1 and services.check_log() == []


def test_a_key_is_one_of_its_client_and_not_of_others(dossier: Path) -> None:
    furnish()
    one, other = Caller("operator"), Caller("tightening lead")
    assert one.post("/entries", LOOSENED).json()["fact"] != other.post("/entries", LOOSENED).json()["fact"]
    assert one.post("/entries", LOOSENED | {"fasteners": [3]}).status_code == 409  # its own came with another content
    assert Fact.objects.filter(kind="entry").count() == 2


def test_every_refusal_has_one_shape(dossier: Path, settings: Any) -> None:
    furnish()
    web = Caller("operator").web
    key = {"HTTP_IDEMPOTENCY_KEY": "key-0001"}
    many_records = json.dumps({"records": [RECORD | {"operator": "x" * 80}] * 30_000})
    for status, answer in (
        (404, web.get("/api/1/nothing")), (404, web.get("/api/2/joints")), (404, web.get("/api/1/joints/NONE")),
        (405, web.get("/api/1/records")), (405, web.delete("/api/1/joints")),
        (400, web.post("/api/1/records", b"{", content_type="application/json", **key)),
        (400, web.post("/api/1/records", b"\xff\xfe", content_type="application/json", **key)),
        (413, web.post("/api/1/records", many_records, content_type="application/json", **key)),
        (422, web.post("/api/1/records", b"[]", content_type="application/json", **key)),
        (422, web.post("/api/1/records", b'{"records": []}', content_type="application/json")),
        (422, web.get("/api/1/joints?page=0")),
        (400, Client(HTTP_HOST="elsewhere.example.org").get("/api/1/joints")),
    ):  # fmt: skip
        is_problem(answer, status)


def test_a_deeply_nested_body_is_a_refusal(dossier: Path) -> None:
    web = Caller("operator").web
    deep = b'{"records": ' + b"[" * 200_000 + b"]" * 200_000 + b"}"
    answer = web.post("/api/1/records", deep, content_type="application/json", HTTP_IDEMPOTENCY_KEY="key-0001")
    assert answer.status_code in (400, 422) and set(answer.json()) == {"error", "faults"}


def test_a_locked_and_a_full_database_are_said_with_the_way_out(dossier: Path) -> None:
    furnish()
    caller, size = Caller("operator"), Fact.objects.count()
    other = sqlite3.connect(dossier / "records.sqlite3")
    other.execute("BEGIN IMMEDIATE")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 100")
    words = is_problem(caller.post("/entries", LOOSENED), 503)
    assert "Another program holds the database" in words and words.endswith("Nothing was written.")
    other.rollback()
    other.close()
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count")
        cursor.execute(f"PRAGMA max_page_count = {cursor.fetchone()[0]}")
    data = {"records": [RECORD | {"counter": n} for n in range(500)]}
    assert "Make room" in is_problem(caller.post("/records", data), 507)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA max_page_count = 1000000")
    assert Fact.objects.count() == size and ApiRequest.objects.count() == 0
    assert caller.post("/records", data).json()["new"] == 500  # the same key: it was not used up
    assert services.check_log() == []


def test_a_fault_of_the_program_has_the_shape_as_well(
    dossier: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    caller = Caller("operator")

    def broken(*_: object) -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr(services, "joint_page", broken)
    caller.web.raise_request_exception = False
    assert "secret" not in is_problem(caller.get("/joints"), 500)
    assert "secret detail" in caplog.text  # the trace goes to whoever runs the server

