"""Facts of a bundle against their digests, their proofs and the signed root of the log."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from evenpull.evidence.canonical import CanonicalError, canonical
from evenpull.evidence.checkpoint import Checkpoint
from evenpull.evidence.layout import FACTS, PROOFS
from evenpull.evidence.merkle import Frontier, ProofError, verify_inclusion

Report = Callable[[str, str, int | None, int | None], None]


@dataclass(frozen=True)
class _Line:
    number: int
    start: int  # bytes of the bundle file
    end: int
    data: dict[str, Any]
    fact: bytes  # canonical JSON of the fact; empty in a line of proofs


def check_facts(
    facts: bytes | None,
    proofs: bytes | None,
    checkpoint: Checkpoint | None,
    facts_at: int,
    proofs_at: int,
    report: Report,
) -> dict[int, tuple[str, Any]]:
    """Report every fact that is changed, added, missing, out of place or not in the log.

    Gives what could be read: place in the log -> (digest as written, fact as plain JSON values).
    """
    fact_lines = list(_lines(FACTS, facts or b"", facts_at, {"digest", "fact", "seq"}, report))
    proof_lines = list(_lines(PROOFS, proofs or b"", proofs_at, {"digest", "path", "seq"}, report))
    by_seq = _by_seq(FACTS, fact_lines, report)
    proof_of = _by_seq(PROOFS, proof_lines, report)
    for seq, line in by_seq.items():
        place = _place(line)
        if sha256(line.fact).hexdigest() != line.data["digest"]:
            report(place, "its content does not fit its digest", line.start, line.end)
            continue
        if isinstance(line.data["fact"], dict) and line.data["fact"].get("seq", seq) != seq:
            report(place, f"says of itself that it is fact {line.data['fact']['seq']}", line.start, line.end)
        proof = proof_of.get(seq)
        if proof is None:
            report(place, "has no proof: it was added, or its proof was taken away", line.start, line.end)
        elif proof.data["digest"] != line.data["digest"]:
            report(place, f"its proof (line {proof.number} of {PROOFS}) is about another content", line.start, line.end)
        elif checkpoint is not None:
            _check_path(place, line, proof, checkpoint, report)
    for seq, proof in proof_of.items():
        if seq not in by_seq:
            report(f"fact {seq}", f"is missing: line {proof.number} of {PROOFS} has its proof", proof.start, proof.end)
    if checkpoint is not None and list(by_seq) == list(range(checkpoint.size)):
        leaves = (bytes.fromhex(line.data["digest"]) for line in by_seq.values())
        if Frontier().extended(leaves).root.hex() != checkpoint.root:
            report(FACTS, "all facts together do not give the signed root of the log", None, None)
    return {seq: (line.data["digest"], line.data["fact"]) for seq, line in by_seq.items()}


def _lines(name: str, text: bytes, at: int, fields: set[str], report: Report) -> Iterator[_Line]:
    """Lines that are exactly in the form in which they are written; others are reported."""
    start = 0
    for number, line in enumerate(text.splitlines(keepends=True) if text else (), start=1):
        begin, end = at + start, at + start + len(line)
        start += len(line)
        try:
            data = json.loads(line)
            good = isinstance(data, dict) and set(data) == fields and _well_formed(data)
            fact, exact = _spelt(data, line) if good else (b"", False)
        except (ValueError, CanonicalError, RecursionError):
            good, exact, fact = False, False, b""
        if not good:
            report(f"{name}, line {number}", "cannot be read", begin, end)
        elif not exact:
            report(f"{name}, line {number}", "is not byte for byte in the form in which it is written", begin, end)
        else:
            yield _Line(number, begin, end, data, fact)


def _spelt(data: dict[str, Any], line: bytes) -> tuple[bytes, bool]:
    """(canonical JSON of the fact, whether the line is exactly what would be written for its content)."""
    fact = canonical(data["fact"]) if "fact" in data else b""
    middle = b'"fact":' + fact if fact else b'"path":[%b]' % b",".join(b'"%b"' % p.encode() for p in data["path"])
    # All that stands in the line besides the fact is hashes and a whole number: its canonical form is this.
    return fact, line == b'{"digest":"%b",%b,"seq":%d}\n' % (data["digest"].encode(), middle, data["seq"])


def _well_formed(data: dict[str, Any]) -> bool:
    path = data.get("path", [])
    return (
        type(data["seq"]) is int
        and _is_hash(data["digest"])
        and isinstance(path, list)
        and all(_is_hash(step) for step in path)
    )


def _is_hash(value: Any) -> bool:
    return isinstance(value, str) and len(value) == 64 and not set(value) - set("0123456789abcdef")


def _by_seq(name: str, lines: list[_Line], report: Report) -> dict[int, _Line]:
    found: dict[int, _Line] = {}
    last = -1
    for line in lines:
        seq = line.data["seq"]
        if seq in found:
            report(f"{name}, line {line.number}", f"fact {seq} stands here a second time", line.start, line.end)
            continue
        if seq < last:
            report(f"{name}, line {line.number}", f"fact {seq} stands after fact {last}: the order was changed",
                   line.start, line.end)  # fmt: skip
        last = max(last, seq)
        found[seq] = line
    return found


def _place(line: _Line) -> str:
    fact = line.data["fact"]
    key = f", {fact['key']}" if isinstance(fact, dict) and isinstance(fact.get("key"), str) else ""
    return f"{FACTS}, line {line.number} (fact {line.data['seq']}{key})"


def _check_path(place: str, line: _Line, proof: _Line, checkpoint: Checkpoint, report: Report) -> None:
    path = [bytes.fromhex(step) for step in proof.data["path"]]
    try:
        verify_inclusion(
            bytes.fromhex(line.data["digest"]), line.data["seq"], checkpoint.size, path, bytes.fromhex(checkpoint.root)
        )
    except ProofError as error:
        report(place, f"not proven to be in the log: {error}", line.start, line.end)
