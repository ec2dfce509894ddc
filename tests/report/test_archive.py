"""The report as a file that can still be read in thirty years: marks of PDF/A-3b (ISO 19005-3) and PDF/UA-1.

Clause numbers of ISO 19005-3 are from memory, not re-read. No validator is at hand; what the file must carry is read
back with pypdf. Typst itself refuses to write what the two standards forbid.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict, fields
from datetime import datetime
from hashlib import sha256
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from evenpull.intake.record import Tightening, UnreadRow
from evenpull.report import TypesettingError, records_csv, records_json, release_report
from tests.report import fixture
from tests.report.readback import attachments, content_and_files, identification, pages


@pytest.fixture(scope="module")
def made() -> tuple[Any, bytes]:
    parts = fixture.troubled(fixture.plan())
    return parts, release_report(*parts)


def test_identification(made: tuple[Any, bytes]) -> None:
    assert identification(made[1]) == {"part": "3", "conformance": "B", "ua": "1"}


def test_catalogue_of_the_file(made: tuple[Any, bytes]) -> None:
    reader = PdfReader(io.BytesIO(made[1]))
    root: Any = reader.trailer["/Root"]
    assert made[1].startswith(b"%PDF-1.7")
    assert root["/Lang"].lower() == "en-gb"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/StructTreeRoot"]["/K"]
    assert not reader.is_encrypted
    intents = [intent.get_object() for intent in root["/OutputIntents"]]
    assert any(i["/S"] == "/GTS_PDFA1" and len(i["/DestOutputProfile"].get_object().get_data()) > 100 for i in intents)
    assert reader.metadata is not None
    assert "KN-CW-014" in (reader.metadata.title or "")
    for forbidden in (b"/JavaScript", b"/Launch", b"/OpenAction"):
        assert forbidden not in made[1]


def test_every_font_is_inside_the_file(made: tuple[Any, bytes]) -> None:
    reader = PdfReader(io.BytesIO(made[1]))
    seen = set()
    for page in reader.pages:
        resources: Any = page["/Resources"]
        for font in resources.get("/Font", {}).values():
            for inner in font.get_object().get("/DescendantFonts", [font]):
                descriptor = inner.get_object()["/FontDescriptor"]
                assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor.keys())
                seen.add(descriptor["/FontName"])
            assert "/ToUnicode" in font.get_object()
    assert len(seen) >= 2


def test_attachments_say_what_they_are(made: tuple[Any, bytes]) -> None:
    root: Any = PdfReader(io.BytesIO(made[1])).trailer["/Root"]
    found = {one.get_object()["/UF"]: one.get_object() for one in root["/AF"]}
    assert set(found) == {"records.csv", "records.json", "proof.json", "specification.toml"}
    for one in found.values():
        assert one["/AFRelationship"] == "/Data"
        assert one["/Desc"]
        assert "/Subtype" in one["/EF"]["/F"]


def test_attachments_are_the_data(made: tuple[Any, bytes]) -> None:
    (plan, proof, decision, context), pdf = made
    _, files = content_and_files(plan, proof, decision, context)
    found = attachments(pdf)
    assert found == {name: text.encode() for name, text in files.items()}
    text = " ".join(pages(pdf))
    for data in found.values():
        assert sha256(data).hexdigest() in text  # the digests printed are those of what is attached
    assert found["specification.toml"].decode() == plan.spec.text


def _read_csv(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_csv_holds_every_field_of_every_record(made: tuple[Any, bytes]) -> None:
    (_, proof, _, context), pdf = made
    rows = _read_csv(attachments(pdf)["records.csv"].decode())
    assert len(rows) == len(context.tightenings) == 63
    named = {"torque": "torque_N.m", "angle": "angle_rad", "time": "time_UTC"}
    for row, record in zip(rows, context.tightenings, strict=True):
        assert row["key"] == record.key
        for field in fields(Tightening):
            value, cell = getattr(record, field.name), row[named.get(field.name, field.name)]
            if value is None:
                assert cell == ""
            elif isinstance(value, float):
                assert float(cell) == value
            elif isinstance(value, datetime):
                assert datetime.fromisoformat(cell) == value
            elif field.name == "particulars":
                assert json.loads(cell) == {name: asdict(one) for name, one in value.items()}
            elif field.name in ("received_cells", "remarks"):
                assert json.loads(cell) == (dict(value) if field.name == "received_cells" else list(value))
            else:
                assert cell == str(value)
    out = [row for row in rows if row["verdict"] == "not accepted"]
    assert [(row["fastener"], row["cell_pass"], row["torque_text"]) for row in out] == [("5", "3", "471,5")]
    assert any(key.startswith("out of window") for key in json.loads(out[0]["flags"]))
    assert sum(row["proves"] == "yes" for row in rows) == sum(cell.proving is not None for cell in proof.cells)


def test_json_holds_unread_rows_and_the_decision(made: tuple[Any, bytes]) -> None:
    (_, proof, decision, context), pdf = made
    found = attachments(pdf)
    records = json.loads(found["records.json"])
    assert [row["raw"] for row in records["unread"]] == [row.raw for row in context.unread]
    assert [row["torque"] for row in records["tightenings"]] == [r.torque for r in context.tightenings]
    content = json.loads(found["proof.json"])
    assert content["decision"]["state"] == decision.state
    assert content["decision"]["reasons"] == list(decision.reasons)
    assert len(content["proof"]["cells"]) == len(proof.cells) == 64
    assert {f["key"] for f in content["proof"]["flags"]} == {f.key for f in proof.flags}
    assert content["proof"]["open_flags"] == [f.key for f in proof.open_flags]
    assert [d["reason"] for d in content["proof"]["dispositions"]] == [d.reason for d in proof.dispositions]


_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


@settings(max_examples=60, deadline=None)
@given(operator=_TEXT, text=_TEXT, cells=st.dictionaries(_TEXT, _TEXT, max_size=3), raw=_TEXT,
       torque=st.floats(allow_nan=False, allow_infinity=False))  # fmt: skip
def test_any_text_comes_back_from_the_tables(
    operator: str, text: str, cells: dict[str, str], raw: str, torque: float
) -> None:
    plan = fixture.plan(2, "[100]", 0)
    record = fixture.record(plan, 1, 1, torque, fixture.DAY, 1, operator=operator, torque_text=text,
                            received_cells=cells)  # fmt: skip
    proof = fixture.proof(plan, [record])
    (row,) = _read_csv(records_csv([record], proof))
    assert (row["operator"], row["torque_text"], json.loads(row["received_cells"])) == (operator, text, cells)
    assert float(row["torque_N.m"]) == torque
    unread = UnreadRow(fixture.FILE, 1, raw, "x", raw, "")
    back = json.loads(records_json([record], [unread], proof))
    assert back["tightenings"][0]["operator"] == operator
    assert back["unread"][0]["raw"] == raw


def test_same_input_same_bytes(made: tuple[Any, bytes]) -> None:
    parts, pdf = made
    assert release_report(*parts) == pdf


def test_another_value_gives_another_report_id() -> None:
    plan = fixture.plan(4)
    ids = []
    for torque in (520.0, 520.1):
        records = fixture.pulls(plan)
        records[0] = fixture.record(plan, 1, 1, torque, fixture.DAY, 1)
        parts = (plan, fixture.proof(plan, records), fixture.RELEASED, fixture.context(plan, records))
        ids.append(content_and_files(*parts)[0]["id"])
    assert ids[0] != ids[1]


def test_typesetting_errors_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from evenpull.report import release

    monkeypatch.setattr(release, "inputs_of", lambda content, attached: {"report": "{", "attached": "[]"})
    with pytest.raises(TypesettingError, match="JSON"):
        release_report(*fixture.troubled(fixture.plan(16)))
