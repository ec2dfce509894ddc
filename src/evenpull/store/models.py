"""Facts and checkpoints (written once; the database itself refuses changes) and findings (may be thrown away).

Times of facts are kept as the texts that were digested, so that a digest can be recomputed to the byte.
"""

from __future__ import annotations

import json
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Upper

from evenpull.evidence.fact import Envelope


class Account(AbstractBaseUser):
    """Who may log in, under which role. Mutable; each act on it is a fact of the kind "account" as well."""

    login = models.CharField(max_length=60, unique=True)  # in small letters
    full_name = models.CharField(max_length=80)  # the author of what is written under this account
    folded = models.CharField(max_length=80, unique=True)  # no two accounts have the same name
    role = models.CharField(max_length=30)
    closed = models.BooleanField(default=False)

    USERNAME_FIELD = "login"
    objects = BaseUserManager()

    class Meta:
        db_table = "account"

    def __str__(self) -> str:
        return f"{self.login} ({self.role})"

    @property
    def is_active(self) -> bool:
        return not self.closed


class Guesses(models.Model):
    """Failed passwords of one account or one address, so that a restart forgets none of them."""

    what = models.CharField(max_length=120, primary_key=True)  # "account: name" or "address: 192.0.2.7"
    failures = models.IntegerField(default=0)
    last = models.FloatField(default=0.0)  # s since 1970

    class Meta:
        db_table = "guesses"

    def __str__(self) -> str:
        return f"{self.what} {self.failures}"


class ApiClient(models.Model):
    """A program that may use the HTTP interface. `token` is the SHA-256 of its token."""

    name = models.CharField(max_length=80)
    folded = models.CharField(max_length=80, unique=True)
    role = models.CharField(max_length=30)
    token = models.CharField(max_length=64, unique=True)
    closed = models.BooleanField(default=False)

    class Meta:
        db_table = "api_client"

    def __str__(self) -> str:
        return f"{self.name} ({self.role})"


class ApiRequest(models.Model):
    """A request that was carried out, so that it is not when it comes again."""

    client = models.BigIntegerField()
    key = models.CharField(max_length=100)
    digest = models.CharField(max_length=64)
    answer = models.TextField()

    class Meta:
        db_table = "api_request"
        constraints: ClassVar = [models.UniqueConstraint(fields=["client", "key"], name="api_request_once")]

    def __str__(self) -> str:
        return f"{self.client} {self.key}"


