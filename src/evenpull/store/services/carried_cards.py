"""That a card was issued, as a part of a carrier: the register of cards lists it on the other side, naming where.

    fact of the card --issued_part--> JSON --by hand--> read_issued --fact_of--> fact of the card there
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from evenpull.card.codes import CodeError
from evenpull.card.payload import read_page_data
from evenpull.card.serial import SerialError, parse_serial
from evenpull.carrier import Carrier, Part
from evenpull.evidence.canonical import canonical
from evenpull.evidence.checkpoint import read_moment
from evenpull.store.models import Fact
from evenpull.store.services import facts
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CARD
from evenpull.store.services.log import New
from evenpull.store.services.papers import issuer_of
from evenpull.store.services.place import signing_key

FORM = "evenpull card issued 1"
_TEXTS = ("serial", "paper", "version", "issued_at", "valid_until", "fingerprint", "specification", "pdf_sha256")
_BODY = {*_TEXTS, "payload", "pages", "places", "tools", "lines"}


@dataclass(frozen=True, slots=True)
class IssuedElsewhere:
    """`body`: of the fact of the card, as the dossier with the key `dossier` wrote it; `by` issued it there."""

    joint: str
    by: str
    dossier: str
    body: Mapping[str, Any]

    @property
    def serial(self) -> str:
        return str(self.body["serial"])


def issued_part(serial: str) -> Part:
    """What the register knows of an issued card. Unknown when it was not issued here nor carried in; Refused where an
    earlier version wrote less of it than a register needs."""
    fact = Fact.objects.filter(key=f"{CARD}:{serial}").first()
    if fact is None:
        raise Unknown(f"no card {serial!r} was issued here")
    body = dict(fact.data)
    came = body.pop("carried", None)
    if missing := sorted(_BODY - body.keys()):
        raise Refused(f"card {serial} was issued by an earlier version, which kept no {', '.join(missing)}: issue a "
                      "new one. Nothing was written.")  # fmt: skip
    whole = {
        "form": FORM, "joint": fact.joint, "by": issuer_of(fact),
        "dossier": came["dossier"] if came else signing_key().public.fingerprint, "card": body,
    }  # fmt: skip
    return Part("card issued", f"{serial}.json", canonical(whole))


def read_issued(part: Part) -> IssuedElsewhere:
    """The statement of a part. Refused with what does not fit."""
    try:
        whole = json.loads(part.data)
        fits = set(whole) == {"form", "joint", "by", "dossier", "card"} and whole["form"] == FORM
        body = whole["card"] if fits else {}
        fits = fits and set(body) == _BODY and _typed(whole, body) and canonical(whole) == part.data
        if not fits:
            raise ValueError(f"no statement of the form {FORM!r} with its fields")
        if facts.fold(parse_serial(body["serial"]).joint) != facts.fold(whole["joint"]):
            raise ValueError(f"the serial {body['serial']} is of another joint than {whole['joint']}")
        read_moment(body["issued_at"]), read_moment(body["valid_until"])
        for texts in body["places"]:
            page = read_page_data(texts)
            if page.serial != body["serial"]:
                raise ValueError(f"the places of its boxes are those of card {page.serial}")
    except (ValueError, TypeError, KeyError, AttributeError, SerialError, CodeError, RecursionError) as error:
        raise Refused(f"{str(error)[:200]}; ask the sender for a new copy") from error
    return IssuedElsewhere(whole["joint"], whole["by"], whole["dossier"], body)


def _typed(whole: Mapping[str, Any], body: Mapping[str, Any]) -> bool:
    texts = [whole["joint"], whole["by"], whole["dossier"], *(body[name] for name in _TEXTS)]
    return (
        all(isinstance(text, str) and 0 < len(text) <= 200 and text.isprintable() for text in texts)
        and all(len(text) == 64 and set(text) <= set("0123456789abcdef")
                for text in (whole["dossier"], body["specification"], body["pdf_sha256"]))
        and all(type(body[name]) is int and 0 < body[name] < 10_000 for name in ("pages", "lines"))
        and isinstance(body["payload"], str) and isinstance(body["tools"], list)
        and isinstance(body["places"], list) and len(body["places"]) == body["pages"]
        and all(isinstance(tool, str) for tool in body["tools"])
    )  # fmt: skip


def is_known(one: IssuedElsewhere, joints: Mapping[str, str], papers: set[str]) -> bool:
    """Whether the register has the card. `joints`: fold -> id of those described here or by this carrier; `papers`:
    SHA-256 of the cards that are kept here or come with it. Refused for what contradicts the register."""
    here = Fact.objects.filter(key=f"{CARD}:{one.serial}").first()
    if here is not None:
        if any(here.data[name] != one.body[name] for name in ("fingerprint", "pdf_sha256", "issued_at")):
            raise Refused(f"another card of the serial {one.serial} is in the register here: find out which paper is "
                          "which. Issue a new card there, mark this one void, and carry the new one")  # fmt: skip
        return True
    if joints.get(facts.fold(one.joint)) != one.joint:
        raise Refused(f"card {one.serial} is of joint {one.joint}, which is not described here: carry the joint too")
    if one.body["pdf_sha256"] not in papers:
        raise Refused(f"card {one.serial}: its PDF is not in the carrier: carry both")
    return False


def fact_of(one: IssuedElsewhere, carrier: Carrier) -> New:
    """The fact of a card that was issued elsewhere; its author is who takes the carrier in."""
    came = {"by": one.by, "dossier": one.dossier, "carrier": carrier.sha256, "sealed_by": carrier.key}
    return New(CARD, f"{CARD}:{one.serial}", {**one.body, "carried": came}, one.joint)
