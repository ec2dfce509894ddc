"""The pages of the tool keeper: looked at, typed in, read from a table, refused with the fault beside its field."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import instruments
from tests.equipment.files import CERTIFICATES, EQUIPMENT, HYDRAULIC, MAPPING, TABLE, WITH_READINGS, certificate, point
from tests.store.people import HEADERS
from tests.store.samples import AUTHOR, furnish

FORM = 'form = "evenpull certificates 1"\n'
MAPPED = "Tidewater Metrology, torque sheet"


@pytest.fixture
def client(dossier: Path) -> Client:
    services.add_equipment(EQUIPMENT, "equipment.toml", AUTHOR)
    services.add_certificates(CERTIFICATES + HYDRAULIC, "certificates.toml", AUTHOR)
    services.add_certificate_mapping(MAPPING, "m.toml", AUTHOR)
    found = Client(**HEADERS)
    found.post("/who/", {"name": AUTHOR, "next": "/"})
    return found


def text(response: Any) -> str:
    return re.sub(r"\s+", " ", str(response.content.decode()))


def test_the_list_shows_what_may_not_be_used(client: Client) -> None:
    furnish()
    page = text(client.get("/equipment/"))
    for serial in ("TW-0301", "CH-0007", "HS-0041", "RS-0001", "TW-0207"):
        assert f">{serial}</a>" in page
    assert "there is no certificate" in page and "torque per pressure" not in page
    found = text(client.get("/equipment/?q=tw-0301"))
    assert ">TW-0301</a>" in found and ">RS-0001</a>" not in found
    services.add_entry("tool blocked", "HW-0041", {}, AUTHOR, reason="leaks at the swivel")
    barred = text(client.get("/equipment/?which=not+to+be+used"))
    assert "HW-0041: blocked since" in barred and "leaks at the swivel" in barred and ">HG-0041</a>" not in barred
    assert ">TM-0051</a>" not in text(client.get("/equipment/?which=assembly"))
    assert "Nothing fits" in text(client.get("/equipment/?q=nothing"))


def test_one_instrument_says_everything(client: Client) -> None:
    services.add_entry("shift check", "TW-0301", {
        "set": "100 N.m", "device_value": "99 N.m", "device": "CD-0001", "result": "within limits"}, AUTHOR)
    services.add_entry("tool repaired", "TW-0301", {"what": "new pointer", "adjusted": "yes"}, AUTHOR)
    page = text(client.get("/instruments/TW-0301/"))
    for said in ("type I class B", "KN-Q-011", "KNC-26-0412", "+5.00 %", "not within the permissible deviation",
                 "the error grows with the value", "4.8 %", "above 99.99 %", "Welch and Satterthwaite", "new pointer",
                 "99 N.m", "CF-0007", "repair ends the calibration", "1200", "<svg"):
        assert said in page, said
    chain = text(client.get("/instruments/CH-0007/"))
    assert "13.2" in chain and "ratio of multiplier TM-0051" in chain and "TW-0301: repaired" in chain
    assert "TM-0051" in text(client.get("/instruments/RS-0001/"))  # calibrated with it
    assert "Shift checks on this device" in text(client.get("/instruments/CD-0001/"))
    assert client.get("/instruments/NX-1/").status_code == 404
    assert "near: TW-0301" in text(client.get("/instruments/TW-030/"))


def test_an_iso_6789_budget_is_shown_with_its_degrees_of_freedom(client: Client) -> None:
    """W = 1.36 %, 124 effective degrees of freedom, k = 2.02 asked; the stated budget 1.03 % with 19 (as worked by
    hand in tests/equipment)."""
    services.withdraw_certificate("TW-0301", "KNC-26-0412", "typed in again", AUTHOR)
    services.add_certificates(WITH_READINGS.replace("KNC-26-0412", "B-1"), "c.toml", AUTHOR)
    page = text(client.get("/instruments/TW-0301/"))
    assert "Budget after ISO 6789-2 at 100 N·m" in page and "1.36 %" in page and "k = 2.02" in page
    assert "<strong>124</strong>" in page and "<strong>19</strong>" in page


def typed(**changed: str) -> dict[str, str]:
    """A certificate as a person fills it in; rows 0 to 2 as found, the rest left empty."""
    fields = {
        "head.serial": "CD-0001", "head.number": "TDM 77", "head.calibrated": "2026-03-05",
        "head.valid_until": "2027-03-04", "head.laboratory": "Tidewater Metrology", "head.standards": "RS-0001",
        "head.unit": "N.m", "head.permissible": "1", "head.rule": "simple acceptance", "head.k": "2",
    }  # fmt: skip
    for at, (nominal, reference) in enumerate(((100, "100,2"), (300, "299,5"), (500, "500"), (600, ""))):
        row = {"stage": "as found", "direction": "either", "nominal": str(nominal), "reference": reference,
               "uncertainty": "0,3" if reference else ""}
        fields |= {f"point.{at}.{name}": value for name, value in row.items()}
    return fields | changed


def test_a_certificate_is_typed_looked_at_and_written(client: Client) -> None:
    empty = text(client.get("/equipment/new-certificate/?serial=TW-0301"))
    assert 'value="40"' in empty and 'value="120"' in empty and empty.count("anticlockwise</option>") == 12
    size = Fact.objects.count()
    seen = client.post("/equipment/new-certificate/", typed(act="look"))
    assert seen.status_code == 200 and "TDM 77 of CD-0001, as it would be kept" in text(seen)
    assert text(seen).count(">conforms</span>") == 3 and Fact.objects.count() == size
    assert 'name="point.3.nominal" value="600"' in text(seen)  # what was typed stays
    done = client.post("/equipment/new-certificate/", typed(act="write"), follow=True)
    assert "Certificate TDM 77 of CD-0001: written." in text(done) and Fact.objects.count() == size + 1
    (one,) = services.holdings().calibrations["CD-0001"]
    assert [p.reference for p in one.certificate.points] == [100.2, 299.5, 500.0]
    again = client.post("/equipment/new-certificate/", typed(act="write"), follow=True)
    assert "stands there already, and nothing was written" in text(again) and Fact.objects.count() == size + 1


@pytest.mark.parametrize(("changed", "says"), [
    ({"point.1.nominal": "90"}, "Row 2: nominal: point 2: 90 is out of order"),
    ({"point.1.reference": "-300"}, "Row 2: reference: point 2: nominal, indicated and reference have different signs"),
    ({"head.calibrated": "5.3.2026"}, "is not a date"),
    ({"head.valid_until": ""}, "neither the last day nor an interval"),
    ({"head.unit": "clicks"}, "is not known"),
    ({"point.0.uncertainty": ""}, "Row 1: uncertainty: uncertainty is missing"),
    ({"contribution.0.symbol": "w_md", "contribution.0.value": "x", "contribution.0.distribution": "standard"},
     "value:"),
    ({"limit.0.range": "90 N.m", "limit.0.reason": "worn"}, "range: "),
])
def test_a_fault_stands_beside_its_field(client: Client, changed: dict[str, str], says: str) -> None:
    size = Fact.objects.count()
    page = client.post("/equipment/new-certificate/", typed(act="write", **changed))
    assert page.status_code == 422 and says in text(page) and Fact.objects.count() == size
    assert 'name="point.2.reference" value="500"' in text(page)


def test_doubts_corrections_and_overlaps_are_asked(client: Client) -> None:
    doubtful = typed(**{"point.2.reference": "320"})
    seen = text(client.post("/equipment/new-certificate/", doubtful | {"act": "look"}))
    assert "I have compared them with the certificate" in seen and "+56.2" in seen
    page = client.post("/equipment/new-certificate/", doubtful | {"act": "write"})
    assert page.status_code == 422 and "to be confirmed before it is written" in text(page)
    client.post("/equipment/new-certificate/", doubtful | {"act": "write", "confirmed": "yes"})
    assert len(services.holdings().calibrations["CD-0001"]) == 1
    seen = text(client.post("/equipment/new-certificate/", typed(act="look")))
    assert "Why the certificate that stands there is corrected" in seen
    client.post("/equipment/new-certificate/", typed(act="write", why="the last point was a slip of the pen"))
    (one,) = services.holdings().calibrations["CD-0001"]
    assert one.certificate.points[2].reference == 500.0
    page = client.post("/equipment/new-certificate/", typed(act="write", **{"head.number": "TDM 78"}))
    assert page.status_code == 422 and "overlaps with TDM 77" in text(page)


def test_more_rows_keep_what_is_typed(client: Client) -> None:
    page = text(client.post("/equipment/new-certificate/", typed(act="rows")))
    assert 'name="point.9.nominal"' in page and 'name="point.1.reference" value="299,5"' in page


def upload(client: Client, **more: str) -> Any:
    form = {"file": SimpleUploadedFile("t.csv", TABLE.encode()), "mapping": MAPPED, "h:valid_until": "2027-03-01"}
    return client.post("/equipment/certificate-table/", form | more)


def test_a_table_is_looked_at_and_written(client: Client) -> None:
    services.withdraw_certificate("TW-0301", "KNC-26-0412", "entered twice", AUTHOR)
    size = Fact.objects.count()
    seen = upload(client)
    assert seen.status_code == 200 and "TDM 4410 of TW-0301, as it would be kept" in text(seen)
    assert Fact.objects.count() == size
    sha = re.search(r'name="sha256" value="([0-9a-f]{64})"', text(seen))
    assert sha is not None
    form = {"sha256": sha[1], "name": "t.csv", "mapping": MAPPED, "h:valid_until": "2027-03-01"}
    done = client.post("/equipment/certificate-table/commit/", form, follow=True)
    assert "Certificate TDM 4410 of TW-0301: written." in text(done) and "TDM 4410" in text(done)
    raw = re.search(r'href="(/files/[0-9a-f]{64}/raw)"', text(done))
    assert raw is not None and b"".join(client.get(raw[1])) == TABLE.encode()  # type: ignore[arg-type]
    gone = client.post("/equipment/certificate-table/commit/", form, follow=True)
    assert "no longer waiting" in text(gone)


def test_faults_of_a_table_name_row_and_column(client: Client) -> None:
    bad = TABLE.replace("117,6", "117.6").replace("199,0", "x")
    page = client.post("/equipment/certificate-table/", {
        "file": SimpleUploadedFile("t.csv", bad.encode()), "mapping": MAPPED, "h:valid_until": "2027-03-01"})
    assert page.status_code == 422
    assert "was &#x27;.&#x27; the decimal sign" in text(page) and "column &#x27;Reference&#x27;" in text(page)
    assert ">8</td>" in text(page) and ">12</td>" in text(page)
    assert "enter it, or name its place" in text(upload(client, **{"h:valid_until": ""}))
    refused = client.post("/equipment/certificate-table/", {"mapping": MAPPED}, follow=True)
    assert "Choose a file first" in text(refused)
    assert "no certificate mapping" in text(upload(client, mapping="none"))
    overlapping = text(upload(client))
    assert "overlaps with KNC-26-0412" in overlapping and "disabled" in overlapping


def test_a_register_and_a_mapping_are_uploaded(client: Client) -> None:
    new = EQUIPMENT.split("[[multiplier]]")[0].replace("TW-0301", "TW-0399")
    page = client.post("/equipment/", {"file": SimpleUploadedFile("e.toml", new.encode())}, follow=True)
    assert "1 items and 0 assemblies of e.toml: written." in text(page) and ">TW-0399</a>" in text(page)
    wrong = new.replace('unit = "N.m"', 'unit = "clicks"')
    page = client.post("/equipment/", {"file": SimpleUploadedFile("e.toml", wrong.encode())}, follow=True)
    assert "not a unit of torque" in text(page)
    other = MAPPING.replace(MAPPED, "another sheet")
    page = client.post("/equipment/mappings/", {"file": SimpleUploadedFile("m.toml", other.encode())}, follow=True)
    assert "another sheet” written" in text(page) and "<option selected>another sheet" in text(page)


def test_a_certificate_is_withdrawn_with_its_reason(client: Client) -> None:
    form = {"serial": "TW-0301", "number": "KNC-26-0412", "why": ""}
    assert "say why the certificate is withdrawn" in text(
        client.post("/equipment/withdraw-certificate/", form, follow=True))
    done = client.post("/equipment/withdraw-certificate/", form | {"why": "called back by the laboratory"}, follow=True)
    assert "no longer counts for any day" in text(done) and "there is no certificate" in text(done)
    assert client.post("/equipment/withdraw-certificate/", {"serial": "§"}).status_code == 302


def test_what_is_due(client: Client) -> None:
    services.add_equipment(EQUIPMENT.replace("cycles = 5000\n", ""), "e.toml", AUTHOR)
    day = date(2027, 2, 1)
    rows = instruments.due(day, 60)
    assert [(r.serial, str(r.day), r.over) for r in rows if r.serial == "TW-0301"] == [("TW-0301", "2027-03-01", False)]
    assert all(r.over for r in rows if r.day is None) and not [r for r in rows if r.serial == "AD-0007"]
    assert not [r for r in instruments.due(date(2026, 12, 1), 60) if r.serial == "TW-0301"]
    late = {r.serial: r for r in instruments.due(date(2027, 3, 2), 60)}
    assert late["TW-0301"].over and "ran out on 2027-03-01" in late["TW-0301"].why
    page = text(client.get("/equipment/due/?within=3000"))
    assert "never calibrated" in page and ">TM-0051</a>" in page
    assert client.get("/equipment/due/?within=" + "9" * 50).status_code == 200


def test_names_and_notes_are_never_markup(client: Client) -> None:
    script = "<script>alert(1)</script>"
    new = EQUIPMENT.split("[[multiplier]]")[0].replace("TW-0301", "TW-0398").replace(
        "Indicating torque wrench with dial", script).replace("tool store 2", script)
    services.add_equipment(new, f"{script}.toml", AUTHOR)
    services.add_certificates(FORM + certificate("TW-0398", script, more=f'note = "{script}"\n',
                                                 points=point("as found", 100, 99)), "c", AUTHOR)
    services.add_entry("tool dropped", "TW-0398", {"what": script}, AUTHOR)
    for address in ("/equipment/", "/instruments/TW-0398/", "/equipment/due/", "/tools/"):
        page = client.get(address)
        assert page.status_code == 200 and script not in page.content.decode(), address
