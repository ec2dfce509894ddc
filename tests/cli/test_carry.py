"""The commands of carriers, from one dossier to another; twice, nothing is counted twice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import card_register
from tests.cli.calling import call
from tests.store.samples import AUTHOR, JOINT, MAPPING, furnish, many
from tests.store.two import another


def test_out_and_in_twice(dossier: Path, tmp_path: Path, settings: Any) -> None:
    file, sheet = tmp_path / "in.zip", tmp_path / "monday.csv"
    sheet.write_bytes(many(3))
    with another(tmp_path / "there", settings):
        furnish()
        card, _ = services.issue_card(JOINT, "a4", AUTHOR)
        words = ("carry", "out", file, "--subject", "to gallery 3", "--joint", JOINT, "--mapping", MAPPING, "--tools",
                 "--card", card.serial, "--records", f"{sheet}={MAPPING}", "--by", AUTHOR)  # fmt: skip
        assert "Tell the receiver" in call(*words).stdout
        assert "is there already" in call(*words, code=2).stderr.replace("\n", " ")
        assert "say by which mapping" in call(
            "carry", "out", tmp_path / "b.zip", "--subject", "x", "--records", sheet, "--by", AUTHOR, code=2).stderr
        key = services.log_status().key_id
        assert key in call("key").stdout
    took = ("carry", "in", file, "--key", key, "--by", "Odile Farrant")
    assert "sealed by the key" in call("carry", "in", file, "--by", AUTHOR, code=2).stderr.replace("\n", " ")
    looked = call(*took, "--look").stdout
    assert "nothing written" in looked and looked.count("new ") == 6 and Fact.objects.count() == 0
    assert "taken in" in call(*took).stdout
    size = Fact.objects.count()
    again = call(*took).stdout
    assert "nothing written" in again and again.count("known ") == 6 and Fact.objects.count() == size
    assert len(services.joint(JOINT).tightenings) == 3
    assert [one.card.serial for one in card_register.of_joint(JOINT)] == [card.serial]
