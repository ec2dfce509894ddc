"""The same line of a card typed twice is one record; with another content it stops; old keys still stand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services.keying import key_in
from tests.store.samples import JOINT, furnish
from tests.store.test_withdrawing import LEAD, WHY, sound

FIRST, SECOND = "D. Ashgrove", "M. Tolland"
ROW = {
    "joint": JOINT, "fastener": "3", "pass": "1", "event": "step", "torque": "45.2", "torque unit": "N.m",
    "tool": "TW-0207", "operator": "J. Mwangale", "date": "2026-03-17", "time": "09:12", "zone": "UTC",
    "card serial": "KN-CW-008-JWEV-85", "card line": "3", "basis": "from paper",
}  # fmt: skip


def changed(**cells: str) -> dict[str, str]:
    return ROW | {name.replace("_", " "): text for name, text in cells.items()}


def held() -> list[tuple[int, str]]:
    return [(t.fastener, t.torque_text) for t in services.joint(JOINT).tightenings]


@pytest.mark.parametrize("again", [
    {}, {"torque": "45.20"}, {"zone": "Europe/London"}, {"operator": "j. mwangale"}, {"card line": "003"},
    {"card serial": "kn-cw-008-jwev-85"}, {"torque": "4520", "torque unit": "N.cm"},
    {"basis": "did it", "why late": "the card lay in the cabin"},
])  # fmt: skip
def test_the_same_line_again_by_somebody_else_is_one_record(anywhere: Path, again: dict[str, str]) -> None:
    furnish()
    assert key_in([ROW], FIRST).new == 1
    done = key_in([ROW | again], SECOND)
    assert (done.new, done.repeated) == (0, 1)
    view = services.joint(JOINT)
    assert len(view.tightenings) == 1 and view.proof.repeated == 1
    assert not [f for f in view.proof.flags if f.code in ("near-duplicate", "doubled")]
    sound()


@pytest.mark.parametrize(("again", "said"), [
    ({"torque": "54.2"}, "torque: 54.2 N.m or 45.2 N.m"), ({"fastener": "4"}, "fastener: 4 or 3"),
    ({"operator": "K. Brill"}, "operator: K. Brill or J. Mwangale"), ({"angle": "12"}, "angle: 12 or not stated"),
    ({"time": "09:13"}, "time: "), ({"joint": "KN-CW-014"}, "joint: KN-CW-014 or KN-CW-008"),
])  # fmt: skip
def test_the_same_line_with_another_content_stops(anywhere: Path, again: dict[str, str], said: str) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    key_in([ROW], FIRST)
    size = Fact.objects.count()
    with pytest.raises(services.Refused) as caught:
        key_in([ROW | again, changed(card_line="4", fastener="5")], SECOND)
    text = str(caught.value)
    assert said in text and "card KN-CW-008-JWEV-85, sheet of pass 1, line 3" in text and FIRST in text
    assert "withdraw the reading" in text and "by an entry" in text
    assert Fact.objects.count() == size


def test_the_way_out_by_withdrawing(anywhere: Path) -> None:
    furnish()
    key_in([ROW], FIRST)
    first = services.files()[0].sha256
    services.withdraw_reading(first, "two digits of the card were exchanged", LEAD)
    assert key_in([changed(torque="54.2")], SECOND).new == 1
    assert held() == [(3, "54.2")]
    with pytest.raises(services.Refused, match="same line"):
        key_in([ROW], FIRST)
    sound()


def test_what_was_ignored_is_taken_when_the_first_is_withdrawn(anywhere: Path) -> None:
    furnish()
    key_in([ROW], FIRST)
    key_in([changed(torque="45.20")], SECOND)
    first = next(f.sha256 for f in services.files() if FIRST in f.name)
    found = services.withdraw_reading(first, WHY, LEAD)
    assert found.withdrawn is not None and found.withdrawn.taken == 1
    assert held() == [(3, "45.20")]
    sound()


def test_the_sheets_of_two_passes_have_lines_of_their_own(anywhere: Path) -> None:
    furnish()
    rows = [ROW, changed(**{"pass": "2", "torque": "90.1", "time": "09:40"})]
    assert key_in(rows, FIRST).new == 2
    assert held() == [(3, "45.2"), (3, "90.1")]


def test_a_counter_goes_before_the_line(anywhere: Path) -> None:
    furnish()
    key_in([changed(counter="7001")], FIRST)
    assert key_in([changed(counter="7001")], SECOND).repeated == 1
    with pytest.raises(services.Refused, match="has the same counter"):
        key_in([changed(counter="7001", torque="54.2")], SECOND)
    assert key_in([changed(counter="7002", fastener="4")], SECOND).new == 1


def test_without_counter_and_line_a_second_one_is_flagged(anywhere: Path) -> None:
    furnish()
    loose = {"card serial": "", "card line": "", "basis": "did it", "why late": "no card was at hand"}
    key_in([ROW | loose], FIRST)
    key_in([ROW | loose], SECOND)
    view = services.joint(JOINT)
    assert len(view.tightenings) == 2
    assert [f.blocking for f in view.proof.flags if f.code == "near-duplicate"] == [True]


def written_as_before(monkeypatch: pytest.MonkeyPatch, by: str, **cells: str) -> Any:
    """A record as an earlier version wrote it, under the key of its file and row."""
    from evenpull.intake.record import Tightening

    with monkeypatch.context() as patch:
        patch.setattr(Tightening, "card_line", property(lambda self: None))
        key_in([changed(**cells)], by)
        (record,) = services.joint(JOINT).tightenings
        return record.key


def test_records_of_earlier_versions_stand_as_their_line(anywhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    furnish()
    former = written_as_before(monkeypatch, FIRST, torque="99.0")
    assert Fact.objects.filter(key__startswith="tightening in file:").count() == 1
    (record,) = services.joint(JOINT).tightenings
    assert record.former_key == former and record.key.startswith("card KN-CW-008-JWEV-85/1/3/")
    flag = next(f for f in services.joint(JOINT).proof.open_flags if f.code == "out of window")
    from evenpull.store.services.log import New, append, writing

    body = {"flag_key": flag.key.replace(record.key, former), "action": "engineering review",
            "reason": "the engineer has looked at it", "at": "2026-03-18T09:00:00.000000Z"}  # fmt: skip
    with writing():
        append([New("disposition", "disposition:1", body, JOINT)], LEAD)
    assert flag.key not in {f.key for f in services.joint(JOINT).proof.open_flags}
    values = {"record": former, "field": "operator", "old": "J. Mwangale", "new": "K. Brill"}
    services.add_entry("correction", JOINT, values, LEAD, basis="from paper", reason="the card says K. Brill")
    assert [f.blocking for f in services.joint(JOINT).proof.flags if f.code == "corrected"] == [False]
    assert key_in([changed(torque="99.0")], SECOND).repeated == 1
    with pytest.raises(services.Refused, match=r"99\.0 N"):
        key_in([ROW], SECOND)
    assert held() == [(3, "99.0")]
    sound()


def test_an_old_record_that_was_withdrawn_no_longer_stands_for_its_line(
    anywhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    furnish()
    written_as_before(monkeypatch, FIRST, torque="54.2")
    services.withdraw_reading(services.files()[0].sha256, WHY, LEAD)
    assert key_in([ROW], SECOND).new == 1
    assert held() == [(3, "45.2")]
    sound()
