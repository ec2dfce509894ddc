"""A bundle with everything in it: a key that took over, earlier states, a time-stamp token, odd texts and numbers."""

from __future__ import annotations

from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

from evenpull.evidence import BundleFact, Tree, canonical, make_checkpoint, write
from evenpull.evidence.checkpoint import Checkpoint, moment
from evenpull.evidence.sign import generate
from evenpull.evidence.succession import KIND, Succession, make_succession
from evenpull.evidence.timestamp import check_token, make_request
from tests.evidence.bundles import AT, Made
from tests.evidence.stamping import Authority

ODD: tuple[Any, ...] = (
    {"torque": 90.5, "angle": -0.0000001, "big": 1e21, "whole": 2**53 - 1, "none": None, "yes": True},
    {"text": "line\nfeed \u2028 \u202e \"quoted\" \\ é µ \U0001f529", "": "empty name", "12": "12,5",
     "list": [[], {}, [1, [2]]]},
    {"\U0001f529": 1, "\ufb33": 2, "\r": "3", "ö": [{"a": 1}, "b", 0.1]},
)  # fmt: skip


class Log:
    """A small log that grows in steps, as the store lets it grow."""

    def __init__(self) -> None:
        self.facts: list[BundleFact] = []
        self.states: list[Checkpoint] = []
        self.successions: list[Succession] = []
        self.began = self.key = generate()
        self.at: datetime = AT

    @property
    def tree(self) -> Tree:
        return Tree([bytes.fromhex(fact.digest) for fact in self.facts])

    def add(self, kind: str, *bodies: Any) -> Checkpoint:
        for body in bodies:
            seq = len(self.facts)
            envelope = {"author": "I. Harrowgate", "body": body, "joint": "KN-CW-008", "key": f"{kind}:{seq}",
                        "kind": kind, "received_at": moment(self.at), "seq": seq,
                        "written_at": moment(self.at)}  # fmt: skip
            text = canonical(envelope)
            self.facts.append(BundleFact(seq, text, sha256(text).hexdigest()))
        self.at += timedelta(hours=1)
        self.states.append(make_checkpoint(len(self.facts), self.tree.root(), self.at, self.key))
        return self.states[-1]

    def renew(self) -> None:
        new = generate()
        self.successions.append(make_succession(self.states[-1], self.at, self.key, new))
        self.key = new
        self.add(KIND, self.successions[-1].body)

    def stamp(self, clock: Authority) -> bytes:
        state = self.states[-1]
        token = clock.answer(make_request(state.text, 77))
        found = check_token(token, state.text, nonce=77)
        shape = {name: getattr(state, name) for name in ("size", "root", "time", "key", "signature")}
        self.add("time-stamp", {"checkpoint": {"form": "evenpull checkpoint 1", **shape},
                                "token": sha256(token).hexdigest(), "at": moment(found.at)})  # fmt: skip
        return token

    def release(self) -> None:
        signed = {"form": "evenpull release 1", "joint": "KN-CW-008", "state": "released", "signer": "I. Harrowgate",
                  "reasons": ["as seen"], "log": {"size": len(self.facts)}}  # fmt: skip
        seal = self.key.sign(canonical(signed)).hex()
        self.add("release", {"signed": signed, "key": self.key.public.fingerprint, "signature": seal})

    def bundle(self, path: Path, raw: list[Path], chosen: set[int] | None = None, **more: Any) -> str:
        return write(
            path, subject="KN-CW-008", facts=[f for f in self.facts if chosen is None or f.seq in chosen],
            tree=self.tree, checkpoint=self.states[-1], key=self.key, made_at=self.at, raw=raw,
            reports={"release.pdf": b"%PDF-1.7 not a real one\n"},
            **{"earlier": self.states[:-1], "successions": self.successions, **more},
        )  # fmt: skip


def make_rich(folder: Path, clock: Authority) -> tuple[Made, Log]:
    folder.mkdir(parents=True, exist_ok=True)
    log, source, token = Log(), folder / "received.csv", folder / "token.tsr"
    source.write_bytes(b"a;b\r\n1;2\r\n")
    log.add("file", {"name": "received.csv", "sha256": sha256(source.read_bytes()).hexdigest()})
    log.add("tightening", *ODD)
    log.renew()
    log.add("tightening", {"fastener": 1}, {"fastener": 2})
    token.write_bytes(log.stamp(clock))
    log.add("tightening", {"fastener": 3})
    log.release()
    log.renew()
    log.release()
    path = folder / "rich.bundle.zip"
    log.bundle(path, [source, token], called={sha256(source.read_bytes()).hexdigest(): "received.csv"})
    return Made(path, path.read_bytes(), log.key, tuple(bytes.fromhex(f.digest) for f in log.facts)), log
