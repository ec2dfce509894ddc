"""Clients of the HTTP interface: a name, a role of the table of roles, a token that is kept as its SHA-256 only."""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from evenpull.store import access
from evenpull.store.models import Account, ApiClient, ApiRequest
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.index import name_of
from evenpull.store.services.log import New, append, checked_author, next_key, writing

CLIENT = "account"  # what is done to a client is a fact of the same kind as what is done to an account
LONGEST_KEY = 100


class NotAllowed(Refused):
    """The role of the client does not allow this act."""


class KeyReused(Refused):
    """An idempotency key that came before with another content."""


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def add_client(name: str, role: str, author: str) -> str:
    """Open a client; its token, which is shown this once and never again."""
    who, given = checked_author(author), checked_author(name)
    if role not in access.ROLES:
        raise Refused(f"{role!r} is no role; there are: {', '.join(access.ROLES)}. Nothing was written.")
    token = secrets.token_urlsafe(32)
    with writing():
        if any(table.objects.filter(folded=name_of(given)[:80]).exists() for table in (ApiClient, Account)):
            raise Refused(f"there is a client or an account {given!r} already. Nothing was written.")
        ApiClient.objects.create(name=given, folded=name_of(given)[:80], role=role, token=_hash(token))
        _said("opened", given, who, role=role)
    return token


def close_client(name: str, author: str) -> None:
    """Close a client: its token opens nothing any more."""
    who = checked_author(author)
    with writing():
        client = ApiClient.objects.filter(folded=name_of(name)[:80]).first()
        if client is None:
            known = ", ".join(ApiClient.objects.order_by("name").values_list("name", flat=True))
            raise Unknown(f"no client {name!r}; there are: {known or 'none'}")
        client.closed = True
        client.save()
        _said("closed", client.name, who)


def _said(what: str, name: str, who: str, **more: str) -> None:
    body = {"what": f"client {name}: {what}", "client": name, "act": what, **more}
    append([New(CLIENT, next_key(CLIENT), body)], who)


def clients() -> list[tuple[str, str, bool]]:
    """(name, role, closed) of each client."""
    return list(ApiClient.objects.order_by("name").values_list("name", "role", "closed"))


def client_of(token: str) -> ApiClient | None:
    """The open client with this token."""
    return ApiClient.objects.filter(token=_hash(token), closed=False).first()


def need(client: ApiClient, act: access.Act) -> None:
    """NotAllowed unless the role of the client allows the act."""
    if not access.may(client.role, act):
        raise NotAllowed(
            f"the role {client.role!r} of this client may not {access.MEANING[act]}; who may: "
            f"{', '.join(access.who_may(act))}. Nothing was written."
        )


@dataclass(frozen=True)
class Answer:
    body: dict[str, Any]
    again: bool  # the same request came before; this is the answer of then


def once(client: ApiClient, key: str, content: bytes, work: Callable[[], dict[str, Any]]) -> Answer:
    """Do the work of a request once: the same key with the same content gives the first answer again, with another
    content KeyReused. Work and key are written in one transaction."""
    if not 8 <= len(key) <= LONGEST_KEY or not key.isascii() or not key.isprintable():
        raise Refused(
            f"the header Idempotency-Key has to be 8 to {LONGEST_KEY} printable characters of ASCII, the same for the "
            "same request sent again. Nothing was written."
        )
    digest = hashlib.sha256(content).hexdigest()
    with writing():
        held = ApiRequest.objects.filter(client=client.pk, key=key).first()
        if held is not None:
            if held.digest != digest:
                raise KeyReused(f"the key {key!r} came before with another content. Nothing was written.")
            return Answer(json.loads(held.answer), True)
        body = work()
        ApiRequest.objects.create(client=client.pk, key=key, digest=digest, answer=json.dumps(body))
    return Answer(body, False)
