"""Carriers from dossier to dossier: the same work twice counts once, on both databases."""

from __future__ import annotations

import hashlib
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from evenpull.carrier import CarrierError, Part, carrier_bytes, read_carrier
from evenpull.demo import scenario
from evenpull.evidence.backup_facts import named_file
from evenpull.evidence.sign import generate
from evenpull.store import services
from evenpull.store.models import Fact
from evenpull.store.services import register
from evenpull.store.services.place import read_raw
from tests.store.samples import AUTHOR, JOINT, MAPPING, furnish, many

SENDER = generate()
KEY = SENDER.public.fingerprint
BASE = (
    Part("tools", "tools.toml", scenario.tools_text().encode()),
    Part("joint", "kn-cw-008.toml", scenario.joint_text("kn-cw-008").encode()),
    Part("mapping", "log.toml", scenario.mapping_text("semicolon-log").encode()),
)


def carrier(*parts: Part) -> bytes:
    return carrier_bytes(parts, subject="gallery 3", by=AUTHOR, at=datetime(2026, 3, 19, tzinfo=UTC), key=SENDER)


def records(count: int, name: str = "monday.csv", mapping: str = MAPPING) -> Part:
    return Part("records", name, many(count), mapping)


def standings(row: services.CarrierRow) -> list[str]:
    return [part.standing for part in row.parts]


def test_taken_in_again_nothing_is_counted_twice(anywhere: Path) -> None:
    data = carrier(*BASE, records(3))
    assert standings(services.look_into(data, KEY)) == ["new"] * 4
    assert Fact.objects.count() == 0
    row = services.carry_in(data, AUTHOR, KEY)
    assert row.written and standings(row) == ["new"] * 4
    count, pulls = Fact.objects.count(), Fact.objects.filter(kind="tightening").count()
    assert pulls == 3 and read_raw(row.sha256) == data
    again = services.carry_in(data, AUTHOR, KEY)
    assert not again.written and standings(again) == ["known"] * 4 and Fact.objects.count() == count
    # Another carrier with the same records: one fact says that it came, and no record is added.
    more = services.carry_in(carrier(*BASE[1:], records(3)), AUTHOR, KEY)
    assert standings(more) == ["known"] * 3
    assert Fact.objects.filter(kind="tightening").count() == pulls and Fact.objects.count() == count + 1


def test_an_old_carrier_brings_no_old_revision_back(anywhere: Path) -> None:
    data = carrier(*BASE)
    services.carry_in(data, AUTHOR, KEY)
    services.add_joint(scenario.joint_text("kn-cw-008") + "\n# said again\n", "b.toml", AUTHOR)
    assert standings(services.carry_in(carrier(BASE[1]), AUTHOR, KEY)) == ["known"]
    assert len(register.revisions(JOINT)) == 2


def test_one_part_refused_and_nothing_is_written(anywhere: Path) -> None:
    for bad in (records(3, mapping="no such"), Part("joint", "bad.toml", b'form = "evenpull joint 1"\n')):
        data = carrier(*BASE, bad)
        assert standings(services.look_into(data, KEY)).count("refused") == 1
        with pytest.raises(services.Refused, match="nothing of this carrier was written"):
            services.carry_in(data, AUTHOR, KEY)
        assert Fact.objects.count() == 0
    # Two files that contradict each other are found only while they are written.
    other = Part("records", "b.csv", many(3).replace(b"41,2", b"44,4"), MAPPING)
    with pytest.raises(services.Refused):
        services.carry_in(carrier(*BASE, records(3), other), AUTHOR, KEY)
    assert Fact.objects.count() == 0


def test_another_key_is_refused(anywhere: Path) -> None:
    for key in ("", "00" * 32):
        with pytest.raises(CarrierError, match="sealed by the key"):
            services.carry_in(carrier(*BASE), AUTHOR, key)
    assert Fact.objects.count() == 0


