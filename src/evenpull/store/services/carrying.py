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
from evenpull.intake import IntakeError, Mapping, read_mapping
from evenpull.plan import SpecificationError, read_specification, read_tools
from evenpull.store.models import Fact
from evenpull.store.services import papers, received, register, taking
from evenpull.store.services.errors import Refused, Unknown
from evenpull.store.services.fact_kinds import CARRIED_IN, CARRIED_OUT, MAPPING, SPECIFICATION, TOOLS
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import keep_raw, signing_key

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


def carry_out(
    subject: str,
    author: str,
    *,
    joints: Sequence[str] = (),
    mappings: Sequence[str] = (),
    cards: Sequence[str] = (),
    tools: bool = False,
    files: Sequence[Part] = (),
) -> bytes:
    """A carrier with joints, mappings and cards of this dossier, its tool registers, and `files` from outside.

    Unknown for what is not here; CarrierError for what a carrier may not hold. That it was made is a fact.
    """
    who = checked_author(author)
    line = " ".join(subject.split())
    if not 0 < len(line) <= 200 or not line.isprintable():
        raise Refused("say in one line of 1 to 200 characters what is carried and where to. Nothing was written.")
    parts = [Part("joint", f"{joint}.toml", _joint_text(joint)) for joint in dict.fromkeys(joints)]
    for name in dict.fromkeys(mappings):
        parts.append(Part("mapping", _file_name(name), _mapping_text(name)))
    parts += [Part("card", f"{serial}.pdf", papers.card_pdf(serial)) for serial in dict.fromkeys(cards)]
    if tools:
        texts = [fact.data["text"] for fact in Fact.objects.filter(kind=TOOLS).order_by("seq")]
        if not texts:
            raise Unknown("no tool register is in this dossier; write one with: evenpull add")
        parts += [Part("tools", f"tools-{n}.toml", text.encode()) for n, text in enumerate(texts, start=1)]
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
                _write(part, who)
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
    brought: dict[str, Mapping] = {}
    held = {
        part["sha256"] for fact in Fact.objects.filter(kind=CARRIED_IN).order_by("seq") for part in fact.data["parts"]
    }
    texts = {
        kind: {taken.data["digest"] for taken in Fact.objects.filter(kind=kind)} for kind in (SPECIFICATION, MAPPING)
    }
    rows = []
    for part in carrier.parts:  # mappings stand before the records that are read with them
        try:
            new = _is_new(part, brought, held, texts)
            rows.append(PartRow(part.kind, part.name, part.sha256, "new" if new else "known"))
        except (SpecificationError, IntakeError, Refused, Unknown, UnicodeDecodeError) as error:
            rows.append(PartRow(part.kind, part.name, part.sha256, "refused", str(error)))
    return CarrierRow(carrier.sha256, carrier.subject, carrier.by, carrier.key, tuple(rows), written)


def _is_new(part: Part, brought: dict[str, Mapping], held: set[str], texts: dict[str, set[str]]) -> bool:
    """Whether the dossier lacks this content. Raises the error of its reader when it cannot be taken."""
    if part.kind == "joint":
        read_specification(part.data.decode(), part.name)
        return part.sha256 not in texts[SPECIFICATION]
    if part.kind == "tools":
        read_tools(part.data.decode(), part.name)
        return not Fact.objects.filter(key=f"{TOOLS}:{part.sha256}").exists()
    if part.kind == "mapping":
        mapping = read_mapping(part.data.decode(), part.name)
        brought[mapping.name] = mapping
        return part.sha256 not in texts[MAPPING]
    if part.mapping:
        if received.readings_of(part.sha256):
            return False  # also where a person withdrew the reading: that it counts again is for a person to say
        found = taking.preview(part.name, part.data, brought.get(part.mapping) or register.mapping(part.mapping))
        if found.conflicts:
            raise Refused("; ".join(found.conflicts[:3]))
        return True
    return part.sha256 not in held


def _write(part: Part, who: str) -> None:
    if part.kind == "joint":
        register.add_joint(part.data.decode(), part.name, who)
    elif part.kind == "tools":
        register.add_tools(part.data.decode(), part.name, who)
    elif part.kind == "mapping":
        register.add_mapping(part.data.decode(), part.name, who)
    elif part.mapping:
        taking.commit_file(part.name, part.data, part.mapping, who, by_person=False)
    else:
        keep_raw(part.data)


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


def _file_name(name: str) -> str:
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in name).strip("-")
    return f"mapping-{plain[:80] or 'unnamed'}.toml"
