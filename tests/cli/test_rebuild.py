"""Index and findings made again, and compared, by the command."""

from __future__ import annotations

from pathlib import Path

from evenpull.store import services
from evenpull.store.models import Finding
from tests.cli.calling import call
from tests.store.samples import furnish


def test_findings_are_made_again_and_a_forged_one_is_named(dossier: Path) -> None:
    furnish("kn-cw-008", "kn-bh-021")
    assert "2 findings made again" in call("audit", "rebuild").output
    call("audit", "rebuild", "--check")
    Finding.objects.filter(joint="KN-BH-021").update(state="released")
    assert "KN-BH-021" in call("audit", "rebuild", "--check", code=1).output
    call("audit", "rebuild")
    call("audit", "rebuild", "--check")
    assert services.joints()[0].id == "KN-BH-021"
