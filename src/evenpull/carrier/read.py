"""Reading a carrier: every byte is checked before anything of it is given to anybody.

The container has one spelling only (evidence.container): members are stored as they are, so that nothing unpacks to
more than the file itself, and no name in it is ever used as a path.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any

from evenpull.carrier.parts import CURVES, FORM, LARGEST, MOST_PARTS, CarrierError, Part, check_part
from evenpull.carrier.text import contents_text
from evenpull.carrier.write import CONTENTS, KEY, MANIFEST, SEAL
from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.checkpoint import read_moment
from evenpull.evidence.container import read_container
from evenpull.evidence.sign import KeyFileError, PublicKey, read_public_key

AGAIN = "ask the sender for a new copy"
_FIELDS = {"form", "subject", "by", "made_at", "key", "parts"}
_PART_FIELDS = {"kind", "name", "member", "mapping", "size", "sha256"}


@dataclass(frozen=True, slots=True)
class Carrier:
    """`sha256` is that of the whole file, `key` the fingerprint of the one who sealed it. That this is the key of whom
    it says is for the receiver to compare."""

    sha256: str
    subject: str
    by: str
    made_at: datetime
    key: str
    parts: tuple[Part, ...]


def read_carrier(data: bytes) -> Carrier:
    """The carrier in these bytes. Raises CarrierError where one byte is not as sealed, or a part is not allowed."""
    if len(data) > LARGEST:
        raise CarrierError(f"the file has {len(data)} bytes; a carrier has at most {LARGEST}: divide it over several")
    slots, differences = read_container(memoryview(data))
    if differences:
        first = differences[0]
        raise CarrierError(f"no whole carrier: byte {first.start}, {first.place}: {first.what}; {AGAIN}")
    found = {slot.name: data[slot.data : slot.end] for slot in slots}
    if len(found) != len(slots) or not {CONTENTS, SEAL, MANIFEST, KEY} <= found.keys():
        raise CarrierError("no carrier: its manifest, seal or key is not in it, or a part is in it twice; " + AGAIN)
    try:
        key = read_public_key(found[KEY])
    except KeyFileError as error:
        raise CarrierError(f"{KEY}: {error}; {AGAIN}") from error
    _check_seal(found[SEAL], found[MANIFEST], key)
    manifest = _value(MANIFEST, found[MANIFEST])
    made_at = _checked(manifest, key)
    parts = tuple(_part(one, found) for one in manifest["parts"])
    wanted = [CONTENTS, SEAL, MANIFEST, KEY, *(part.member for part in parts)]
    if [slot.name for slot in slots] != wanted:
        raise CarrierError("the parts in it are not those of its manifest; " + AGAIN)
    if contents_text(manifest) != found[CONTENTS]:
        raise CarrierError(f"{CONTENTS} says something else than the manifest; {AGAIN}")
    if len({part.name.lower() for part in parts}) != len(parts):
        raise CarrierError("two parts have the same name; " + AGAIN)
    return Carrier(
        sha256(data).hexdigest(), manifest["subject"], manifest["by"], made_at, key.fingerprint, parts
    )  # fmt: skip


def _value(name: str, text: bytes) -> dict[str, Any]:
    """The object of JSON in a member, which must be spelt canonically: one content, one spelling, one digest."""
    try:
        value = json.loads(text)
        same = isinstance(value, dict) and canonical(value) == text
    except (ValueError, RecursionError, CanonicalError) as error:
        raise CarrierError(f"{name}: no JSON ({str(error)[:100]}); {AGAIN}") from error
    if not same:
        raise CarrierError(f"{name}: not in canonical JSON (RFC 8785); {AGAIN}")
    return dict(value)


def _check_seal(text: bytes, manifest: bytes, key: PublicKey) -> None:
    seal = _value(SEAL, text)
    signature = seal.pop("signature", None)
    wanted = {"form": f"{FORM} seal", "key": key.fingerprint, "manifest": sha256(manifest).hexdigest()}
    try:
        signed = bytes.fromhex(signature) if isinstance(signature, str) else b""
    except ValueError:
        signed = b""
    if seal != wanted or not key.signed(signed, canonical(seal)):
        raise CarrierError(f"{SEAL}: the signature does not fit the manifest and the key; {AGAIN}")


def _checked(manifest: Mapping[str, Any], key: PublicKey) -> datetime:
    """When it was made; the fields of the manifest are such as they must be."""
    if manifest.get("form") != FORM:
        raise CarrierError(f"{MANIFEST}: form: not {FORM!r}: made by another version? Take it in with that one")
    if set(manifest) != _FIELDS or manifest["key"] != key.fingerprint:
        raise CarrierError(f"{MANIFEST}: its fields or its key are not those of a carrier; {AGAIN}")
    for name in ("subject", "by"):
        value = manifest[name]
        if not isinstance(value, str) or not 0 < len(value) <= 200 or not value.isprintable():
            raise CarrierError(f"{MANIFEST}: {name}: one line of 1 to 200 characters is wanted; {AGAIN}")
    if not isinstance(manifest["parts"], list) or not 0 < len(manifest["parts"]) <= MOST_PARTS:
        raise CarrierError(f"{MANIFEST}: parts: 1 to {MOST_PARTS} are wanted; {AGAIN}")
    try:
        return read_moment(manifest["made_at"])
    except (ValueError, TypeError, AttributeError) as error:
        raise CarrierError(f"{MANIFEST}: made_at: no moment; {AGAIN}") from error


def _part(one: Any, found: Mapping[str, bytes]) -> Part:
    named = {"joint"} if isinstance(one, dict) and one.get("kind") == CURVES else set()
    if not isinstance(one, dict) or set(one) != _PART_FIELDS | named:
        raise CarrierError(f"{MANIFEST}: parts: one has not the fields of a part; {AGAIN}")
    if any(not isinstance(one[name], str) for name in (_PART_FIELDS | named) - {"size"}):
        raise CarrierError(f"{MANIFEST}: parts: a field that is no text; {AGAIN}")
    if one["member"] not in found:
        raise CarrierError(f"part {one['name'][:60]!r} is not in the carrier; {AGAIN}")
    part = Part(one["kind"], one["name"], found[one["member"]], one["mapping"], one.get("joint", ""))
    if (part.sha256, len(part.data), part.member) != (one["sha256"], one["size"], one["member"]):
        raise CarrierError(f"part {part.name[:60]!r} is not the file that was sealed; {AGAIN}")
    check_part(part)
    return part
