"""Curves through back-up, restore and bundle, and through a process that dies in the middle; on both databases."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import pytest

from evenpull.curve.verdicts import ANSWERS
from evenpull.evidence import verify
from evenpull.store import services
from evenpull.store.models import Curve, CurveFile, Fact
from evenpull.store.services import curves_judging as judging
from evenpull.store.services import curves_kept as kept
from evenpull.store.services import curves_learning as learning
from evenpull.store.services import curves_matching as matching
from evenpull.store.services import curves_rejudging as rejudging
from evenpull.store.services import findings, index_check, restoring
from evenpull.store.services.place import read_raw
from tests.store.curve_files import MAPPING_TEXT, STEEL_JOINT, csv_of, simulated
from tests.store.mishandled import BOTH, Base, base_of, drawn, job, killed, nursery, opened
from tests.store.samples import AUTHOR, MAPPING, furnish
from tests.store.test_backup import made, other
from tests.store.test_curves import furnished, records, take

__all__ = ["nursery"]  # a fixture
INDEX = ("file", "number", "fold", "tool", "epoch", "counter", "unit", "fastener", "digest")


def lived() -> list[kept.CurveFileRow]:
    furnished()
    services.commit_file("r.csv", records(range(1, 5)), MAPPING, AUTHOR)
    first = take(csv_of(simulated(["none", "none", "re-hit", "slip"]), range(1, 5)))
    thin = take(csv_of(simulated(["none"] * 34, seed=4, coarse=2), range(11, 45)), "thin.csv", thin=(0.1, 0.5))
    gone = take(csv_of(simulated(["none"], seed=5), [50]), "gone.csv")
    kept.withdraw(gone.seq, "of the bench, not of the joint", AUTHOR)
    learning.learn("cover", [STEEL_JOINT], 1, "for the next unit", AUTHOR)
    rejudging.rejudge(AUTHOR)
    findings.refresh()
    return [first, thin, gone]


@pytest.mark.parametrize("into", ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def test_restored_the_parquet_is_made_again_and_is_the_same(
    anywhere: Path, settings: Any, request: pytest.FixtureRequest, into: str
) -> None:
    rows = lived()
    index = sorted(Curve.objects.values_list(*INDEX))
    names = [judging.judged(row).name for row in rows[:2]]
    before = matching.summary(STEEL_JOINT)
    backup = made(anywhere, "backup", secrets=True)
    assert not list(backup.rglob("*.parquet")), "what is derived is not carried along"
    server = request.getfixturevalue("server") if into == "postgres" else None
    with other(settings, anywhere.parent / "new", server.url(server.create()) if server else "") as home:
        found = restoring.restore(backup, AUTHOR)
        assert found.same == 2 and not found.other
        services.prepare()
        assert sorted(Curve.objects.values_list(*INDEX)) == index and matching.summary(STEEL_JOINT) == before
        for row in rows:
            path = kept.parquet_of(row)
            assert path.is_relative_to(home) and judging.file_sha256(path) == row.parquet_sha256
        assert [judging.judged(row).name for row in rows[:2]] == names
        assert services.check_log() == [] and index_check.differences() == [] and findings.differing() == []
        (report,) = rejudging.reports()
        assert rejudging.changes_of(report).exists()


def test_a_lost_raw_file_makes_no_backup(anywhere: Path) -> None:
    row = lived()[0]
    services.raw_path(row.sha256).unlink()
    with pytest.raises(services.Refused, match=row.sha256):
        made(anywhere)


def test_a_bundle_of_the_joint_carries_its_curves(anywhere: Path) -> None:
    rows = lived()
    for subject in (STEEL_JOINT, None):
        path = services.export_bundle(subject, anywhere / f"{subject}.bundle.zip")
        found = verify(path)
        assert found.ok, found.lines
        with zipfile.ZipFile(path) as bundle:
            held = {name: bundle.read(name) for name in bundle.namelist()}
        for row in rows:
            assert read_raw(row.sha256) in held.values()
        assert any(b'"learned windows"' in data for data in held.values())
        assert any(b'"curve mapping"' in data for data in held.values())
    alone = services.export_bundle("KN-CW-008", anywhere / "other.bundle.zip")
    with zipfile.ZipFile(alone) as bundle:
        assert not any(read_raw(rows[0].sha256) == bundle.read(name) for name in bundle.namelist())


@pytest.fixture(params=BOTH)
def base(request: pytest.FixtureRequest, tmp_path: Path, settings: Any, django_db_blocker: Any) -> Base:
    built = base_of(request, tmp_path)
    built.file.write_bytes(csv_of(simulated(["none", "re-hit", "none"]), [1, 2, 3]))
    with opened(settings, django_db_blocker, built.home, built.address) as store:
        store.prepare()
        furnish("kn-gb-006")
        kept.add_mapping(MAPPING_TEXT, "traces.toml", AUTHOR)
    return built


@pytest.mark.slow
def test_killed_at_any_moment_all_is_there_or_nothing(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    with base.copy() as (home, address):
        (answer,) = nursery(job(home, address, base.file, act="curves"))
        moments = answer["told"]["moments"]
    for last in sorted({1, *range(2, moments, max(1, moments // drawn(24))), moments - 1, moments}):
        with base.copy() as (home, address):
            (answer,) = nursery(job(home, address, base.file, act="curves", last=last))
            dead = killed(answer)
            with opened(settings, django_db_blocker, home, address) as store:
                store.prepare()
                assert store.check_log() == [] and index_check.differences() == []
                there = Fact.objects.filter(kind="curve file").count()
                assert there in (0, 1) and (there or dead), last
                assert Curve.objects.count() == 3 * there and CurveFile.objects.count() == there
                done = take(base.file.read_bytes(), base.file.name)
                assert Fact.objects.filter(kind="curve file").count() == 1 and Curve.objects.count() == 3
                path = judging.judged(done)
                counts = judging.counts(path)
                assert sum(counts.get(word, 0) for word in ANSWERS) == 3 and kept.parquet_of(done).exists()
                assert store.check_log() == [] and index_check.differences() == []


def test_two_processes_at_once_take_it_once(base: Base, nursery: Any, settings: Any, django_db_blocker: Any) -> None:
    answers = nursery(*[job(base.home, base.address, base.file, act="curves") for _ in range(3)])
    assert sorted(answer["told"]["already"] for answer in answers) == [False, True, True]
    with opened(settings, django_db_blocker, base.home, base.address):
        assert Fact.objects.filter(kind="curve file").count() == 1 and index_check.differences() == []


