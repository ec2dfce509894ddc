"""Cards made for tests, and their text."""

from __future__ import annotations

import io
import re
from functools import cache, lru_cache
from typing import Any

from pypdf import PdfReader

from evenpull.card import CardPDF, make_card, make_serial
from evenpull.plan.model import Plan
from tests.card.plans import ISSUED, UNTIL, plan


def card(of: Plan, **changes: Any) -> CardPDF:
    wanted: dict[str, Any] = {"serial": make_serial(of.spec.id, 7), "issued_at": ISSUED, "valid_until": UNTIL}
    return make_card(of, **{**wanted, **changes})


@cache
def ring(count: int, paper: str) -> CardPDF:
    return card(plan(count), paper=paper)


@lru_cache(maxsize=32)
def pages_of(pdf: bytes) -> tuple[str, ...]:
    """Text of each page, white space and break places made one space."""
    return tuple(
        re.sub(r"\s+", " ", page.extract_text().replace("\N{ZERO WIDTH SPACE}", ""))
        for page in PdfReader(io.BytesIO(pdf)).pages
    )
