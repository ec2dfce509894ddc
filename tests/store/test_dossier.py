"""From a joint to a signed release through the services, on both databases, with the scenario's own files."""

from __future__ import annotations

import json
import zipfile
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenpull.card import parse_serial
from evenpull.demo import scenario
from evenpull.demo.generate import scenario_plans
from evenpull.demo.story import record_files
from evenpull.evidence import canonical, read_public_key, verify
from evenpull.plan import SpecificationError
from evenpull.store import services
from evenpull.store.models import Fact
from tests.store.samples import AUTHOR, JOINT, MAPPING, furnish, many

HALL = "machine-hall-2026-03-23.xlsx"
WORDS = "Tightened, checked and recorded as specified."


@pytest.fixture
def hall(anywhere: Path) -> Path:
    """The bearing housing, all of whose pulls are good, and the gearbox cover, one of whose bolts gave way."""
    furnish("kn-bh-021", "kn-gb-006")
    services.add_mapping(scenario.mapping_text("bench-book"), "bench-book.toml", AUTHOR)
    record = next(f for f in record_files(scenario_plans()) if f.name == HALL)
    services.commit_file(record.name, record.data, record.mapping, AUTHOR)
    return anywhere


def test_a_joint_is_revised_and_its_history_stays(anywhere: Path) -> None:
    furnish()
    text = scenario.joint_text("kn-cw-008")
    size = Fact.objects.count()
    again = services.add_joint(text, "kn-cw-008.toml", AUTHOR)
    assert again.id == JOINT and not again.changed and Fact.objects.count() == size
    revision = services.joint(JOINT).spec.source.revision
    newer = text.replace(f'revision = "{revision}"', 'revision = "Z"')
    assert newer != text
    assert services.add_joint(newer, "new.toml", AUTHOR).changed
    assert services.joint(JOINT).spec.source.revision == "Z"
    # Back to the earlier text: that is a third fact, not a silent return to the first.
    assert services.add_joint(text, "kn-cw-008.toml", AUTHOR).changed
    history = services.joint(JOINT).revision_history
    assert [r.revision for r in history] == [revision, "Z", revision]
    assert history[0].digest == history[2].digest != history[1].digest


def test_a_faulty_joint_leaves_nothing(anywhere: Path) -> None:
    furnish()
    size = Fact.objects.count()
    with pytest.raises(SpecificationError, match=r"M10\.5"):
        services.add_joint(scenario.joint_text("kn-cw-014").replace('"M24"', '"M10.5"'), "x.toml", AUTHOR)
    with pytest.raises(SpecificationError):
        services.add_tools("form = 'evenpull tools 1'\n", "x.toml", AUTHOR)
    assert Fact.objects.count() == size and [j.id for j in services.joints()] == [JOINT]


def test_a_renewed_certificate_is_a_further_entry(anywhere: Path) -> None:
    furnish()
    before = services.tools()
    serial, old = before[0].serial, before[0].certificate
    renewed = scenario.tools_text().replace(f'certificate = "{old}"', 'certificate = "KNC-27-0001"')
    services.add_tools(renewed, "tools.toml", AUTHOR)
    assert {t.certificate for t in services.tools() if t.serial == serial} == {old, "KNC-27-0001"}
    assert len(services.tools()) == len(before) + 1
    size = Fact.objects.count()
    services.add_tools(renewed, "tools.toml", AUTHOR)
    assert Fact.objects.count() == size


def test_an_unknown_joint_names_near_ones(anywhere: Path) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    with pytest.raises(services.UnknownJoint, match="KN-CW-014"):
        services.joint("KN-CW-041")
    for call in (
        lambda: services.issue_card("KN-CW-041", "a4", AUTHOR),
        lambda: services.dispose("KN-CW-041", "x", "redo", "because of that", AUTHOR),
        lambda: services.sign_release("KN-CW-041", AUTHOR, WORDS),
        lambda: services.release_pdf("KN-CW-041"),
    ):
        with pytest.raises(services.UnknownJoint):
            call()


def test_summaries_come_out_the_same_and_follow_the_facts(anywhere: Path) -> None:
    furnish("kn-cw-008", "kn-cw-014")
    first = services.joints()
    assert [s.id for s in first] == ["KN-CW-008", "KN-CW-014"] and services.joints() == first
    assert first[0].records == 0 and first[0].state == "not released" and first[0].reasons
    services.commit_file("a.csv", many(8), MAPPING, AUTHOR)
    second = services.joints()
    assert second[0].records == 8 and second[1] == first[1]
    view = services.joint(JOINT)
    assert second[0].planned == len(view.proof.cells)
    assert second[0].accepted == sum(c.verdict == "accepted" for c in view.proof.cells)
    assert second[0].reasons == view.decision.reasons


