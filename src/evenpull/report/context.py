"""What a release report needs besides plan, proof and decision: facts about receipt, evidence, people and signature.

Everything here was written down somewhere before; the report prints it and computes none of it. What is not known is
None and printed as "not recorded", never left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.plan.model import Tool
from evenpull.proof.surroundings import NOTHING_ELSE, Surroundings

PaperName = Literal["a4", "us-letter"]


@dataclass(frozen=True, slots=True)
class SpecificationReceived:
    """One revision of the specification as it was received; times are aware."""

    document: str
    revision: str
    received_at: datetime
    received_from: str  # who brought it in
    sha256: str


@dataclass(frozen=True, slots=True)
class FileReceived:
    """One raw file kept byte for byte."""

    name: str
    sha256: str
    size: int  # bytes
    received_at: datetime
    received_from: str
    mapping: str


@dataclass(frozen=True, slots=True)
class CardIssued:
    serial: str
    issued_at: datetime
    valid_until: datetime
    issued_by: str


@dataclass(frozen=True, slots=True)
class Person:
    """Someone with a part in this joint besides the operators named by the records."""

    name: str
    part: str  # "independent check", "supervision", ...
    qualification: str | None = None  # with its validity; None: not recorded


@dataclass(frozen=True, slots=True)
class JointTest:
    """A test of the finished joint (leak, run): what was seen, by whom."""

    kind: str
    result: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class LogState:
    """The evidence log that holds the facts of this report."""

    size: int
    root: str  # hexadecimal
    checkpoint: str  # id of the signed checkpoint, "" when none has been made


@dataclass(frozen=True, slots=True)
class Signature:
    """`meaning` says what the signer takes responsibility for; `statement` is what the signer wrote."""

    signer: str
    meaning: str
    statement: str
    signed_at: datetime
    key_id: str
    signature: str  # hexadecimal
    signed_sha256: str  # digest of the fact that was signed
    identity: str = ""  # how the signer is known: by a password given again, by name only


@dataclass(frozen=True, slots=True)
class ReportContext:
    """Facts for one report. `tightenings` are all records of the joint, placed or not; `register` all tools known."""

    generated_at: datetime
    versions: Mapping[str, str]  # program and rule sets, e.g. {"evenpull": "0.1.0", "judgement": "proof-1"}
    specification: SpecificationReceived
    log: LogState
    tightenings: tuple[Tightening, ...]
    unread: tuple[UnreadRow, ...] = ()
    register: tuple[Tool, ...] = ()
    earlier_revisions: tuple[SpecificationReceived, ...] = ()
    files: tuple[FileReceived, ...] = ()
    cards: tuple[CardIssued, ...] = ()
    people: tuple[Person, ...] = ()
    tests: tuple[JointTest, ...] = ()
    open_points: tuple[str, ...] = ()
    late_entries: int | None = None
    paper_entries: int | None = None
    signature: Signature | None = None
    around: Surroundings = NOTHING_ELSE  # entries and what else was known when it was judged
    paper: PaperName = "a4"
    notes: Mapping[str, str] = field(default_factory=dict)  # what is known of a heading, else "not recorded" is printed

    def __post_init__(self) -> None:
        moments = {"generated_at": self.generated_at, "specification.received_at": self.specification.received_at}
        if self.signature is not None:
            moments["signature.signed_at"] = self.signature.signed_at
        for name, moment in moments.items():
            if moment.utcoffset() is None:
                raise ValueError(f"{name} {moment.isoformat()} has no time zone")
        if self.paper not in ("a4", "us-letter"):
            raise ValueError(f"paper {self.paper!r}: allowed are a4 and us-letter")
