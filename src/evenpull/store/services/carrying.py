"""Carriers out of this dossier and into it: checked whole before anything is written, and never counted twice.

    parts --carrier.write--> signed file --by hand--> carrier.read --judged part by part--> facts, all or none

What is there already is known by the digest of its content, whichever way it came, also where a later text has taken
its place since: an old carrier taken in again brings no old revision back into force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from evenpull.carrier import Carrier, CarrierError, Part, carrier_bytes, read_carrier
from evenpull.curve.columns import CurveError
from evenpull.evidence.checkpoint import read_moment
from evenpull.intake import IntakeError
from evenpull.plan import SpecificationError
from evenpull.store.models import Fact
from evenpull.store.services import facts, kept_tools, papers, register
from evenpull.store.services.carried_cards import issued_part
from evenpull.store.services.carried_parts import Judge, write
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CARRIED_IN, CARRIED_OUT, EQUIPMENT, MAPPING, SPECIFICATION, TOOLS
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw, read_raw, signing_key

Standing = Literal["new", "known", "refused"]


@dataclass(frozen=True, slots=True)
class PartRow:
    """What becomes of a part; `why` where it is refused."""

    kind: str
    name: str
    sha256: str
    standing: Standing
    why: str = ""


@dataclass(frozen=True, slots=True)
class CarrierRow:
    """`written`: whether this time facts were written."""

    sha256: str
    subject: str
    by: str
    key: str
    parts: tuple[PartRow, ...]
    written: bool


@dataclass(frozen=True, slots=True)
class CarriedRow:
    """A carrier that was made here or taken in. `author` made it or took it in; `by` made it."""

    seq: int
    made: bool
    at: datetime
    author: str
    sha256: str
    subject: str
    by: str
    key: str
    parts: tuple[PartRow, ...]


def carriers(most: int = 50) -> list[CarriedRow]:
    """Carriers made and taken in, the newest first."""
    found = []
    for fact in Fact.objects.filter(kind__in=(CARRIED_OUT, CARRIED_IN)).order_by("-seq")[:most]:
        b = fact.data
        parts = tuple(PartRow(p["kind"], p["name"], p["sha256"], p["standing"]) for p in b["parts"])
        found.append(CarriedRow(fact.seq, fact.kind == CARRIED_OUT, read_moment(fact.written_at), fact.author,
                                b["sha256"], b["subject"], b["by"], b["key"], parts))
    return found


def carrier_file(sha256: str) -> bytes:
    """A carrier that was made here, to the byte. Unknown when none was."""
    if not Fact.objects.filter(key=f"{CARRIED_OUT}:{sha256}").exists():
        raise Unknown(f"no carrier {sha256[:16]!r} was made here")
    return read_raw(sha256)


def carry_out(
    subject: str,
    author: str,
    *,
    joints: Sequence[str] = (),
    mappings: Sequence[str] = (),
    cards: Sequence[str] = (),
    tools: bool = False,
    equipment: bool = False,
    files: Sequence[Part] = (),
) -> bytes:
    """A carrier with joints, mappings and cards of this dossier, its tool registers, its register of equipment with the
    certificates that stand, and `files` from outside.

    Unknown for what is not here; CarrierError for what a carrier may not hold. That it was made is a fact.
    """
    who = checked_author(author)
    line = " ".join(subject.split())
    if not 0 < len(line) <= 200 or not line.isprintable():
        raise Refused("say in one line of 1 to 200 characters what is carried and where to. Nothing was written.")
    parts = [Part("joint", f"{joint}.toml", _joint_text(joint)) for joint in dict.fromkeys(joints)]
    for name in dict.fromkeys(mappings):
        parts.append(Part("mapping", _file_name(name), _mapping_text(name)))
    for serial in dict.fromkeys(cards):
        parts += [Part("card", f"{serial}.pdf", papers.card_pdf(serial)), issued_part(serial)]
    if tools:
        texts = [fact.data["text"] for fact in Fact.objects.filter(kind=TOOLS).order_by("seq")]
        if not texts:
            raise Unknown("no tool register is in this dossier; write one with: evenpull add")
        parts += [Part("tools", f"tools-{n:04}.toml", text.encode()) for n, text in enumerate(texts, start=1)]
    if equipment:
        parts += _equipment_parts()
    data = carrier_bytes([*parts, *files], subject=line, by=who, at=datetime.now(UTC), key=signing_key())
    carrier = read_carrier(data)  # what leaves is what its reader takes
    keep_raw(data)
    rows = [PartRow(part.kind, part.name, part.sha256, "known") for part in carrier.parts]
    with writing():
        append([New(CARRIED_OUT, f"{CARRIED_OUT}:{carrier.sha256}", _body(carrier, rows))], who)
    return data


def look_into(data: bytes, key: str = "") -> CarrierRow:
    """What taking this carrier in would do. Writes nothing. CarrierError when it is not whole or another's."""
    return _looked(_trusted(data, key), written=False)