def test_cards_are_numbered_and_kept_to_the_byte(anywhere: Path) -> None:
    furnish()
    first, pdf = services.issue_card(JOINT, "a4", AUTHOR)
    second, other = services.issue_card(JOINT, "us-letter", AUTHOR, hours_valid=8)
    assert first.serial != second.serial and pdf != other
    assert parse_serial(second.serial).number == parse_serial(first.serial).number + 1
    assert services.card_pdf(first.serial) == pdf and services.card_pdf(second.serial) == other
    assert first.serial in "".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert second.valid_until - second.issued_at == timedelta(hours=8)
    assert [c.serial for c in services.joint(JOINT).cards] == [first.serial, second.serial]
    size = Fact.objects.count()
    for paper, hours in (("a5", 48), ("a4", 0), ("a4", 10_000)):
        with pytest.raises(services.Refused):
            services.issue_card(JOINT, paper, AUTHOR, hours_valid=hours)
    with pytest.raises(services.Refused):
        services.issue_card(JOINT, "a4", AUTHOR, tools=("TW-9999",))
    with pytest.raises(services.Unknown):
        services.card_pdf("KN-CW-008-0000-00")
    assert Fact.objects.count() == size


def test_a_decision_on_a_flag_needs_its_reason_and_a_person(hall: Path) -> None:
    joint = "KN-GB-006"
    view = services.joint(joint)
    flag = next(f for f in view.proof.open_flags if f.code == "angle out of window")
    size = Fact.objects.count()
    for action, reason, author in (
        ("ignore", "because of that", AUTHOR), ("replace", " ", AUTHOR), ("replace", "because of that", ""),
    ):  # fmt: skip
        with pytest.raises(services.Refused):
            services.dispose(joint, flag.key, action, reason, author)
    with pytest.raises(services.Refused):
        services.dispose(joint, "no such flag", "replace", "because of that", AUTHOR)
    assert Fact.objects.count() == size
    services.dispose(joint, flag.key, "replace", "Bolt and nut 7 replaced from lot KL-7750", "T. Abernethy-Voss")
    after = services.joint(joint)
    (given,) = after.proof.dispositions
    assert (given.flag_key, given.action, given.by) == (flag.key, "replace", "T. Abernethy-Voss")
    assert abs(given.at - datetime.now(UTC)) < timedelta(minutes=5)
    assert len(Fact.objects.filter(kind="disposition")) == 1


def test_a_release_is_signed_kept_and_proven(hall: Path, tmp_path: Path) -> None:
    joint = "KN-BH-021"
    view = services.joint(joint)
    assert view.decision.signable, view.decision.reasons
    draft = services.release_pdf(joint)
    assert "DRAFT" in PdfReader(BytesIO(draft)).pages[0].extract_text()
    row = services.sign_release(joint, "T. Abernethy-Voss", WORDS)
    assert (row.state, row.author, row.statement) == (view.decision.state, "T. Abernethy-Voss", WORDS)
    assert services.joint(row.joint).covers(row)
    kept = services.release_pdf(joint, row.id)
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(kept)).pages)
    assert "T. Abernethy-Voss" in text and "DRAFT" not in text
    assert [r.id for r in services.joint(joint).releases] == [row.id]
    with pytest.raises(services.Unknown):
        services.release_pdf(joint, "no such release")
    for author, statement in (("", WORDS), ("T. Abernethy-Voss", "yes")):
        with pytest.raises(services.Refused):
            services.sign_release(joint, author, statement)

    services.issue_card(joint, "a4", AUTHOR)
    path = services.export_bundle(joint, tmp_path / "b.zip")
    found = verify(path, services.log_status().key_id)
    assert found.ok, found.lines
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        facts = [json.loads(line) for line in archive.read("facts.jsonl").splitlines()]
        key = read_public_key(archive.read("key.pem"))
        reports = [archive.read(name) for name in names if name.startswith("reports/release")]
        raw = [archive.read(name) for name in names if name.startswith("raw/")]
    assert reports == [kept]
    assert raw == [next(f.data for f in record_files(scenario_plans()) if f.name == HALL)]
    kinds = {fact["fact"]["kind"] for fact in facts}
    assert {"specification", "tool register", "mapping", "file", "tightening", "card", "release"} <= kinds
    assert {fact["fact"]["joint"] for fact in facts} == {"", joint}
    # The signature over the release holds with nothing but what is in the bundle.
    body = next(fact["fact"]["body"] for fact in facts if fact["fact"]["kind"] == "release")
    assert key.signed(bytes.fromhex(body["signature"]), canonical(body["signed"]))
    assert body["signed"]["state"] == row.state and body["signed"]["signer"] == "T. Abernethy-Voss"
    assert not key.signed(bytes.fromhex(body["signature"]), canonical(body["signed"] | {"state": "released!"}))


def test_what_stands_against_a_joint_cannot_be_signed_away(hall: Path) -> None:
    view = services.joint("KN-GB-006")
    assert not view.decision.signable
    size = Fact.objects.count()
    with pytest.raises(services.Refused, match="cannot be signed"):
        services.sign_release("KN-GB-006", AUTHOR, WORDS)
    assert Fact.objects.count() == size


def test_a_release_says_when_facts_came_after_it(hall: Path) -> None:
    joint = "KN-BH-021"
    row = services.sign_release(joint, AUTHOR, WORDS)
    services.commit_file("late.csv", many(1, joint=joint, tool="TW-0241"), MAPPING, AUTHOR)
    (after,) = services.joint(joint).releases
    assert after.id == row.id and not services.joint(after.joint).covers(after)
    assert services.release_pdf(joint, row.id)
