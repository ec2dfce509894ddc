"""Commands of the tool keeper, from an empty file to what is due."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.calling import call
from tests.equipment.files import CERTIFICATES, EQUIPMENT, MAPPING, TABLE, certificate, point
from tests.store.samples import many

BY = ("--by", "E. Brandvold")
SHEET = "Tidewater Metrology, torque sheet"


@pytest.fixture
def desk(dossier: Path, tmp_path: Path) -> Path:
    """A folder with files of the store; register, certificates and mapping are in the dossier."""
    folder = tmp_path / "files"
    folder.mkdir()
    for name, text in (("e.toml", EQUIPMENT), ("c.toml", CERTIFICATES), ("m.toml", MAPPING), ("t.csv", TABLE)):
        (folder / name).write_text(text, encoding="utf-8")
    call("add", folder / "e.toml", folder / "c.toml", folder / "m.toml", *BY)
    return folder


def test_files_to_start_from_are_added_as_they_are(dossier: Path, tmp_path: Path) -> None:
    for kind in ("equipment", "certificates", "certificate-mapping"):
        path = tmp_path / f"{kind}.toml"
        assert f"evenpull add {path}" in call("new", kind, "--out", path).stdout
        assert "written" in call("add", path, *BY).stdout
    assert "as it was, nothing written" in call("add", tmp_path / "equipment.toml", *BY).stdout
    assert "TW-0301" in call("tools", "list").stdout


def test_list_and_one(desk: Path) -> None:
    out = call("tools", "list", "--find", "multiplier").stdout
    assert "CH-0007: Multiplier chain, assembly, TW-0301 + TM-0051" in out and "AG-0003" not in out
    assert "No tool fits" in call("tools", "list", "--find", "nothing").stdout
    out = call("tools", "list", "--which", "not to be used", "--day", "2026-04-15").stdout
    assert "RS-0001" in out and "there is no certificate" in out and "TM-0051:" not in out
    out = call("tools", "show", "TW-0301", "--day", "2026-04-15").stdout
    assert "type I class B" in out and "deviation +5.00 %" in out and "probability of conformity 4.78 %" in out
    assert "form of the errors: slope" in out and "12 months, 5000 cycles" in out
    assert json.loads(call("tools", "show", "TM-0051", "--json").stdout)["item"]["part"]["strongest"] == 2700
    assert json.loads(call("tools", "list", "--json").stdout)[0]["serial"] == "AD-0007"
    assert "near: TW-0301" in call("tools", "show", "TW-0302", code=2).stderr
    assert "is not a day" in call("tools", "list", "--day", "soon", code=2).stderr


def test_what_is_due_ends_with_one_while_anything_may_not_be_used(desk: Path) -> None:
    out = call("tools", "due", "--day", "2027-02-01", code=1).stdout
    assert "never calibrated RS-0001" in out and "2027-03-01 TM-0051 Torque multiplier: certificate KNC-26-0413" in out
    assert json.loads(call("tools", "due", "--json", code=1).stdout)


def test_a_table_is_shown_then_written_then_withdrawn(desk: Path) -> None:
    (desk / "one.toml").write_text('form = "evenpull certificates 1"\n' + certificate(
        "CD-0001", "D-1", points=point("as found", 100, 100, "either")), encoding="utf-8")
    table = (desk / "t.csv", "-m", SHEET, "--set", "valid_until=2027-03-01")
    out = call("tools", "certificate", *table).stdout
    assert "certificate TDM 4410: 2026-03-02 to 2027-03-01" in out and "Nothing was written" in out
    assert "overlaps with KNC-26-0412" in out
    assert "overlaps with KNC-26-0412" in call("tools", "certificate", *table, *BY, code=2).stderr
    call("tools", "withdraw", "TW-0301", "KNC-26-0412", "--why", "entered twice", *BY)
    assert "TDM 4410 of TW-0301 written" in call("tools", "certificate", *table, *BY).stdout
    assert "as it was, nothing written" in call("tools", "certificate", *table, *BY).stdout
    assert "D-1 of CD-0001 written" in call("add", desk / "one.toml", *BY).stdout
    assert "--set: 'x' is not KEY=VALUE" in call("tools", "certificate", *table, "--set", "x", code=2).stderr
    assert "no certificate mapping" in call("tools", "certificate", desk / "t.csv", "-m", "none", code=2).stderr
    (desk / "bad.csv").write_text(TABLE.replace("117,6", "-117,6"), encoding="utf-8")
    bad = call("tools", "certificate", desk / "bad.csv", *table[1:], code=2).stderr
    assert "bad.csv:8: column 'Reference': nominal, indicated and reference have different signs" in bad


def test_records_before_the_first_certificate_are_told_at_intake_and_when_it_comes(desk: Path, tmp_path: Path) -> None:
    from evenpull.store import services
    from tests.store.samples import AUTHOR, furnish

    furnish()
    (desk / "p.csv").write_bytes(many(3, tool="CD-0001") + many(2, start=9, tool="TW-0301").split(b"\r\n", 1)[1]
                                 + many(1, start=20, tool="NX-9").split(b"\r\n", 1)[1])
    seen = call("preview", desk / "p.csv", "-m", "store log, semicolons").stdout
    assert "tool: CD-0001 has no certificate" in seen and "tool: NX-9 stands in no register of tools" in seen
    assert "TW-0301" not in seen.split("received before")[1]  # used on 17 March, certified since 2 March
    call("import", desk / "p.csv", "-m", "store log, semicolons", *BY)
    later = certificate("CD-0001", "D-1", points=point("as found", 100, 100, "either")).replace(
        "calibrated = 2026-03-02", "calibrated = 2026-03-20")
    services.add_certificates('form = "evenpull certificates 1"\n' + later, "c", AUTHOR)
    from evenpull.store.services.tools_used import used_before

    (line,) = used_before(["CD-0001"])
    assert line == ("CD-0001: 3 tightenings on record before 2026-03-20, when its first certificate D-1 begins, are "
                    "covered by none")
    early = many(1, start=40, tool="CD-0001")
    (desk / "q.csv").write_bytes(early)
    again = call("preview", desk / "q.csv", "-m", "store log, semicolons").stdout
    assert "tool: CD-0001 was used before 2026-03-20, when its first certificate D-1 begins" in " ".join(again.split())
