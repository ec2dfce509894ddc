"""One decision on many points of a kind: a fact for each or none, every refusal named, shown before it is signed."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pytest
from django.test import Client

from evenpull.store import services
from evenpull.store.models import Fact
from tests.store.people import HEADERS, PASSWORD, fast_hashing, logged_in, opened
from tests.store.samples import AUTHOR, JOINT, furnish, many

__all__ = ["fast_hashing"]  # a fixture
OTHER = "S. Quillfeather"


def started() -> list[str]:
    """The joint with its first round only: keys of what is missing."""
    furnish()
    services.commit_file("first.csv", many(8), services.mappings()[0].name, AUTHOR)
    found = [flag.key for flag in services.joint(JOINT).proof.open_flags if flag.code == "missing"]
    assert len(found) > 4
    return found


def written() -> list[dict[str, object]]:
    return [fact.data for fact in Fact.objects.filter(kind="disposition").order_by("seq")]


def test_a_fact_for_each_with_the_same_reason_and_moment(anywhere: Path) -> None:
    keys = started()
    flags = services.dispose_of(JOINT, [*keys, keys[0]], "redo", "left out in the night shift", OTHER)
    facts = written()
    assert [f.key for f in flags] == [f["flag_key"] for f in facts] == keys
    assert {(f["action"], f["reason"], f["at"], f["together"]) for f in facts} == {
        ("redo", "left out in the night shift", facts[0]["at"], len(keys))
    }  # fmt: skip
    assert len({f.key for f in Fact.objects.filter(kind="disposition")}) == len(keys)
    services.dispose(JOINT, keys[0], "engineering review", "seen by the engineer", OTHER)
    assert "together" not in written()[-1]


def test_all_or_nothing_and_every_refusal_named(anywhere: Path) -> None:
    keys = started()
    count = Fact.objects.count()
    other = next(f for f in services.joint(JOINT).proof.flags if f.code != "missing")
    wrong = "missing|KN-CW-008||1|9|"
    with pytest.raises(services.Refused) as refused:
        services.dispose_of(JOINT, [*keys, wrong, "nonsense"], "redo", "left out in the night", OTHER)
    assert wrong in str(refused.value) and "'nonsense' is not the key of a flag" in str(refused.value)
    with pytest.raises(services.Refused) as refused:
        services.dispose_of(JOINT, keys, "not this joint", "left out in the night", OTHER)
    assert str(refused.value).count("cannot close 'missing'") == len(keys)
    with pytest.raises(services.Refused, match="flags of one kind"):
        services.dispose_of(JOINT, [keys[0], other.key], "engineering review", "left out in the night", OTHER)
    with pytest.raises(services.Refused, match="no flag is named"):
        services.dispose_of(JOINT, [], "redo", "left out in the night", OTHER)
    assert Fact.objects.count() == count


def test_the_page_shows_exactly_what_is_signed(anywhere: Path) -> None:
    keys = started()
    client = logged_in(opened("tightening lead"))
    page = html.unescape(client.get(f"/joints/{JOINT}/").content.decode())
    assert f"All {len(keys)} open: missing" in page and page.count('form="several"') >= len(keys)
    chosen = keys[1:4]
    page = html.unescape(client.get(f"/joints/{JOINT}/decide/", {"flag": chosen}).content.decode())
    listed = page.split("<ol>")[1].split("</ol>")[0]
    texts = {f.key: f.text for f in services.joint(JOINT).proof.open_flags}
    assert re.findall("<li>(.*?)</li>", listed) == [texts[key] for key in keys if key in chosen]
    hidden = re.search('name="flags" value="(.*?)">', page)
    assert hidden is not None and json.loads(hidden[1]) == [key for key in keys if key in chosen]
    form = {"flags": hidden[1], "action": "redo", "reason": "left out in the night shift"}
    client.post(f"/joints/{JOINT}/dispositions/", form | {"password": "wrong"})
    assert not written()
    client.post(f"/joints/{JOINT}/dispositions/", form | {"password": PASSWORD})
    assert {f["flag_key"] for f in written()} == set(chosen) and written()[0]["identity"]


def test_all_open_of_a_kind_and_what_the_page_refuses(anywhere: Path) -> None:
    keys = started()
    client = Client(**HEADERS)
    assert client.get(f"/joints/{JOINT}/decide/", {"code": "missing"}).content.decode().count("<li>") >= len(keys)
    other = next(f.key for f in services.joint(JOINT).proof.open_flags if f.code != "missing")
    for query, words in (
        ({}, "none that is open was chosen"), ({"flag": [keys[0], other]}, "points of one kind"),
        ({"flag": ["x"]}, "none that is open was chosen"),
    ):  # fmt: skip
        answer = client.get(f"/joints/{JOINT}/decide/", query, follow=True)
        assert words in html.unescape(answer.content.decode())
    session = client.session
    session["author"] = OTHER
    session.save()
    for wrong in ("[1]", "{}", "nonsense", '"x"'):
        answer = client.post(f"/joints/{JOINT}/dispositions/", {"flags": wrong, "action": "redo", "reason": "because"},
                             follow=True)  # fmt: skip
        assert "cannot be read. Nothing was written" in html.unescape(answer.content.decode())
    assert not written()