def test_out_of_a_dossier_with_its_texts_and_cards(anywhere: Path) -> None:
    furnish()
    row, pdf = services.issue_card(JOINT, "a4", AUTHOR)
    sheet = Part("typed sheet", "sheet.csv", many(2), MAPPING)
    data = services.carry_out(
        "to gallery 3", AUTHOR, joints=[JOINT], mappings=[MAPPING], cards=[row.serial], tools=True, files=[sheet]
    )
    got = {part.kind: part.data for part in read_carrier(data).parts}
    assert got["joint"] == scenario.joint_text("kn-cw-008").encode() and got["card"] == pdf
    assert got["tools"] == scenario.tools_text().encode() and got["typed sheet"] == many(2)
    assert Fact.objects.order_by("seq").last().kind == "carrier made"
    assert standings(services.carry_in(data, AUTHOR)) == ["known"] * 5 + ["new"]
    with pytest.raises(services.UnknownJoint):
        services.carry_out("x y", AUTHOR, joints=["KN-NO"])


def test_what_was_carried_is_in_back_ups_and_bundles_of_all(anywhere: Path, tmp_path: Path) -> None:
    """Made here and taken in here: two facts about the same bytes, kept once."""
    furnish()
    data = services.carry_out("to gallery 3", AUTHOR, joints=[JOINT])
    services.carry_in(data, AUTHOR)
    sha = hashlib.sha256(data).hexdigest()
    facts = Fact.objects.filter(kind__in=("carrier made", "carrier taken in"))
    assert [named_file(fact.kind, fact.data) for fact in facts] == [sha, sha]
    with zipfile.ZipFile(services.export_bundle(None, tmp_path / "all.zip")) as bundle:
        assert sum(bundle.read(name) == data for name in bundle.namelist()) == 1


def test_curves_travel_with_their_joint_and_mapping(anywhere: Path) -> None:
    from evenpull.store.models import Curve
    from evenpull.store.services import curves_kept
    from tests.store.curve_files import MAPPING_TEXT, NAME, csv_of, simulated

    made = simulated(["none", "none"])
    mapping = Part("curve mapping", "traces.toml", MAPPING_TEXT.encode())
    curves = Part("curves", "traces.csv", csv_of(made, [1, 2]), NAME, JOINT)
    data = carrier(*BASE, mapping, curves)
    assert standings(services.look_into(data, KEY)) == ["new"] * 5 and Fact.objects.count() == 0
    assert standings(services.carry_in(data, AUTHOR, KEY)) == ["new"] * 5
    (row,) = curves_kept.files(JOINT)
    assert read_raw(row.sha256) == curves.data and Curve.objects.count() == 2
    count = Fact.objects.count()
    assert not services.carry_in(data, AUTHOR, KEY).written and Fact.objects.count() == count
    again = services.carry_in(carrier(curves), AUTHOR, KEY)
    assert standings(again) == ["known"] and Curve.objects.count() == 2
    for bad in (Part("curves", "a.csv", csv_of(made[:1], [5]).replace(b";1;1\n", b"\n", 1), NAME, JOINT),
                Part("curves", "b.csv", csv_of(made[:1], [6]), NAME, "KN-XX-999"),
                Part("curves", "c.csv", csv_of(made[:1], [7]), "none such", JOINT)):
        with pytest.raises(services.Refused, match="nothing of this carrier"):
            services.carry_in(carrier(bad), AUTHOR, KEY)
    for bad in (Part("curves", "a.csv", b"x", NAME), Part("curves", "a.csv", b"x", "", JOINT),
                Part("curves", "a.parquet", b"PAR1", NAME, JOINT), Part("curves", "a.parquet", b"no", "", JOINT),
                Part("scan", "a.pdf", b"%PDF-", "", JOINT)):
        with pytest.raises(CarrierError):
            carrier(bad)
    assert Curve.objects.count() == 2
