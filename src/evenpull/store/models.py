"""Facts and checkpoints (written once; the database itself refuses changes) and findings (may be thrown away).

Times of facts are kept as the texts that were digested, so that a digest can be recomputed to the byte.
"""

from __future__ import annotations

import json
from typing import Any, ClassVar

from django.db import models

from evenpull.evidence.fact import Envelope


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
            models.Index(fields=["joint", "kind", "seq"], name="fact_joint_kind"),
            models.Index(fields=["kind", "seq"], name="fact_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.kind} {self.key}"

    @property
    def data(self) -> Any:
        """The body as plain JSON values."""
        return json.loads(self.body)

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
    """The summary of one joint, computed from the facts up to `upto`; deleting the table loses nothing."""

    joint = models.CharField(max_length=100, primary_key=True)
    upto = models.CharField(max_length=200)
    summary = models.TextField()
    seal = models.CharField(max_length=64)

    class Meta:
        db_table = "finding"

    def __str__(self) -> str:
        return f"{self.joint} {self.upto}"
