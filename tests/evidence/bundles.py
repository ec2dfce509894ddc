"""Small bundles to damage."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

from evenpull.evidence import BundleFact, Tree, canonical, make_checkpoint, write
from evenpull.evidence.container import read_container
from evenpull.evidence.sign import SecretKey, generate

AT = datetime(2026, 3, 19, 8, 30, tzinfo=UTC)


@dataclass(frozen=True)
class Made:
    path: Path
    data: bytes
    key: SecretKey
    leaves: tuple[bytes, ...]

    def members(self) -> dict[str, bytes]:
        slots, differences = read_container(memoryview(self.data))
        assert not differences
        return {slot.name: self.data[slot.data : slot.end] for slot in slots}


def facts(count: int, raw: bytes) -> Iterator[BundleFact]:
    for seq in range(count):
        body = {"fastener": seq + 1, "torque": 90.5 + seq, "file": sha256(raw).hexdigest()}
        text = canonical({"kind": "tightening", "key": f"tightening/TW-0207//{4000 + seq}", "body": body})
        yield BundleFact(seq, text, sha256(text).hexdigest())


def make(folder: Path, *, log: int = 9, chosen: tuple[int, ...] = (1, 4, 5, 8), raw: bytes = b"a;b\r\n1;2\r\n") -> Made:
    """A bundle about some facts of a log, with one raw file and one report."""
    everything = list(facts(log, raw))
    leaves = tuple(bytes.fromhex(fact.digest) for fact in everything)
    tree, key, path = Tree(leaves), generate(), folder / "bundle.zip"
    source = folder / "raw"
    source.write_bytes(raw)
    write(
        path,
        subject="KN-CW-008",
        facts=[everything[seq] for seq in chosen],
        tree=tree,
        checkpoint=make_checkpoint(log, tree.root(), AT, key),
        key=key,
        made_at=AT,
        raw=[source],
        reports={"KN-CW-008-R1.pdf": b"%PDF-1.7 not a real one\n" * 8},
    )
    return Made(path, path.read_bytes(), key, leaves)
