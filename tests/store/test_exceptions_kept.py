"""Exceptions from gates in the dossier: what they cover is fixed when they are written, and one that would cover
nothing is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenpull.store import services
from evenpull.store.models import Fact
from tests.store.samples import AUTHOR, MAPPING, furnish

OTHER = "S. Quillfeather"


def exception(joint: str, gate: str, author: str = OTHER, **more: str) -> object:
    values = {"gate": gate, "authority": "engineer of record"}
    return services.add_entry("exception", joint, values, author, reason="seen at the joint", **more)  # type: ignore