def carry_in(data: bytes, author: str, key: str = "") -> CarrierRow:
    """Take a carrier in, wholly or not at all; again, it changes nothing.

    `key` is the fingerprint of its sender's key, needed unless this dossier sealed it itself. Refused with the parts
    that cannot be taken; CarrierError when it is not whole or sealed by another key.
    """
    who = checked_author(author)
    carrier = _trusted(data, key)
    with writing():
        found = _looked(carrier, written=True)
        if refused := [row for row in found.parts if row.standing == "refused"]:
            said = "; ".join(f"{row.name}: {row.why}" for row in refused[:20])
            raise Refused(f"nothing of this carrier was written. {said}. Mend these parts and make the carrier again.")
        if Fact.objects.filter(key=f"{CARRIED_IN}:{carrier.sha256}").exists():
            return _looked(carrier, written=False)
        keep_raw(data)
        for part, row in zip(carrier.parts, found.parts, strict=True):
            if row.standing == "new":
                try:
                    write(part, carrier, who)
                except (SpecificationError, IntakeError, CurveError, Refused) as error:
                    raise Refused(f"nothing of this carrier was written. {part.name}: {error}") from error
        append([New(CARRIED_IN, f"{CARRIED_IN}:{carrier.sha256}", _body(carrier, found.parts))], who)
    return found


def _trusted(data: bytes, key: str) -> Carrier:
    carrier, wanted = read_carrier(data), key.strip().lower() or signing_key().public.fingerprint
    if carrier.key != wanted:
        raise CarrierError(
            f"the carrier is sealed by the key {carrier.key}, and not by {wanted}. Ask its sender for the fingerprint "
            "of the key on another way than the carrier came (evenpull key, there), and name it as --key"
        )
    return carrier


def _body(carrier: Carrier, rows: Sequence[PartRow]) -> dict[str, object]:
    return {
        "sha256": carrier.sha256, "subject": carrier.subject, "by": carrier.by, "key": carrier.key,
        "parts": [{"kind": r.kind, "name": r.name, "sha256": r.sha256, "standing": r.standing} for r in rows],
    }  # fmt: skip


def _looked(carrier: Carrier, *, written: bool) -> CarrierRow:
    judge, rows = Judge(), []
    for part in carrier.parts:  # mappings stand before the records that are read with them
        try:
            new = judge.is_new(part)
            rows.append(PartRow(part.kind, part.name, part.sha256, "new" if new else "known"))
        except (SpecificationError, IntakeError, CurveError, Refused, Unknown, UnicodeDecodeError) as error:
            rows.append(PartRow(part.kind, part.name, part.sha256, "refused", str(error)))
    return CarrierRow(carrier.sha256, carrier.subject, carrier.by, carrier.key, tuple(rows), written)


def _joint_text(joint: str) -> bytes:
    register.specification(joint)  # Unknown with near names
    last = Fact.objects.filter(kind=SPECIFICATION, joint=joint).order_by("seq").last()
    if last is None:
        raise Unknown(f"no joint {joint!r} is described here; write its id as it stands there")
    return str(last.data["text"]).encode()


def _mapping_text(name: str) -> bytes:
    register.mapping(name)  # Unknown with the names there are
    found = [fact.data for fact in Fact.objects.filter(kind=MAPPING).order_by("seq") if fact.data["name"] == name]
    return str(found[-1]["text"]).encode()


def _equipment_parts() -> list[Part]:
    """The texts of the register in the order of writing, and the typed form of each certificate that stands."""
    texts = [fact.data["text"] for fact in Fact.objects.filter(kind=EQUIPMENT).order_by("seq")]
    if not texts:
        raise Unknown("no register of equipment is in this dossier; write one with: evenpull add")
    last = reversed(dict.fromkeys(reversed(texts)))  # of one text that was written twice the later place counts
    parts = [Part("equipment", f"equipment-{n:04}.toml", text.encode()) for n, text in enumerate(last, start=1)]
    state = kept_tools.kept()
    standing = [seq for place, seq in state.places.items() if place not in state.withdrawn]
    for number, fact in enumerate(facts.by_seq(standing), start=1):
        parts.append(Part("certificate", f"certificate-{number:04}.toml", fact.data["text"].encode()))
    return parts


def _file_name(name: str) -> str:
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in name).strip("-")
    return f"mapping-{plain[:80] or 'unnamed'}.toml"
