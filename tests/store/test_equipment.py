"""The register of equipment and its certificates as facts: what is written, what is refused, what becomes old by it."""

from __future__ import annotations

import zipfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from evenpull.demo import scenario
from evenpull.evidence import verify
from evenpull.plan import SpecificationError
from evenpull.store import services
from evenpull.store.models import Fact, Finding, Mention
from evenpull.store.services import audit, equipment, findings, index_check
from evenpull.store.services.fact_kinds import CERTIFICATE, EQUIPMENT
from evenpull.store.services.log import writing
from tests.equipment.files import CERTIFICATES, GIVEN, HYDRAULIC, MAPPING, TABLE, certificate, point
from tests.equipment.files import EQUIPMENT as REGISTER
from tests.plan.files import changed
from tests.store.samples import AUTHOR, furnish, many

FORM = 'form = "evenpull certificates 1"\n'
DAY = date(2026, 4, 15)


@pytest.fixture
def store(anywhere: Path) -> Path:
    services.add_equipment(REGISTER, "equipment.toml", AUTHOR)
    services.add_certificates(CERTIFICATES, "certificates.toml", AUTHOR, confirmed=True)
    return anywhere


def next_year() -> str:
    """The wrench calibrated again when its certificate has ended."""
    text = certificate("TW-0301", "KNC-27-0001")
    return text.replace("2026-03-02", "2027-03-02").replace("2027-03-01", "2028-03-01")


def facts_of(kind: str) -> list[Fact]:
    return list(Fact.objects.filter(kind=kind).order_by("seq"))


def test_one_certificate_is_one_fact_and_the_same_again_changes_nothing(store: Path) -> None:
    assert [f.data["number"] for f in facts_of(CERTIFICATE)] == ["KNC-26-0412", "KNC-26-0413"]
    size = Fact.objects.count()
    again = services.add_certificates(CERTIFICATES, "other.toml", AUTHOR)
    assert [row.changed for row in again] == [False, False]
    assert not services.add_equipment(REGISTER, "equipment.toml", AUTHOR).changed
    assert Fact.objects.count() == size
    raw = services.raw_path(facts_of(CERTIFICATE)[0].data["raw"])
    assert raw.read_text() == CERTIFICATES


def test_holdings_of_both_registers_with_what_was_written_about_tools(store: Path) -> None:
    furnish()
    services.add_entry("tool dropped", "tw-0301", {"what": "from 2 m"}, AUTHOR)
    services.add_entry("shift check", "TW-0207", {
        "set": "100 N.m", "device_value": "99 N.m", "device": "CD-0001", "result": "within limits"}, AUTHOR)
    held = services.holdings()
    assert {"TW-0301", "CH-0007", "TW-0207"} <= set(held.serials)
    assert held.chain("CH-0007").ratio == 13.2
    assert [e.kind for e in held.entries["TW-0301"]] == ["tool dropped"]  # however the serial was written
    assert [e.kind for e in held.evidence("TW-0207")] == ["certificate", "shift check"]
    assert held.events("CH-0007", datetime.now(UTC).date())[0].startswith("TW-0301: dropped")


def test_a_chain_of_the_register_is_a_tool_for_settings(store: Path) -> None:
    (tool,) = services.tools(["CH-0007"])
    assert tool.multiplier_ratio == 13.2 and tool.certificate == "KNC-26-0412 + KNC-26-0413"
    assert [t.serial for t in services.tools_in_force(DAY, ["CH-0007", "CF-0007"])] == ["CF-0007", "CH-0007"]
    assert services.tools(["HS-0041"]) == ()
    services.add_certificates(FORM + HYDRAULIC, "h.toml", AUTHOR)
    assert services.tools(["HS-0041"])[0].pressure is not None


def test_an_item_is_described_anew_and_its_history_stays(store: Path) -> None:
    own = REGISTER.split("[[multiplier]]")[0]
    newer = own.replace('owner = "tool store 2"', 'owner = "tool store 3"')
    assert services.add_equipment(newer, "moved.toml", AUTHOR).changed
    assert services.holdings().items["TW-0301"].owner == "tool store 3"
    assert services.add_equipment(own, "back.toml", AUTHOR).changed  # back to the earlier state: a third fact
    assert len(facts_of(EQUIPMENT)) == 3 and services.holdings().items["TW-0301"].owner == "tool store 2"
    assert "RS-0001" in services.holdings().items  # what a text does not name stays


