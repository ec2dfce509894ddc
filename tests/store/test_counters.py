"""Counters that nobody has: a row that could not be read explains its own, wherever it belongs."""

from __future__ import annotations

from pathlib import Path

from tests.store.samples import AUTHOR, JOINT, MAPPING, file_of, furnish, row


def missing() -> list[str]:
    from evenpull.store import services

    return [flag.text for flag in services.joint(JOINT).proof.flags if flag.code == "records missing"]


def test_gaps_close_when_the_records_come_in(anywhere: Path) -> None:
    from evenpull.store import services
    from evenpull.store.services import audit

    furnish()
    services.commit_file("a.csv", file_of([row(3, bolt=1), row(9, bolt=2)]), MAPPING, AUTHOR)
    (text,) = missing()
    assert text.startswith("5 records missing: TW-0207, memory A, counters 4–8")
    services.commit_file("b.csv", file_of([row(5, joint="KN-CW-014"), row(6, joint="KN-CW-014")]), MAPPING, AUTHOR)
    (text,) = missing()
    assert "3 records missing" in text and "counters 4, 7–8" in text
    lost = [row(4, joint="", bolt=3), row(7, joint="KN-CW-014", moment="see card")]  # unread, of no or another joint
    assert services.commit_file("c.csv", file_of(lost), MAPPING, AUTHOR).unread == 2
    (text,) = missing()
    assert "1 record missing" in text and "counters 8," in text
    (memory,) = audit.tool("TW-0207").counters
    assert memory.missing == ((8, 8),)
    services.commit_file("d.csv", file_of([row(8, joint="KN-CW-014")]), MAPPING, AUTHOR)
    assert missing() == []


def test_nothing_is_said_beyond_the_joints_own_records(anywhere: Path) -> None:
    from evenpull.store import services

    furnish()
    services.commit_file("a.csv", file_of([row(3), row(4, bolt=2), row(90, joint="KN-CW-014")]), MAPPING, AUTHOR)
    assert missing() == []
