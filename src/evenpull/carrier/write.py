"""Making a carrier: parts in, one signed file out, the same bytes for the same input."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from evenpull.carrier.parts import FORM, KINDS, LARGEST, MOST_PARTS, CarrierError, Part, check_part
from evenpull.carrier.text import contents_text
from evenpull.evidence.canonical import canonical
from evenpull.evidence.checkpoint import moment
from evenpull.evidence.container import Member, write_container
from evenpull.evidence.sign import SecretKey

CONTENTS, MANIFEST, SEAL, KEY = "contents.txt", "manifest.json", "seal.json", "key.pem"


def carrier_bytes(parts: Sequence[Part], *, subject: str, by: str, at: datetime, key: SecretKey) -> bytes:
    """The whole carrier. `subject` and `by` (a person) are one line each; the parts come in the order of KINDS.

    Raises CarrierError for a part that a carrier may not hold, two parts of one name, too many, too large.
    """
    if not 0 < len(parts) <= MOST_PARTS:
        raise CarrierError(f"{len(parts)} parts; a carrier holds 1 to {MOST_PARTS}: divide them over several")
    for part in parts:
        check_part(part)
    for what in ("name", "member"):
        seen = [getattr(part, what).lower() for part in parts]
        if twice := sorted({one for one in seen if seen.count(one) > 1}):
            names = [part.name for part in parts if getattr(part, what).lower() in twice]
            raise CarrierError(f"{', '.join(names[:4])}: two parts of the same {what}; leave one out")
    if sum(len(part.data) for part in parts) > LARGEST // 2:
        raise CarrierError(f"the parts have over {LARGEST // 2} bytes; divide them over several carriers")
    order = list(KINDS)
    listed = sorted(parts, key=lambda part: (order.index(part.kind), part.name))
    manifest_value = {
        "form": FORM, "subject": subject, "by": by, "made_at": moment(at), "key": key.public.fingerprint,
        "parts": [
            {"kind": part.kind, "name": part.name, "member": part.member, "mapping": part.mapping,
             "size": len(part.data), "sha256": part.sha256, **({"joint": part.joint} if part.joint else {})}
            for part in listed
        ],
    }  # fmt: skip
    manifest = canonical(manifest_value)
    seal = {"form": f"{FORM} seal", "key": key.public.fingerprint, "manifest": sha256(manifest).hexdigest()}
    signed = canonical({**seal, "signature": key.sign(canonical(seal)).hex()})
    members = [
        Member(CONTENTS, contents_text(manifest_value)), Member(SEAL, signed), Member(MANIFEST, manifest),
        Member(KEY, key.public.pem), *(Member(part.member, part.data) for part in listed),
    ]  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "carrier.zip"
        write_container(path, members)
        return path.read_bytes()
