"""An evidence bundle: facts with their proofs, raw files and reports in one file that is checked with no database.

    README.txt        what this is and how to check it by hand
    seal.json         signature over the manifest
    manifest.json     every other file with size and SHA-256
    key.pem           public key of the signer
    checkpoint.json   signed state of the log
    facts.jsonl       one fact a line
    proofs.jsonl      inclusion proof of each fact (RFC 6962)
    raw/<sha256>      files exactly as they were received
    reports/...       reports
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from evenpull.evidence.canonical import canonical
from evenpull.evidence.checking import Problem, Verification, verify
from evenpull.evidence.checkpoint import Checkpoint, moment
from evenpull.evidence.container import Member, write_container
from evenpull.evidence.layout import (
    CHECKPOINT,
    FACTS,
    KEY,
    MANIFEST,
    MANIFEST_FORM,
    PROOFS,
    RAW,
    README,
    REPORTS,
    SEAL,
    SEAL_FORM,
    block_size,
)
from evenpull.evidence.merkle import Tree
from evenpull.evidence.sign import SecretKey

__all__ = ["BundleFact", "Problem", "Verification", "verify", "write"]


@dataclass(frozen=True)
class BundleFact:
    """`text` is the canonical JSON of the fact; its SHA-256 is leaf `seq` of the log."""

    seq: int
    text: bytes
    digest: str

    @property
    def line(self) -> bytes:
        return b'{"digest":"%b","fact":%b,"seq":%d}\n' % (self.digest.encode(), self.text, self.seq)


def write(
    path: Path,
    *,
    subject: str,
    facts: Sequence[BundleFact],
    tree: Tree,
    checkpoint: Checkpoint,
    key: SecretKey,
    made_at: datetime,
    raw: Iterable[Path] = (),
    reports: Mapping[str, bytes | Path] | None = None,
) -> str:
    """Write a bundle to `path`; its SHA-256. The same input gives the same bytes.

    `tree` holds the leaves of the whole log at least up to the checkpoint; `raw` are files whose name, with its
    folder's, is their SHA-256 (or simply any files: they are named by their content). Facts must rise by seq.
    Raises ContainerError when it would not fit, ValueError when facts and checkpoint do not belong together.
    """
    if [f.seq for f in facts] != sorted({f.seq for f in facts}) or (facts and facts[-1].seq >= checkpoint.size):
        raise ValueError("facts must rise by their place in the log and lie before the checkpoint")
    if tree.root(checkpoint.size).hex() != checkpoint.root:
        raise ValueError(f"the log of {checkpoint.size} facts does not have the root of its checkpoint")
    content = [
        Member(README, _readme(subject, key.public.fingerprint).encode()),
        Member(KEY, key.public.pem),
        Member(CHECKPOINT, checkpoint.text),
        Member(FACTS, b"".join(fact.line for fact in facts)),
        Member(PROOFS, b"".join(_proof_line(fact, tree, checkpoint.size) for fact in facts)),
    ]
    named = {_sha256_of(Member("", source)): source for source in raw}
    content += [Member(RAW + name, named[name]) for name in sorted(named)]
    content += [Member(REPORTS + name, source) for name, source in sorted((reports or {}).items())]
    manifest = canonical(
        {
            "form": MANIFEST_FORM,
            "subject": subject,
            "made_at": moment(made_at),
            "key": key.public.fingerprint,
            "log": {"size": checkpoint.size, "root": checkpoint.root},
            "facts": len(facts),
            "files": [_described(member) for member in content],
        }
    )
    seal = {"form": SEAL_FORM, "key": key.public.fingerprint, "manifest": _described(Member(MANIFEST, manifest))}
    seal["signature"] = key.sign(canonical(seal)).hex()
    head, rest = content[0], content[1:]
    return write_container(path, [head, Member(SEAL, canonical(seal)), Member(MANIFEST, manifest), *rest])


def _proof_line(fact: BundleFact, tree: Tree, size: int) -> bytes:
    path = [step.hex() for step in tree.inclusion(fact.seq, size)]
    return canonical({"seq": fact.seq, "digest": fact.digest, "path": path}) + b"\n"


def _sha256_of(member: Member) -> str:
    running = sha256()
    for chunk in member.chunks():
        running.update(chunk)
    return running.hexdigest()


def _described(member: Member) -> dict[str, Any]:
    """Name, size and hash of a file, and a short mark of each block, only to say where it was changed."""
    size = sum(len(chunk) for chunk in member.chunks())
    block = block_size(size)
    marks, rest = [], b""
    for chunk in member.chunks():
        rest += chunk
        while len(rest) >= block:
            marks.append(sha256(rest[:block]).hexdigest()[:8])
            rest = rest[block:]
    if rest:
        marks.append(sha256(rest).hexdigest()[:8])
    return {"name": member.name, "size": size, "sha256": _sha256_of(member), "block": block, "marks": "".join(marks)}


def _readme(subject: str, fingerprint: str) -> str:
    return f"""Evidence bundle: {subject}

What is in it
  facts.jsonl      one fact a line: what somebody or some tool asserted, who wrote it and when
  proofs.jsonl     for each fact the proof that it is in the log under the signed checkpoint
  checkpoint.json  the signed state of the log: number of facts, root, time
  raw/             files exactly as they were received, named by their SHA-256
  reports/         reports made from the facts
  manifest.json    size and SHA-256 of each of these files
  seal.json        signature over the manifest
  key.pem          public key of the signer

How to check it
  python -m evenpull.evidence.verify THIS-FILE
  It needs no database and no network, and names every file, fact and byte region that was changed.

How to check it without that program
  1. sha256sum of each file = the value in manifest.json; of manifest.json itself = the value in seal.json.
  2. The signature in seal.json is Ed25519 (RFC 8032), hexadecimal, over seal.json without its "signature", written as
     canonical JSON (RFC 8785). The one in checkpoint.json likewise.
  3. In each line of facts.jsonl, "digest" is the SHA-256 of "fact" written as canonical JSON. The 32 bytes of the
     digest are leaf "seq" of a Merkle tree after RFC 6962 section 2.1; "path" in proofs.jsonl is its audit path.
     The path must lead to the root in checkpoint.json.

What it proves and what not
  It proves that nothing in it was changed since the holder of the key sealed it. The key in this bundle says nothing
  about who that is. Fingerprint of the key that sealed this bundle (SHA-256 of its 32 bytes):
    {fingerprint}
  Compare it with the fingerprint you got from the owner by another way, or give that one to the program:
    python -m evenpull.evidence.verify THIS-FILE --key FINGERPRINT
  Whether what was asserted is true in the world, no signature can show.
"""