@pytest.mark.parametrize(("text", "says"), [
    (certificate("TW-9999", "X"), "TW-9999 is in no register of tools"),
    (certificate("TW-0302", "X"), "near: TW-0301"),
    (certificate("CH-0007", "X"), "is an assembly"),
    (certificate("TW-0301", "LATER"), "KNC-26-0412 begins on 2026-03-02 and overlaps|overlaps with"),
    (certificate("TW-0301", "X", more='replaces = "NEVER"\n').replace("2026-03-02", "2027-04-01").replace(
        "2027-03-01", "2028-03-01"), "replaces NEVER, which is no earlier certificate"),
    (certificate("AG-0003", "X"), "is one of torque, and AG-0003 shows angle"),
    (certificate("TW-0301", "KNC-26-0412", more='note = "another"\n'), "with another content; say why"),
])
def test_what_is_refused(store: Path, text: str, says: str) -> None:
    size, raw = Fact.objects.count(), services.holdings()
    with pytest.raises(services.Refused, match=says):
        services.add_certificates(FORM + text, "c.toml", AUTHOR)
    assert Fact.objects.count() == size and services.holdings() == raw


def test_all_or_none(store: Path) -> None:
    later = next_year()
    size = Fact.objects.count()
    with pytest.raises(services.Refused, match="in no register"):
        services.add_certificates(FORM + later + certificate("TW-9999", "X"), "c.toml", AUTHOR)
    with pytest.raises(SpecificationError):
        services.add_certificates(FORM + later + certificate("TM-0051", ""), "c.toml", AUTHOR)
    assert Fact.objects.count() == size
    assert services.add_certificates(FORM + later, "c.toml", AUTHOR)[0].changed
    assert [c.id for c in services.holdings().certificates("TW-0301")] == ["KNC-26-0412", "KNC-27-0001"]


def test_doubtful_points_are_confirmed_first(store: Path) -> None:
    text = FORM + certificate("CD-0001", "D-1", points=point("as found", 100, 73, "either"))
    with pytest.raises(services.Refused, match="the deviation is"):
        services.add_certificates(text, "c.toml", AUTHOR)
    assert services.add_certificates(text, "c.toml", AUTHOR, confirmed=True)[0].changed


def test_a_certificate_is_corrected_with_its_reason_and_withdrawn(store: Path) -> None:
    other = FORM + certificate(more='counter = 1200\nnote = "as printed"\n')
    services.add_certificates(other, "c.toml", AUTHOR, why="the note was left out")
    (one,) = services.holdings().calibrations["TW-0301"]
    first, _, last = facts_of(CERTIFICATE)
    assert one.note == "as printed" and last.data["corrects"] == first.seq
    services.withdraw_certificate("TW-0301", "KNC-26-0412", "the laboratory called it back", AUTHOR)
    assert services.holdings().certificates("TW-0301") == () and services.tools(["TW-0301"]) == ()
    with pytest.raises(services.Unknown, match="there are: none"):
        services.withdraw_certificate("TW-0301", "KNC-26-0412", "the laboratory called it back", AUTHOR)
    with pytest.raises(services.Refused, match="was withdrawn; say why"):
        services.add_certificates(other, "c.toml", AUTHOR)
    services.add_certificates(other, "c.toml", AUTHOR, why="called back by mistake")
    assert len(services.holdings().certificates("TW-0301")) == 1


def test_a_table_is_kept_with_its_mapping_and_read_without_both(store: Path) -> None:
    services.withdraw_certificate("TW-0301", "KNC-26-0412", "entered by hand before", AUTHOR)
    assert services.add_certificate_mapping(MAPPING, "m.toml", AUTHOR).changed
    assert not services.add_certificate_mapping(MAPPING, "m.toml", AUTHOR).changed
    mapping = services.certificate_mapping("Tidewater Metrology, torque sheet")
    size = Fact.objects.count()
    seen = services.preview_certificate_table("t.csv", TABLE.encode(), mapping, GIVEN)
    assert seen.known == (False,) and seen.problems == () and seen.doubts == () and Fact.objects.count() == size
    (row,) = services.add_certificate_table("t.csv", TABLE.encode(), mapping, GIVEN, AUTHOR)
    assert (row.serial, row.number, row.changed) == ("TW-0301", "TDM 4410", True)
    fact = facts_of(CERTIFICATE)[-1]
    assert fact.data["rows"] == [7, 8, 9, 10, 11, 12] and fact.data["mapping"]["digest"] == mapping.digest
    assert services.raw_path(fact.data["raw"]).read_bytes() == TABLE.encode()
    (one,) = services.holdings().calibrations["TW-0301"]
    assert one == seen.reading.calibrations[0]
    assert services.preview_certificate_table("t.csv", TABLE.encode(), mapping, GIVEN).known == (True,)
    assert not services.add_certificate_table("t.csv", TABLE.encode(), mapping, GIVEN, AUTHOR)[0].changed


