"""Faults beside the import: killed in the middle of a decision, an entry, a release; full disk, locked database, two
people at once, a clock set back. Afterwards nothing is lost, nothing doubled, and every fact holds.
"""

from __future__ import annotations

import random
import resource
import signal
import sqlite3
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.store.postgres import Server
from tests.store.samples import AUTHOR
from tests.store.test_kill import Base, job, nursery, opened  # noqa: F401

pytestmark = pytest.mark.slow
ACTS = ("dispose", "enter", "sign")
KINDS = {"dispose": "disposition", "enter": "entry", "sign": "release"}


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def base(request: pytest.FixtureRequest, tmp_path: Path, settings: Any, django_db_blocker: Any) -> Base:
    """A dossier with the machine hall in it: a joint that is ready to sign, one with an open point."""
    from evenpull.demo import scenario
    from evenpull.demo.generate import write_records

    home = tmp_path / "home"
    home.mkdir()
    server: Server | None = request.getfixturevalue("server") if request.param == "postgres" else None
    made, address = Base(home, server), ""
    if server is not None:
        made.template = server.create()
        address = server.url(made.template)
    file = next(one for one in write_records(tmp_path / "exports") if "machine-hall" in one.name)
    with opened(settings, django_db_blocker, home, address) as services:
        services.prepare()
        services.add_tools(scenario.tools_text(), "tools.toml", AUTHOR)
        services.add_mapping(scenario.mapping_text("bench-book"), "bench-book.toml", AUTHOR)
        for name in ("kn-bh-021", "kn-gb-006"):
            services.add_joint(scenario.joint_text(name), f"{name}.toml", AUTHOR)
        services.commit_file(file.name, file.data, "bench book, nested headings", AUTHOR)
        services.refresh()
    return made


def facts() -> Counter[str]:
    from evenpull.store.models import Fact

    return Counter(Fact.objects.values_list("kind", flat=True))


@pytest.mark.parametrize("act", ACTS)
def test_killed_at_random_moments(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any, act: str  # noqa: F811
) -> None:
    """Together with the import (tests/store/test_kill.py) well over 200 kills in every run."""
    with base.copy() as (home, address):
        with opened(settings, django_db_blocker, home, address):
            before = facts()
        (answer,) = nursery(job(home, address, base.file, act=act))
        moments = answer["told"]["moments"]
    dice = random.Random(f"{act} {base.template}")
    places = [1, moments] + [dice.randint(1, moments) for _ in range(23)]
    for last in places:
        with base.copy() as (home, address):
            (answer,) = nursery(job(home, address, base.file, act=act, last=last))
            assert answer["status"] == -signal.SIGKILL
            with opened(settings, django_db_blocker, home, address) as services:
                services.prepare()
                found = facts()
                assert found - before in (Counter(), Counter({KINDS[act]: 1}))
                assert services.check_log() == []
            (again,) = nursery(job(home, address, base.file, act=act))
            with opened(settings, django_db_blocker, home, address) as services:
                after = facts()
                assert after[KINDS[act]] - before[KINDS[act]] == (2 if act == "dispose" and found != before else 1)
                assert services.check_log() == [] and again["status"] == 0
                from evenpull.store.services import findings

                services.refresh()
                assert findings.differing() == []


def test_two_people_sign_the_same_joint_at_once(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any  # noqa: F811
) -> None:
    for _ in range(3):
        with base.copy() as (home, address):
            told = nursery(*[job(home, address, base.file, act="sign", who=who) for who in ("A. Quist", "B. Rahm")])
            refused = [one["told"]["refused"] for one in told if "refused" in one["told"]]
            assert len(refused) == 1 and "is signed already, by" in refused[0]
            with opened(settings, django_db_blocker, home, address) as services:
                assert len(services.joint("KN-BH-021").releases) == 1 and services.check_log() == []


def test_a_clock_set_back_is_seen_and_loses_nothing(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any  # noqa: F811
) -> None:
    with base.copy() as (home, address):
        nursery(job(home, address, base.file, act="enter", ahead=7200.0))
        (answer,) = nursery(job(home, address, base.file, act="dispose"))
        assert answer["status"] == 0
        with opened(settings, django_db_blocker, home, address) as services:
            problems = services.check_log()
            assert problems == []
            assert "clock" in " ".join(f.data.get("what", "") for f in _refusals())


def _refusals() -> list[Any]:
    from evenpull.store.models import Fact

    return list(Fact.objects.filter(kind="clock set back"))


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
        before = facts()
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA page_count")
            pages = cursor.fetchone()[0]
            cursor.execute(f"PRAGMA max_page_count = {pages + 5}")
        from django.db import DatabaseError

        with pytest.raises(DatabaseError, match="full"):
            services.commit_file("big.csv", many(3000), MAPPING, AUTHOR)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA max_page_count = 1000000")
        assert facts() == before and services.check_log() == []
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
        try:
            with pytest.raises(OSError, match="too large"):
                services.commit_file("big.csv", many(3000), MAPPING, AUTHOR)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert facts() == before
        done = services.commit_file("big.csv", many(3000), MAPPING, AUTHOR)
        assert done.new == 3000 and services.check_log() == []


def test_a_locked_database_is_waited_for_and_then_said(
    base: Base, settings: Any, django_db_blocker: Any
) -> None:
    if base.server is not None:
        pytest.skip("a server has no lock on the whole")
    with base.copy() as (home, address), opened(settings, django_db_blocker, home, address) as services:
        from django.db import OperationalError, connection

        other = sqlite3.connect(home / "records.sqlite3")
        other.execute("BEGIN IMMEDIATE")
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 200")
        before = facts()
        with pytest.raises(OperationalError, match="locked"):
            services.add_entry("disturbed", "KN-BH-021", {"why": "cable tray"}, AUTHOR, fasteners=(2,))
        other.rollback()
        other.close()
        assert facts() == before
        services.add_entry("disturbed", "KN-BH-021", {"why": "cable tray"}, AUTHOR, fasteners=(2,))
        assert facts()["entry"] == 1 and services.check_log() == []
