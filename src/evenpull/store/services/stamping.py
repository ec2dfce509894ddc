"""Time-stamps of an outside authority over checkpoints: the request goes out as a file, the token comes back as one."""

from __future__ import annotations

import json
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from evenpull.evidence.authority import AuthorityError, read_authorities
from evenpull.evidence.canonical import canonical
from evenpull.evidence.checkpoint import Checkpoint, moment, read_checkpoint, read_moment
from evenpull.evidence.timestamp import (
    OtherRequestError,
    TimeStamp,
    TimeStampError,
    check_token,
    make_request,
)
from evenpull.store.models import Fact
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import REQUESTED, STAMP
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw
from evenpull.store.services.witness import last_checkpoint

LARGEST = 1_000_000  # bytes of a token; those of public authorities have some 5,000


@dataclass(frozen=True)
class StampRow:
    """`at` as the authority states it, UTC; `size` of the log that it stamps; `token` SHA-256 of the raw file."""

    seq: int
    at: datetime
    size: int
    authority: str
    policy: str
    anchored: bool
    token: str
    author: str


def request_stamp(author: str) -> tuple[bytes, Checkpoint]:
    """Request over the last checkpoint (DER, to be sent as a file) and that checkpoint; the fact keeps the request."""
    who = checked_author(author)
    with writing():
        state, nonce = last_checkpoint(), secrets.randbits(63) | 1
        request = make_request(state.text, nonce)
        body = {
            "form": "evenpull time-stamp request 1",
            "checkpoint": _json(state),
            "request": request.hex(),
            "nonce": str(nonce),
        }
        append([New(REQUESTED, f"{REQUESTED}:{nonce}", body)], who)
    return request, state


def keep_stamp(token: bytes, author: str, authorities: bytes | None = None) -> StampRow:
    """Check a response or token against the requests made here and keep it. `authorities`: trusted certificates in PEM.

    Refused, with the reason, when it answers none of the requests or does not hold; the same token again is the fact
    that is there already.
    """
    who = checked_author(author)
    if len(token) > LARGEST:
        raise Refused(f"a time-stamp token has at most {LARGEST} bytes, not {len(token)}. Nothing was written.")
    try:
        trusted = None if authorities is None else read_authorities(authorities)
    except AuthorityError as error:
        raise Refused(f"the file of trusted authorities: {error}. Nothing was written.") from error
    state, stamp = _answered(token, trusted)
    sha256 = keep_raw(token)
    with writing():
        fact = Fact.objects.filter(key=f"{STAMP}:{sha256}").first()
        if fact is None:
            body = {
                "form": "evenpull time-stamp 1",
                "checkpoint": _json(state),
                "token": sha256,
                "at": moment(stamp.at),
                "policy": stamp.policy,
                "authority": stamp.authority,
                "certificate": stamp.certificate,
                "serial": str(stamp.serial),
                "nonce": str(stamp.nonce),
                "anchored": stamp.anchored,
            }
            (fact,) = append([New(STAMP, f"{STAMP}:{sha256}", body)], who)
    return _row(fact)


def _answered(token: bytes, trusted: Any) -> tuple[Checkpoint, TimeStamp]:
    """The checkpoint whose request the token answers, and what it says."""
    reason = "no request was made here; say: evenpull time-stamp --request FILE"
    for fact in Fact.objects.filter(kind=REQUESTED).order_by("-seq"):
        body = fact.data
        state = read_checkpoint(canonical(body["checkpoint"]) + b"\n")
        try:
            return state, check_token(token, state.text, nonce=int(body["nonce"]), authorities=trusted)
        except OtherRequestError:
            reason = "it answers none of the requests that were made here"
        except TimeStampError as error:
            reason = str(error)
            break
    raise Refused(f"this is no time-stamp for a checkpoint of this dossier: {reason}. Nothing was written.")


def _json(state: Checkpoint) -> Any:
    return json.loads(state.text)


def _row(fact: Fact) -> StampRow:
    b = fact.data
    return StampRow(
        fact.seq, read_moment(b["at"]), b["checkpoint"]["size"], b["authority"], b["policy"], b["anchored"], b["token"],
        fact.author,
    )  # fmt: skip


def stamps() -> list[StampRow]:
    """The time-stamps kept, the newest first."""
    return [_row(fact) for fact in Fact.objects.filter(kind=STAMP).order_by("-seq")]
