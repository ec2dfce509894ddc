"""Faults beside the import: killed in the middle of a decision, an entry, a release; full disk, locked database, two
people at once, a clock set back. Afterwards nothing is lost, nothing doubled, and every fact holds.
"""

from __future__ import annotations

import resource
import signal
import sqlite3
import tempfile
from collections import Counter
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.store.mishandled import (
    BOTH,
    FIXED,
    Base,
    base_of,
    deaths,
    drawn,
    job,
    killed,
    kinds,
    measured,
    nursery,
    opened,
    verified,
)
from tests.store.samples import AUTHOR

__all__ = ["nursery"]  # a fixture

pytestmark = pytest.mark.slow
KINDS = {"dispose": "disposition", "enter": "entry", "sign": "release"}
# With the 70 and 25 of the import (test_kill.py), where all are drawn: 210 of intake, disposition, release on SQLite,
# 75 on PostgreSQL.
RANDOM_DEATHS = {
    ("dispose", "sqlite"): 70, ("sign", "sqlite"): 70, ("enter", "sqlite"): 20,
    ("dispose", "postgres"): 25, ("sign", "postgres"): 25, ("enter", "postgres"): 10,
}  # fmt: skip


@cache
def machine_hall() -> Any:
    """The records of the machine hall, as one file with a name."""
    from evenpull.demo.generate import write_records

    with tempfile.TemporaryDirectory() as folder:
        return next(one for one in write_records(Path(folder)) if "machine-hall" in one.name)


@pytest.fixture(params=BOTH)
def base(request: pytest.FixtureRequest, tmp_path: Path, settings: Any, django_db_blocker: Any) -> Base:
    """A dossier with the machine hall in it: a joint that is ready to sign, one with an open point."""
    from evenpull.demo import scenario

    made, file = base_of(request, tmp_path), machine_hall()
    with opened(settings, django_db_blocker, made.home, made.address) as services:
        services.prepare()
        services.add_tools(scenario.tools_text(), "tools.toml", AUTHOR)
        services.add_mapping(scenario.mapping_text("bench-book"), "bench-book.toml", AUTHOR)
        for name in ("kn-bh-021", "kn-gb-006"):
            services.add_joint(scenario.joint_text(name), f"{name}.toml", AUTHOR)
        services.commit_file(file.name, file.data, "bench book, nested headings", AUTHOR)
        services.refresh()
    return made


@pytest.mark.parametrize("act", KINDS)
def test_killed_at_random_moments(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any, act: str
) -> None:
    """Afterwards the act is there wholly or not at all; done again, it is there once, and every fact holds."""
    with base.copy() as (home, address), opened(settings, django_db_blocker, home, address):
        before = kinds()
    whole, moments = measured(base, nursery, act=act)
    count, through = 0, Counter[bool]()
    for why, how in deaths(act, base, moments, whole):
        with base.copy() as (home, address):
            (answer,) = nursery(job(home, address, base.file, act=act, **how))
            count += killed(answer)
            with opened(settings, django_db_blocker, home, address) as services:
                services.prepare()
                found = kinds()
                assert found - before in (Counter(), Counter({KINDS[act]: 1})) and not before - found, why
                assert services.check_log() == [], why
            (again,) = nursery(job(home, address, base.file, act=act))
            assert again["status"] == 0, why
            done = found != before
            if act == "sign":
                assert ("is signed already, by" in again["told"].get("refused", "")) == done, why
            with opened(settings, django_db_blocker, home, address) as services:
                assert kinds() == before + Counter({KINDS[act]: 1}), why
                services.refresh()
                verified(services, home, why)
        through[done] += killed(answer)
        if count == FIXED + drawn(RANDOM_DEATHS[act, base.vendor]):
            break
    assert through[False] and through[True], f"the draws did not cross the commit: {through}"


