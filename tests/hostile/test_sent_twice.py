"""The same form sent twice (a double click, a page loaded again) writes once; a form filled in anew writes anew."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from django.test import Client

from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.web.views.common import TWICE
from tests.store.samples import JOINT

ENTRY = f"/joints/{JOINT}/entry/"


def mark_of(page: Any) -> str:
    found = re.search(r'name="once" value="([\w-]{16,})"', page.content.decode())
    assert found is not None
    return found[1]


def test_an_entry_sent_twice_is_written_once(furnished: Path, person: Client) -> None:
    form = {"kind": "loosened", "fasteners": "2", "f:why": "cable tray", "basis": "did it", "unsure": "0"}
    form["once"] = mark_of(person.get(f"{ENTRY}?kind=loosened"))
    assert TWICE not in person.post(ENTRY, form, follow=True).content.decode()
    assert TWICE in person.post(ENTRY, form, follow=True).content.decode()
    assert Fact.objects.filter(kind="entry").count() == 1
    person.post(ENTRY, form | {"fasteners": "3"})  # gone back in the browser and filled in for the next one
    assert Fact.objects.filter(kind="entry").count() == 2
    form["once"] = mark_of(person.get(f"{ENTRY}?kind=loosened"))
    person.post(ENTRY, form)  # loosened once more, and said so on a new form
    assert Fact.objects.filter(kind="entry").count() == 3
    assert services.check_log() == []


def test_a_form_with_faults_keeps_its_mark(furnished: Path, person: Client) -> None:
    form = {"kind": "loosened", "fasteners": "99", "f:why": "cable tray", "basis": "did it", "unsure": "0"}
    form["once"] = mark_of(person.get(f"{ENTRY}?kind=loosened"))
    refused = person.post(ENTRY, form)
    assert refused.status_code == 422 and mark_of(refused) == form["once"]
    person.post(ENTRY, form | {"fasteners": "2"})
    assert Fact.objects.filter(kind="entry").count() == 1


def test_a_decision_sent_twice_is_written_once(furnished: Path, person: Client) -> None:
    flag = services.joint(JOINT).proof.open_flags[0]
    form = {"flag": flag.key, "action": "engineering review", "reason": "seen at the joint"}
    form["once"] = mark_of(person.get(f"/joints/{JOINT}/"))
    path = f"/joints/{JOINT}/dispositions/"
    assert TWICE not in person.post(path, form, follow=True).content.decode()
    assert TWICE in person.post(path, form, follow=True).content.decode()
    assert Fact.objects.filter(kind="disposition").count() == 1
