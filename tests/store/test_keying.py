"""Typed records come in by the page and are records like all others, with how they are known."""

from __future__ import annotations

from pathlib import Path

from django.test import Client

from evenpull.store import services
from evenpull.store.models import Fact
from tests.store.samples import JOINT, furnish

ROW = {"k:fastener": "3", "k:pass": "1", "k:event": "step", "k:torque": "45.2", "k:torque unit": "N.m",
       "k:tool": "TW-0207", "k:counter": "9001", "k:operator": "J. Mwangale", "k:date": "2026-03-17", "k:time": "09:12",
       "k:zone": "UTC", "k:card serial": "KN-CW-008-JWEV-85", "k:card line": "3"}  # fmt: skip


def test_a_record_typed_in_on_the_page(anywhere: Path) -> None:
    furnish()
    client = Client(HTTP_HOST="127.0.0.1")
    client.post("/who/", {"name": "D. Ashgrove"})
    page = client.get(f"/joints/{JOINT}/typed/").content.decode()
    assert "Write the record" in page
    from evenpull.intake.keyed import KEYED_FIELDS

    basis = next(f for f in KEYED_FIELDS if f.name == "basis").allowed.split(", ")[0]
    answer = client.post(f"/joints/{JOINT}/typed/", ROW | {"k:basis": basis, "k:why late": "the card lay in the cabin"})
    assert answer.status_code == 302, answer.content.decode()
    (held,) = services.joint(JOINT).tightenings
    assert (held.fastener, held.torque_text, held.counter, held.operator) == (3, "45.2", 9001, "J. Mwangale")
    assert held.particulars["keyed_by"].text == "D. Ashgrove" and held.particulars["card"].text == "KN-CW-008-JWEV-85"
    client.post(f"/joints/{JOINT}/typed/", ROW | {"k:basis": basis, "k:why late": "the card lay in the cabin"})
    assert len(services.joint(JOINT).tightenings) == 1


def test_faults_are_said_by_field_and_nothing_is_written(dossier: Path) -> None:
    furnish()
    client = Client(HTTP_HOST="127.0.0.1")
    client.post("/who/", {"name": "D. Ashgrove"})
    before = Fact.objects.count()
    answer = client.post(f"/joints/{JOINT}/typed/", ROW | {"k:fastener": "x", "k:torque": "4,5"})
    assert answer.status_code == 422 and answer.content.decode().count('class="error"') >= 2
    assert Fact.objects.count() == before