def test_two_people_sign_the_same_joint_at_once(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    for _ in range(3):
        with base.copy() as (home, address):
            told = nursery(*[job(home, address, base.file, act="sign", who=who) for who in ("A. Quist", "B. Rahm")])
            refused = [one["told"]["refused"] for one in told if "refused" in one["told"]]
            assert len(refused) == 1 and "is signed already, by" in refused[0]
            with opened(settings, django_db_blocker, home, address) as services:
                assert len(services.joint("KN-BH-021").releases) == 1 and services.check_log() == []


def test_a_clock_set_back_is_a_fact_and_nothing_is_back_dated(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    """An entry is written, the clock then set back by two hours (to the true time, as the test has it)."""
    from evenpull.ledger.entry import EntryError
    from evenpull.store.models import Fact

    with base.copy() as (home, address):
        nursery(job(home, address, base.file, act="enter", ahead=7200.0))
        (answer,) = nursery(job(home, address, base.file, act="dispose"))
        assert answer["status"] == 0
        with opened(settings, django_db_blocker, home, address) as services:
            entry, said, decision = reversed(Fact.objects.order_by("-seq")[:3])
            assert [f.kind for f in (entry, said, decision)] == ["entry", "clock set back", "disposition"]
            assert 7100 < said.data["seconds"] <= 7200 and entry.written_at > decision.written_at == said.written_at
            before = kinds()
            # What "now" is nobody knows; not even after the log has gone on by the clock that was set back.
            for _ in range(2):
                with pytest.raises(EntryError, match=r"behind what was written last.*set the clock right"):
                    services.add_entry("loosened", "KN-BH-021", {"why": "cable tray"}, AUTHOR, fasteners=(2,))
            assert kinds() == before
            stated = datetime.now(UTC) - timedelta(hours=1)
            done = services.add_entry(
                "loosened", "KN-BH-021", {"why": "cable tray"}, AUTHOR, fasteners=(2,), at=stated, basis="did it"
            )
            assert done.at == stated
            services.refresh()
            verified(services, home)


def test_a_decision_does_not_slip_before_the_one_it_follows(
    base: Base, settings: Any, django_db_blocker: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from evenpull.store.services import judging

    with base.copy() as (home, address), opened(settings, django_db_blocker, home, address) as services:
        flag = next(f for f in services.joint("KN-GB-006").proof.flags if f.code == "angle out of window")
        services.dispose("KN-GB-006", flag.key, "replace", "the gearbox fitter replaced it", AUTHOR)
        before = kinds()

        class SetBack(datetime):
            @classmethod
            def now(cls, tz: Any = None) -> datetime:
                return datetime.now(tz) - timedelta(hours=2)

        monkeypatch.setattr(judging, "datetime", SetBack)
        with pytest.raises(services.Refused, match="stands behind the decision"):
            services.dispose("KN-GB-006", flag.key, "engineering review", "on second thoughts", AUTHOR)
        assert kinds() == before


def test_a_full_disk_leaves_what_was_there(
    base: Base, settings: Any, django_db_blocker: Any, tmp_path: Path
) -> None:
    """SQLite is told that its file may not grow, and the folder of raw files that no file may be written."""
    if base.server is not None:
        pytest.skip("the disk of a server is the server's")
    from tests.store.samples import MAPPING, many

    with base.copy() as (home, address), opened(settings, django_db_blocker, home, address) as services:
        from django.db import connection

        from evenpull.demo import scenario

        services.add_mapping(scenario.mapping_text("semicolon-log"), "semicolon-log.toml", AUTHOR)
        before = kinds()
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA page_count")
            pages = cursor.fetchone()[0]
            cursor.execute(f"PRAGMA max_page_count = {pages + 5}")
        from django.db import DatabaseError

        with pytest.raises(DatabaseError, match="full"):
            services.commit_file("big.csv", many(3000), MAPPING, AUTHOR)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA max_page_count = 1000000")
        assert kinds() == before and services.check_log() == []
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
        try:
            with pytest.raises(OSError, match="too large"):
                services.commit_file("big.csv", many(3000), MAPPING, AUTHOR)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert kinds() == before
        done = services.commit_file("big.csv", many(3000), MAPPING, AUTHOR)
        assert done.new == 3000 and services.check_log() == []


DISK_ACTS = {
    "import": "tightening", "dispose": "disposition", "enter": "entry", "sign": "release", "card": "card",
    "account": "account", "bundle": "",
}  # fmt: skip


@pytest.mark.parametrize("act", DISK_ACTS)
def test_a_disk_that_is_really_full(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any, act: str
) -> None:
    """A tmpfs with so many bytes left, so that the act ends at its first write, in its paper, in its last page.
    Nothing is half there, the message names the disk, and with room made the same act is done."""
    if base.server is not None:
        pytest.skip("the disk of a server is the server's")
    from evenpull.demo import scenario
    from tests.store.samples import many

    with opened(settings, django_db_blocker, base.home, base.address) as services:
        services.add_mapping(scenario.mapping_text("semicolon-log"), "semicolon-log.toml", AUTHOR)
    base.file.write_bytes(many(300))
    refused = []
    for free in (0, 8192, 40_960, 102_400, 300_000, 900_000):
        with base.copy() as (home, address):
            (answer,) = nursery(job(home, address, base.file, act=act, free=free))
        told = answer["told"]
        assert answer["status"] == 0, f"{act} with {free} bytes left"
        if "disk" in told:
            pytest.skip(f"no disk of its own may be mounted here: {told['disk']}")
        refused.append(told["said"] is not None)
        if told["said"] is not None:
            status, what, way = told["said"]
            assert status == 507 and "full" in what + way and way.endswith("do it again."), told
            assert told["then"] == told["before"] and told["left"] == [], told
        else:
            assert "error" not in told, told
        if kind := DISK_ACTS[act]:
            assert told["after"][kind] > told["before"].get(kind, 0), told
    assert refused[0] and not refused[-1] and refused == sorted(refused, reverse=True), refused


def test_a_locked_database_is_waited_for_and_then_said(
    base: Base, settings: Any, django_db_blocker: Any
) -> None:
    if base.server is not None:
        pytest.skip("a server has no lock on the whole")
    with base.copy() as (home, address), opened(settings, django_db_blocker, home, address) as services:
        from django.db import OperationalError, connection

        from evenpull.cli.errors import lines_of
        from evenpull.store.told import told

        other = sqlite3.connect(home / "records.sqlite3")
        other.execute("BEGIN IMMEDIATE")
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 200")
        before = kinds()
        with pytest.raises(OperationalError, match="locked") as caught:
            services.add_entry("disturbed", "KN-BH-021", {"why": "cable tray"}, AUTHOR, fasteners=(2,))
        found = told(caught.value)
        assert found is not None and found[0] == 503
        assert "Another program holds the database" in found[2] and found[2].endswith("then do it again.")
        assert found[2] in lines_of(caught.value)  # the commands say the same
        other.rollback()
        other.close()
        assert kinds() == before
        services.add_entry("disturbed", "KN-BH-021", {"why": "cable tray"}, AUTHOR, fasteners=(2,))
        assert kinds()["entry"] == 1 and services.check_log() == []
