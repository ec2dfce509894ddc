"""Entries in the dossier: each kind has its form, names in them are found again, and a refused one leaves nothing."""

from __future__ import annotations

import html
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client

from evenpull.ledger.entry import EntryError
from evenpull.ledger.kinds import KINDS, Kind
from evenpull.store import services
from evenpull.store.models import Fact, Mention
from tests.store.people import HEADERS, PASSWORD, fast_hashing, logged_in, opened
from tests.store.samples import AUTHOR, JOINT, furnish

__all__ = ["fast_hashing"]  # a fixture


def found(kind: str, name: str) -> set[int]:
    return set(Mention.objects.filter(kind=kind, name=name.casefold()).values_list("seq", flat=True))


def page_of(kind: Kind) -> str:
    where = f"/joints/{JOINT}/entry/?kind=" if kind.subject == "joint" else f"/entry/?subject={kind.subject}&kind="
    answer = Client(**HEADERS).get(where + kind.name)
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


def test_each_kind_has_a_form_with_a_label_for_each_field(dossier: Path) -> None:
    furnish()
    for kind in KINDS.values():
        page = page_of(kind)
        assert f"<h2>{kind.label}</h2><p>{kind.meaning}</p>" in page, kind.name
        for one in kind.fields:
            assert f'<label for="f-{one.name}">{one.label}' in page and f'name="f:{one.name}"' in page, (kind.name, one)
            assert one.form != "long text" or f'<textarea id="f-{one.name}"' in page


def test_tools_lots_heats_and_people_in_entries_are_found_again(dossier: Path) -> None:
    furnish()
    change = {"from": "TW-0207", "to": "TW-0219", "why": "dropped", "pass": "2"}
    one = services.add_entry("tool change", JOINT, change, AUTHOR)
    drag = services.add_entry("drag measured", JOINT, {"drag": "8 N.m", "tool": "TW-0219"}, AUTHOR, fasteners="1")
    parts = {"part": "bolt", "condition": "new", "lot": "KL-7731", "heat": "H-204"}
    fitted = services.add_entry("parts fitted", JOINT, parts, AUTHOR, fasteners="1-2")
    seen = services.add_entry("hand-over", JOINT, {"from": "A. Vance", "to": "B. Quayle", "pass": "2"}, AUTHOR)
    assert found("tool", "TW-0219") == {one.seq, drag.seq} and found("tool", "TW-0207") >= {one.seq}
    assert fitted.seq in found("lot", "KL-7731") and found("heat", "H-204") == {fitted.seq}
    assert found("person", "B. Quayle") == {seen.seq}


def test_a_range_of_loose_fasteners_is_found_again_at_each_of_them(dossier: Path) -> None:
    furnish()
    seen = {"leaking": "no", "marks": "broken", "loose": "1-3, 6"}
    first = services.add_entry("as found", JOINT, seen, AUTHOR)
    second = services.add_entry("loosened", JOINT, {"why": "it was found loose"}, AUTHOR, fasteners="2")
    services.add_entry("as found", JOINT, seen | {"loose": "none"}, AUTHOR)
    marks = Mention.objects.filter(kind="loose").order_by("seq", "fastener").values_list("seq", "fastener")
    assert list(marks) == [*((first.seq, n) for n in (1, 2, 3, 6)), (second.seq, 2)]


def test_a_refused_entry_leaves_nothing(dossier: Path) -> None:
    furnish()
    before = Fact.objects.count()
    with pytest.raises(EntryError, match="9999 is not a fastener of this joint"):
        services.add_entry("mark made", JOINT, {}, AUTHOR, fasteners="9999")
    with pytest.raises(EntryError, match="at least one of"):
        services.add_entry("conditions", JOINT, {}, AUTHOR)
    with pytest.raises(EntryError, match="future"):
        services.add_entry("mark made", JOINT, {}, AUTHOR, fasteners="1", at=datetime.now(UTC) + timedelta(hours=1))
    assert Fact.objects.count() == before


def test_the_page_says_every_fault_beside_its_field(dossier: Path) -> None:
    furnish()
    client = logged_in(opened("operator"))
    form = {"kind": "alignment", "basis": "did it", "unsure": "0"}
    form |= {"f:gap": "1 mm", "f:gap_least": "5 mm", "f:offset": "3"}
    answer = client.post(f"/joints/{JOINT}/entry/", form | {"f:pulled_in": "perhaps", "password": PASSWORD})
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 422
    for words in ("'5 mm' is beyond '1 mm'", "the unit is missing", "'perhaps' is not a choice; allowed: yes, no"):
        assert words in page
    assert not Fact.objects.filter(kind="entry").exists()
    lines = "seen  first\r\nand then"
    answer = client.post(f"/joints/{JOINT}/entry/", form | {"kind": "observation", "f:words": lines})
    assert answer.status_code == 422, "fields of another kind are refused, not dropped"
    written = {name: value for name, value in form.items() if not name.startswith("f:")}
    answer = client.post(f"/joints/{JOINT}/entry/", written | {"kind": "observation", "f:words": lines})
    assert answer.status_code == 302
    assert Fact.objects.get(kind="entry").data["values"] == {"words": "seen first\nand then"}