class Fact(models.Model):
    """What somebody or some tool asserted. `seq` is dense from 0 and is the leaf in the evidence log."""

    seq = models.BigIntegerField(primary_key=True)
    kind = models.CharField(max_length=40)
    joint = models.CharField(max_length=100, blank=True)
    key = models.CharField(max_length=400, unique=True)
    author = models.CharField(max_length=200)
    received_at = models.CharField(max_length=27)
    written_at = models.CharField(max_length=27)
    body = models.TextField()
    digest = models.CharField(max_length=64)

    class Meta:
        db_table = "fact"
        ordering: ClassVar = ["seq"]
        indexes: ClassVar = [
            models.Index(Upper("joint"), "kind", "seq", name="fact_fold_kind"),
            models.Index(fields=["kind", "seq"], name="fact_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.kind} {self.key}"

    @property
    def data(self) -> Any:
        """The body as plain JSON values."""
        kept = self.__dict__.get("_kept_data")
        return json.loads(self.body) if kept is None else kept

    def keeping_data(self) -> Fact:
        """The fact itself, its body read once for all who ask: for a long body that many joints look at. Whoever asks
        must not change what it gets."""
        self.__dict__["_kept_data"] = json.loads(self.body)
        return self

    def envelope(self) -> Envelope:
        return Envelope(
            self.seq, self.kind, self.joint, self.key, self.author, self.received_at, self.written_at, self.data
        )


class Checkpoint(models.Model):
    """The signed state of the log after one transaction; `frontier` is what appending needs, as hexadecimal texts."""

    size = models.BigIntegerField(primary_key=True)
    root = models.CharField(max_length=64)
    frontier = models.TextField()
    time = models.CharField(max_length=27)
    key = models.CharField(max_length=64)
    signature = models.CharField(max_length=128)

    class Meta:
        db_table = "checkpoint"

    def __str__(self) -> str:
        return f"{self.size} {self.root}"


class Finding(models.Model):
    """The summary of one joint, computed from the facts; deleting the table loses nothing (`findings.rebuild`).

    `fold` is the id in capitals. `stale`: a fact that concerns the joint was written after `upto`, or it was never
    judged. `good_until` (day, "" for ever): from then on it is stale as well, because something falls due.
    """

    joint = models.CharField(max_length=100, primary_key=True)
    fold = models.CharField(max_length=100, unique=True)
    stale = models.BooleanField(default=True)
    upto = models.BigIntegerField(default=-1)
    rules = models.CharField(max_length=40, blank=True)
    good_until = models.CharField(max_length=10, blank=True)
    state = models.CharField(max_length=40, blank=True)
    joint_class = models.CharField(max_length=1, blank=True)
    words = models.CharField(max_length=600, blank=True)  # id, name, place, kind in small letters, to be searched
    alike = models.CharField(max_length=100, blank=True)  # joints with the same are siblings
    ratio = models.FloatField(null=True)  # M/d^3 without drag, Pa
    sheet = models.CharField(max_length=64, blank=True)  # fingerprint of the values as written, "" for too few
    summary = models.TextField(blank=True)
    seal = models.CharField(max_length=64, blank=True)

    class Meta:
        db_table = "finding"
        indexes: ClassVar = [
            models.Index(fields=["stale", "joint"], name="finding_stale"),
            models.Index(fields=["state", "joint"], name="finding_state"),
            models.Index(fields=["good_until"], name="finding_due"),
            models.Index(fields=["alike"], name="finding_alike"),
            models.Index(fields=["sheet"], name="finding_sheet"),
        ]

    def __str__(self) -> str:
        return f"{self.joint} {self.upto}"


class Basis(models.Model):
    """What a joint asks of its fasteners, as a review of a tool needs it: windows, size, friction, least load; made
    from its specification, so it may be thrown away. `spec`: place of the specification it was made from; `body` its
    values as JSON; `seal` shows a row that somebody else wrote."""

    fold = models.CharField(max_length=100, primary_key=True)
    spec = models.BigIntegerField()
    body = models.TextField()
    seal = models.CharField(max_length=64)

    class Meta:
        db_table = "basis"

    def __str__(self) -> str:
        return f"{self.fold} {self.spec}"


class Pull(models.Model):
    """Where the tightening facts are found by joint, tool and person; made from the facts, so it may be thrown away."""

    seq = models.BigIntegerField(primary_key=True)
    fold = models.CharField(max_length=100)
    unit = models.CharField(max_length=100, blank=True)
    fastener = models.IntegerField()
    pass_number = models.IntegerField(null=True)
    event = models.CharField(max_length=30)
    tool = models.CharField(max_length=100, blank=True)
    epoch = models.CharField(max_length=100, blank=True)
    counter = models.BigIntegerField(null=True)
    operator = models.CharField(max_length=100, blank=True)  # folded
    time = models.FloatField(null=True)  # s since 1970, UTC, as the source said it
    torque = models.FloatField(null=True)  # N.m
    angle = models.FloatField(null=True)  # rad
    file = models.BigIntegerField()  # seq of the fact of its file

    class Meta:
        db_table = "pull"
        indexes: ClassVar = [
            models.Index(fields=["fold", "seq"], name="pull_fold"),
            models.Index(fields=["tool", "epoch", "counter"], name="pull_tool"),
            models.Index(fields=["operator", "seq"], name="pull_operator"),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.fold} {self.fastener}"


class Mention(models.Model):
    """Which fact names a lot, a person, a tool, a file ...; made from the facts, so it may be thrown away."""

    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=200)  # folded
    fold = models.CharField(max_length=100, blank=True)
    unit = models.CharField(max_length=100, blank=True)
    fastener = models.IntegerField(null=True)
    seq = models.BigIntegerField()
    n = models.IntegerField(default=1)

    class Meta:
        db_table = "mention"
        indexes: ClassVar = [
            models.Index(fields=["kind", "name", "seq"], name="mention_name"),
            models.Index(fields=["fold", "kind", "seq"], name="mention_fold"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.name} {self.seq}"


class CurveFile(models.Model):
    """A file of curves and its present finding; made from the facts and the curves, so it may be thrown away. `seq`:
    place of its fact; `judged`: rules and basis of the finding ("" for none), `found_sha256` of that file; `stale`: a
    fact that may change the basis was written since; `seal` shows a row that somebody else wrote."""

    seq = models.BigIntegerField(primary_key=True)
    fold = models.CharField(max_length=100)
    stale = models.BooleanField(default=True)
    judged = models.CharField(max_length=140, blank=True)
    found_sha256 = models.CharField(max_length=64, blank=True)
    seal = models.CharField(max_length=64, blank=True)

    class Meta:
        db_table = "curve_file"
        indexes: ClassVar = [models.Index(fields=["fold", "seq"], name="curve_file_fold")]

    def __str__(self) -> str:
        return f"{self.seq} {self.judged}"


class Curve(models.Model):
    """Where a curve is found by the key of its record, by joint and fastener; made from the kept curves, so it may be
    thrown away. `digest`: the beginning of that of its points as received."""

    file = models.BigIntegerField()  # seq of the fact of its file
    number = models.IntegerField()  # in the file, from 0
    fold = models.CharField(max_length=100)
    tool = models.CharField(max_length=100, blank=True)
    epoch = models.CharField(max_length=100, blank=True)
    counter = models.BigIntegerField(null=True)
    unit = models.CharField(max_length=100, blank=True)
    fastener = models.IntegerField(null=True)
    digest = models.BigIntegerField()

    class Meta:
        db_table = "curve"
        constraints: ClassVar = [models.UniqueConstraint(fields=["file", "number"], name="curve_once")]
        indexes: ClassVar = [
            models.Index(fields=["tool", "epoch", "counter"], name="curve_tool"),
            models.Index(fields=["fold", "fastener"], name="curve_fold"),
        ]

    def __str__(self) -> str:
        return f"{self.file} {self.number}"
