"""What goes in and out of the HTTP interface, as OpenAPI describes it."""

from __future__ import annotations

from datetime import datetime

from ninja import Schema
from pydantic import ConfigDict, Field

from evenpull.ledger.entry import Basis


class Strict(Schema):
    model_config = ConfigDict(extra="forbid")


class Problem(Schema):
    error: str
    faults: list[dict[str, str]] = Field(default_factory=list)


class JointLine(Schema):
    id: str
    name: str
    place: str
    kind: str
    joint_class: str
    state: str
    reasons: list[str]
    planned: int
    accepted: int
    open_flags: int


class JointList(Schema):
    joints: list[JointLine]
    total: int
    page: int
    pages: int
    not_judged_again_yet: int


class FlagOut(Schema):
    key: str
    code: str
    blocking: bool
    fastener: int | None
    pass_number: int | None
    text: str


class GateOut(Schema):
    name: str
    state: str
    reason: str


class JointOut(Schema):
    id: str
    specification: str
    standing: str
    state: str
    reasons: list[str]
    follow_ups: list[str]
    open: list[FlagOut]
    gates: list[GateOut]
    records: int
    proof: str


class RecordIn(Strict):
    """One tightening as a gateway knows it. Numbers are texts, as the tool wrote them; the unit stands beside."""

    joint: str = Field(min_length=1, max_length=100)
    fastener: int = Field(ge=1, le=1_000_000)
    pass_number: int | None = Field(None, ge=1, le=99)
    event: str = Field("unstated", max_length=40)
    torque: str = Field("", max_length=40)
    torque_unit: str = Field("N.m", max_length=20)
    angle: str = Field("", max_length=40)
    direction: str = Field("", max_length=20)
    end_cause: str = Field("", max_length=30)
    result: str = Field("", max_length=20)
    tool: str = Field("", max_length=100)
    counter: int | None = Field(None, ge=0, lt=2**53)
    epoch: str = Field("", max_length=60)
    operator: str = Field("", max_length=80)
    time: datetime
    unit: str = Field("", max_length=100)


class RecordsIn(Strict):
    records: list[RecordIn] = Field(min_length=1, max_length=10_000)


class TakenIn(Schema):
    sha256: str
    already: bool
    new: int
    repeated: int
    unread: int
    set_aside: int
    sent_before: bool


class EntryIn(Strict):
    kind: str = Field(max_length=60)
    name: str = Field(max_length=100)
    values: dict[str, str] = Field(default_factory=dict)
    fasteners: list[int] = Field(default_factory=list, max_length=1000)
    unit: str = Field("", max_length=100)
    at: datetime | None = None
    at_uncertainty: float = 0.0
    basis: Basis = "from a device"
    reason: str = Field("", max_length=2000)


class EntryOut(Schema):
    fact: int
    text: str


class LogOut(Schema):
    size: int
    root: str
    key: str
    time: datetime | None


class ChangeOut(Schema):
    seq: int
    kind: str
    joint: str
    author: str
    written_at: datetime
    what: str
    digest: str


class ChangesOut(Schema):
    facts: list[ChangeOut]
    before: int | None


class LotPlace(Schema):
    joint: str
    unit: str
    fastener: int | None
    fact: int
    state: str
    withdrawn: bool  # the reading of the file that says so was withdrawn


class LotOut(Schema):
    lot: str
    kind: str
    places: list[LotPlace]