def test_a_certificate_makes_old_what_its_tool_touched(store: Path) -> None:
    furnish("kn-cw-008", "kn-bh-021")
    services.commit_file("a.csv", many(3, tool="CH-0007"), "store log, semicolons", AUTHOR)
    services.refresh()
    services.add_certificates(FORM + next_year(), "c.toml", AUTHOR)
    stale = set(Finding.objects.filter(stale=True).values_list("joint", flat=True))
    assert stale == {"KN-CW-008"}  # it was pulled with the chain that holds the wrench
    services.refresh()
    services.add_entry("tool repaired", "TM-0051", {"what": "new seals", "adjusted": "no"}, AUTHOR)
    assert set(Finding.objects.filter(stale=True).values_list("joint", flat=True)) == {"KN-CW-008"}
    services.refresh()
    services.add_certificates(FORM + certificate("CD-0001", "D-1", points=point("as found", 100, 100, "either")), "c",
                              AUTHOR)
    assert Finding.objects.filter(stale=True).count() == 2  # the first of an item may make plans possible
    assert index_check.differences() == []
    findings.rebuild()
    assert index_check.differences() == [] and Mention.objects.filter(kind="part of assembly").count() == 7


def test_what_was_read_in_a_transaction_that_failed_is_not_remembered(store: Path) -> None:
    """The places of the log are given again after a failed transaction; the digest tells the two facts apart."""
    before = services.holdings()

    def moved(to: str, fails: bool) -> None:
        text = REGISTER.replace('owner = "tool store 2"', f'owner = "{to}"')
        with writing():
            services.add_equipment(text, "e.toml", AUTHOR)
            services.add_entry("tool dropped", "TW-0301", {"what": to}, AUTHOR)
            assert services.holdings().items["TW-0301"].owner == to
            if fails:
                raise RuntimeError

    with pytest.raises(RuntimeError):
        moved("tool store 8", True)
    assert services.holdings() == before
    moved("tool store 9", False)
    held = services.holdings()
    assert held.items["TW-0301"].owner == "tool store 9"
    assert [e.text("what") for e in held.entries["TW-0301"]] == ["tool store 9"]


def test_what_changed_says_what_it_was(store: Path) -> None:
    services.withdraw_certificate("TM-0051", "KNC-26-0413", "called back", AUTHOR)
    said = [row.what for row in audit.changes().rows]
    assert said[0] == "KNC-26-0413 of TM-0051: called back"
    assert said[1].startswith("KNC-26-0413 of TM-0051, from certificates.toml")
    assert said[3].startswith("equipment.toml: TW-0301, HW-0041")
    assert audit.tool("RS-0001").serial == "RS-0001"


def test_certificates_go_with_the_bundle_of_a_joint(store: Path, tmp_path: Path) -> None:
    furnish()
    text = changed(scenario.joint_text("kn-cw-008"), ('allowed = [', 'allowed = ["CH-0007", '))
    services.add_joint(text, "j.toml", AUTHOR)
    assert [f.data["number"] for f in equipment.certificate_facts(["CH-0007"])] == ["KNC-26-0412", "KNC-26-0413"]
    path = services.export_bundle("KN-CW-008", tmp_path / "b.zip")
    checked = verify(path)
    assert checked.ok
    kinds = [f.kind for f in Fact.objects.all()]
    assert kinds.count(CERTIFICATE) == 2
    assert any(facts_of(CERTIFICATE)[0].data["raw"] in name for name in zipfile.ZipFile(path).namelist())
    services.back_up(tmp_path / "back.tar", AUTHOR)


def test_a_repair_ends_a_calibration_and_a_count_is_taken(store: Path) -> None:
    at = datetime.now(UTC) - timedelta(hours=1)
    services.add_entry("use count", "TW-0301", {"counter": "1350"}, AUTHOR, at=at)
    held = services.holdings()
    today = datetime.now(UTC).date()
    if today >= date(2026, 3, 2):
        assert held.cycles("TW-0301", today) == 150
    services.add_entry("tool repaired", "TW-0301", {"what": "new spring", "adjusted": "yes"}, AUTHOR)
    assert "repair ends the calibration" in services.holdings().events("TW-0301", today)[0]
