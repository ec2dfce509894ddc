"""The addresses of the HTTP interface. Thin: each asks the table of roles and calls one service."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC
from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import File, Header, NinjaAPI, Query
from ninja.errors import AuthenticationError, HttpError, ValidationError
from ninja.files import UploadedFile
from ninja.security import HttpBearer

from evenpull import __version__
from evenpull.api import clients, records
from evenpull.api.shapes import (
    ChangesOut,
    EntryIn,
    EntryOut,
    JointList,
    JointOut,
    LogOut,
    LotOut,
    Problem,
    RecordsIn,
    TakenIn,
)
from evenpull.intake.record import IntakeError
from evenpull.ledger.check import render
from evenpull.ledger.entry import EntryError
from evenpull.store import services
from evenpull.store.access import Act
from evenpull.store.models import ApiClient
from evenpull.store.services import audit
from evenpull.store.services.errors import Refused, Unknown

MOST_BYTES = 200_000_000


class Token(HttpBearer):
    """Authorization: Bearer TOKEN."""

    def authenticate(self, request: HttpRequest, token: str) -> ApiClient | None:
        return clients.client_of(token) if token.isascii() and len(token) < 200 else None


api = NinjaAPI(
    title="evenpull", version=__version__, urls_namespace="api", auth=Token(), docs_url=None,
    description="Records and entries in, joints and findings out. Every address asks for the token of a client.",
)  # fmt: skip
ERRORS: dict[int, Any] = dict.fromkeys((400, 401, 403, 404, 409, 413, 422), Problem)


def _client(request: HttpRequest, act: Act) -> ApiClient:
    client: ApiClient = request.auth  # type: ignore[attr-defined]
    clients.need(client, act)
    return client


def _told(request: HttpRequest, status: int, error: Exception | str, faults: Any = ()) -> HttpResponse:
    return api.create_response(request, {"error": str(error), "faults": list(faults)}, status=status)


@api.exception_handler(clients.NotAllowed)
def _not_allowed(request: HttpRequest, error: clients.NotAllowed) -> HttpResponse:
    return _told(request, 403, error)


@api.exception_handler(Refused)
def _refused(request: HttpRequest, error: Refused) -> HttpResponse:
    return _told(request, 409, error)


@api.exception_handler(Unknown)
def _unknown(request: HttpRequest, error: Unknown) -> HttpResponse:
    return _told(request, 404, error)


@api.exception_handler(EntryError)
def _entry(request: HttpRequest, error: EntryError) -> HttpResponse:
    return _told(request, 422, error, ({"field": f, "error": w, "allowed": a} for f, w, a in error.faults))


@api.exception_handler(IntakeError)
def _intake(request: HttpRequest, error: IntakeError) -> HttpResponse:
    return _told(request, 422, error)


@api.exception_handler(AuthenticationError)
def _unknown_client(request: HttpRequest, error: AuthenticationError) -> HttpResponse:
    return _told(request, 401, "no token, or one that opens nothing; send the header Authorization: Bearer TOKEN")


@api.exception_handler(ValidationError)
def _invalid(request: HttpRequest, error: ValidationError) -> HttpResponse:
    faults = ({"field": ".".join(map(str, e["loc"])), "error": str(e["msg"])} for e in error.errors)
    return _told(request, 422, "the request is not as the description says", faults)


@api.exception_handler(HttpError)
def _http(request: HttpRequest, error: HttpError) -> HttpResponse:
    return _told(request, error.status_code, error)


@api.get("/joints", response={200: JointList, **ERRORS}, summary="Joints with their state")
def joints(
    request: HttpRequest, words: str = Query("", max_length=100), state: str = Query("", max_length=40),
    page: int = Query(1, ge=1, le=10_000_000),
) -> dict[str, Any]:
    _client(request, "read")
    found = services.joint_page(words, state, page)
    rows = [asdict(row) for row in found.rows]
    return {"joints": rows, "total": found.total, "page": found.number, "pages": found.pages,
            "not_judged_again_yet": found.old}  # fmt: skip


@api.get("/joints/{joint_id}", response={200: JointOut, **ERRORS}, summary="One joint, judged now")
def joint(request: HttpRequest, joint_id: str) -> dict[str, Any]:
    _client(request, "read")
    view = services.joint(joint_id)
    flags = [asdict(flag) for flag in view.proof.open_flags]
    return {
        "id": view.spec.id, "specification": view.spec.digest, "standing": view.standing,
        "state": view.decision.state, "reasons": list(view.decision.reasons),
        "follow_ups": list(view.decision.follow_ups), "open": flags,
        "gates": [asdict(gate) for gate in view.proof.gates], "records": view.proof.records,
        "proof": view.proof_digest,
    }  # fmt: skip


@api.post("/records", response={200: TakenIn, **ERRORS}, summary="Send tightenings")
def send(request: HttpRequest, sent: RecordsIn, idempotency_key: str = Header(...)) -> dict[str, Any]:
    """Sent again with the same Idempotency-Key and content, it writes nothing and answers as the first time."""
    client = _client(request, "take in")
    answer = clients.once(
        client, idempotency_key, request.body, lambda: asdict(records.take_in(sent.records, client.name))
    )
    return answer.body | {"sent_before": answer.again}


@api.post("/files/{mapping}", response={200: TakenIn, **ERRORS}, summary="Send a file of records")
def send_file(
    request: HttpRequest, mapping: str, idempotency_key: str = Header(...), file: UploadedFile = File(...)  # noqa: B008
) -> dict[str, Any]:
    """The file is read by the mapping of this name, which has to be there already."""
    client = _client(request, "take in")
    if (file.size or 0) > MOST_BYTES:
        raise HttpError(413, f"the file has {file.size} bytes; at most {MOST_BYTES} are taken here")
    data, name = file.read(), file.name or "file"
    content = mapping.encode("utf-8", "backslashreplace") + b"\0" + data
    answer = clients.once(
        client, idempotency_key, content, lambda: asdict(
            services.commit_file(name, data, mapping, client.name, by_person=False)
        )
    )
    return answer.body | {"sent_before": answer.again}


@api.post("/entries", response={200: EntryOut, **ERRORS}, summary="Write an entry")
def enter(request: HttpRequest, sent: EntryIn, idempotency_key: str = Header(...)) -> dict[str, Any]:
    """What a person or device states about a joint, tool, person or lot. Acts that are signatures stay with people."""
    from evenpull.ledger.kinds import KINDS
    from evenpull.store.access import SIGNED

    act = KINDS[sent.kind].act if sent.kind in KINDS else "enter"
    client = _client(request, act)  # type: ignore[arg-type]
    if act in SIGNED:
        raise clients.NotAllowed(f"{sent.kind!r} is signed by a person, on the pages. Nothing was written.")
    if sent.at is not None and sent.at.tzinfo is None:
        raise Refused("at: the moment has no offset from UTC. Nothing was written.")

    def work() -> dict[str, Any]:
        entry = services.add_entry(
            sent.kind, sent.name, sent.values, client.name, unit=sent.unit, fasteners=sent.fasteners,
            at=None if sent.at is None else sent.at.astimezone(UTC), at_uncertainty=sent.at_uncertainty,
            basis=sent.basis, reason=sent.reason,
        )  # fmt: skip
        return {"fact": entry.seq, "text": render(entry)}

    return clients.once(client, idempotency_key, request.body, work).body


@api.get("/log", response={200: LogOut, **ERRORS}, summary="The evidence log as last signed")
def log(request: HttpRequest) -> dict[str, Any]:
    _client(request, "read")
    found = services.log_status()
    return {"size": found.size, "root": found.root, "key": found.key_id, "time": found.checkpoint_time}


@api.get("/changes", response={200: ChangesOut, **ERRORS}, summary="What was written, newest first")
def changes(
    request: HttpRequest, kind: str = Query("", max_length=40), joint: str = Query("", max_length=100),
    before: int | None = Query(None, ge=0, lt=2**62),
) -> dict[str, Any]:
    _client(request, "read")
    page = audit.changes(kind=kind, joint=joint, before=before)
    return {"facts": [asdict(row) for row in page.rows], "before": page.before}


@api.get("/lots/{lot}", response={200: LotOut, **ERRORS}, summary="Where parts of a lot or heat are")
def lot(request: HttpRequest, lot: str) -> dict[str, Any]:
    _client(request, "read")
    found = audit.lot(lot)
    places = [{"joint": r.joint, "unit": r.unit, "fastener": r.fastener, "fact": r.seq, "state": r.state,
               "withdrawn": r.withdrawn}
              for r in found.fasteners]  # fmt: skip
    return {"lot": found.lot, "kind": found.kind, "places": places}
