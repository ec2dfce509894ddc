"""An evidence bundle: facts with their proofs, raw files and reports in one file that is checked with no database.

    README.txt        what this is and how to check it by hand
    seal.json         signature over the manifest
    manifest.json     every other file with size and SHA-256
    contents.txt      the same as a list for the eye
    facts.txt         the facts for the eye
    verify_bundle.py  program that checks the bundle and needs nothing of evenpull
    key.pem           public key of the signer
    keys.jsonl        statements by which a key took over from another
    checkpoint.json   signed state of the log
    earlier.jsonl     earlier signed states, each with its consistency proof (RFC 6962)
    facts.jsonl       one fact a line
    proofs.jsonl      inclusion proof of each fact (RFC 6962)
    raw/<sha256>      files exactly as they were received
    reports/...       reports
"""

from __future__ import annotations

import json
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
from evenpull.evidence.history import Earlier
from evenpull.evidence.layout import (
    CHECKPOINT,
    CONTENTS,
    EARLIER,
    FACTS,
    FACTS_TEXT,
    KEY,
    KEYS,
    MANIFEST,
    MANIFEST_FORM,
    PROOFS,
    RAW,
    README,
    REPORTS,
    SEAL,
    SEAL_FORM,
    VERIFIER,
    block_size,
)
from evenpull.evidence.merkle import Tree
from evenpull.evidence.plain import contents_text, facts_text
from evenpull.evidence.readme import readme
from evenpull.evidence.sign import SecretKey
from evenpull.evidence.succession import KIND, Succession, key_chain

__all__ = ["VERIFIER_SOURCE", "BundleFact", "Problem", "Verification", "verify", "write"]

VERIFIER_SOURCE = Path(__file__).parent / "standalone" / VERIFIER


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
    earlier: Sequence[Checkpoint] = (),
    successions: Sequence[Succession] = (),
    called: Mapping[str, str] | None = None,
) -> str:
    """Write a bundle to `path`; its SHA-256. The same input gives the same bytes.

    `tree` holds the leaves of the whole log at least up to the checkpoint; `raw` are files whose name, with its
    folder's, is their SHA-256 (or simply any files: they are named by their content), `called` says under which name
    each was received. Facts must rise by seq. `earlier` are signed states from which the log is proven to have grown;
    they must hold the one before each of `successions`, whose facts must be among the facts.
    Raises ContainerError when it would not fit, ValueError (SuccessionError) when things do not belong together.
    """
    if [f.seq for f in facts] != sorted({f.seq for f in facts}) or (facts and facts[-1].seq >= checkpoint.size):
        raise ValueError("facts must rise by their place in the log and lie before the checkpoint")
    if tree.root(checkpoint.size).hex() != checkpoint.root:
        raise ValueError(f"the log of {checkpoint.size} facts does not have the root of its checkpoint")
    chain = key_chain(successions, key.public)
    states = sorted(earlier, key=lambda state: state.size)
    _check_earlier(states, tree, checkpoint)
    place = {fact.seq: fact for fact in facts}
    for handed in successions:
        fact = json.loads(place[handed.size].text) if handed.size in place else None
        if not isinstance(fact, dict) or fact.get("kind") != KIND or fact.get("body") != handed.body:
            raise ValueError(f"fact {handed.size} of the log must be in the bundle: by it a key took over")
        if (handed.size, handed.root) not in {(state.size, state.root) for state in states}:
            raise ValueError(f"the state of {handed.size} facts must be among the earlier ones: a key took over then")
    if any(not state.signed_by(chain.at(state.size)) for state in [*states, checkpoint]):
        raise ValueError("a state of the log is not signed by the key that was in force then")
    program = VERIFIER_SOURCE.read_bytes()
    rest = [
        Member(KEY, key.public.pem),
        Member(KEYS, b"".join(handed.line for handed in successions)),
        Member(CHECKPOINT, checkpoint.text),
        Member(EARLIER, b"".join(_earlier_line(state, tree, checkpoint.size) for state in states)),
        Member(FACTS, b"".join(fact.line for fact in facts)),
        Member(PROOFS, b"".join(_proof_line(fact, tree, checkpoint.size) for fact in facts)),
    ]
    named = {_sha256_of(Member("", source)): source for source in raw}
    rest += [Member(RAW + name, named[name]) for name in sorted(named)]
    rest += [Member(REPORTS + name, source) for name, source in sorted((reports or {}).items())]
    head = Member(README, readme(subject, key.public.fingerprint, sha256(program).hexdigest()))
    rest = [
        Member(FACTS_TEXT, facts_text((fact.seq, fact.digest, json.loads(fact.text)) for fact in facts)),
        Member(VERIFIER, program),
        *rest,
    ]
    described = [_described(member) for member in [head, *rest]]
    names = {RAW + name: as_received for name, as_received in (called or {}).items()}
    contents = Member(CONTENTS, contents_text(subject, described, names))
    manifest = canonical(
        {
            "form": MANIFEST_FORM,
            "subject": subject,
            "made_at": moment(made_at),
            "key": key.public.fingerprint,
            "log": {"size": checkpoint.size, "root": checkpoint.root},
            "facts": len(facts),
            "files": [described[0], _described(contents), *described[1:]],
        }
    )
    seal = {"form": SEAL_FORM, "key": key.public.fingerprint, "manifest": _described(Member(MANIFEST, manifest))}
    seal["signature"] = key.sign(canonical(seal)).hex()
    return write_container(path, [head, Member(SEAL, canonical(seal)), Member(MANIFEST, manifest), contents, *rest])


def _check_earlier(states: Sequence[Checkpoint], tree: Tree, checkpoint: Checkpoint) -> None:
    sizes = [state.size for state in states]
    if len(set(sizes)) != len(sizes) or (sizes and not 0 < sizes[0] <= sizes[-1] < checkpoint.size):
        raise ValueError("earlier states must each have another size, above 0 and below that of the checkpoint")
    for state in states:
        if tree.root(state.size).hex() != state.root:
            raise ValueError(f"the log does not begin with the earlier state of {state.size} facts")


def _earlier_line(state: Checkpoint, tree: Tree, size: int) -> bytes:
    return Earlier(state, tree.consistency(state.size, size)).line


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
