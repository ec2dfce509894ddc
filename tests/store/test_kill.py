"""The process is killed in the middle of an import, at every moment and at any time: nothing lost, nothing doubled.

After each kill the dossier is opened again, its log must hold, nothing of the file may be there or all of it; then the
import is done again, and everything must be as after an import that nobody disturbed.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.store.mishandled import (
    BOTH,
    FIXED,
    ROOT,
    Base,
    base_of,
    deaths,
    drawn,
    job,
    killed,
    measured,
    nursery,
    opened,
    raw_files,
    verified,
)
from tests.store.samples import AUTHOR, MAPPING, file_of, furnish, many, row

__all__ = ["nursery"]  # a fixture

pytestmark = pytest.mark.slow
RANDOM_DEATHS = {"sqlite": 70, "postgres": 25}
# Repeats some records of the first file, has rows that cannot be read and rows of a joint that nobody knows.
SECOND = file_of(
    [
        *many(400, start=150).decode().splitlines()[1:],
        row(900, moment="see card"),
        row(901, joint="KN-CW-041"),
        row(902, day="31.02.2026"),
    ]
)


def content(home: Path) -> tuple[list[tuple[object, ...]], list[str]]:
    """All that must be the same however often one was interrupted: everything but times and what follows from them."""
    from evenpull.store.models import Fact

    facts = Fact.objects.order_by("seq").values_list("seq", "kind", "joint", "key", "author", "body")
    return list(facts), raw_files(home)


@pytest.fixture(params=BOTH)
def base(request: pytest.FixtureRequest, tmp_path: Path, settings: Any, django_db_blocker: Any) -> Base:
    made = base_of(request, tmp_path)
    made.file.write_bytes(SECOND)
    with opened(settings, django_db_blocker, made.home, made.address) as services:
        services.prepare()
        furnish("kn-cw-008", "kn-cw-014")
        services.commit_file("first.csv", many(200), MAPPING, AUTHOR)
    return made


@pytest.fixture
def undisturbed(base: Base, nursery: Any, settings: Any, django_db_blocker: Any) -> tuple[Any, Any, int]:
    """(content before, content after an import that nobody disturbed, number of moments in it)."""
    with base.copy() as (home, address):
        with opened(settings, django_db_blocker, home, address):
            before = content(home)
        (answer,) = nursery(job(home, address, base.file))
        told = answer["told"]
        assert (told["new"], told["repeated"], told["unread"]) == (351, 51, 1)
        with opened(settings, django_db_blocker, home, address):
            after = content(home)
    assert len(after[0]) == len(before[0]) + 1 + 351 + 1
    return before, after, told["moments"]


def check(
    settings: Any, blocker: Any, base: Base, home: Path, address: str, before: Any, after: Any, why: str
) -> bool:
    """What must hold after a kill; whether the import had come through."""
    with opened(settings, blocker, home, address) as services:
        services.prepare()
        found = content(home)
        assert found[0] in (before[0], after[0]), f"something was half written: {why}"
        assert services.check_log() == [], why
        services.joints()
        done = services.commit_file(base.file.name, base.file, MAPPING, AUTHOR)
        assert content(home) == after, f"after importing again something is lost or doubled: {why}"
        services.refresh()
        verified(services, home, why)
        assert done.already == (found[0] == after[0])
        return bool(done.already)


def test_killed_at_every_moment(
    base: Base, undisturbed: Any, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    before, after, moments = undisturbed
    assert moments >= 20
    results = []
    for last in range(1, moments + 1):
        with base.copy() as (home, address):
            (answer,) = nursery(job(home, address, base.file, last=last))
            assert answer["status"] == -signal.SIGKILL
            results.append(check(settings, django_db_blocker, base, home, address, before, after, f"moment {last}"))
    # The first kills come before the commit, the last after it: the sweep has crossed it.
    assert results[0] is False and results[-1] is True
    assert results == sorted(results)


def test_killed_at_random_moments(
    base: Base, undisturbed: Any, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    """Half of them by the clock instead of by moments: also in the middle of a write, inside the database."""
    before, after, moments = undisturbed
    (whole, _), count = measured(base, nursery), 0
    for why, how in deaths("import", base, moments, whole):
        with base.copy() as (home, address):
            (answer,) = nursery(job(home, address, base.file, **how))
            count += killed(answer)
            check(settings, django_db_blocker, base, home, address, before, after, why)
        if count == FIXED + drawn(RANDOM_DEATHS[base.vendor]):
            break


def test_two_processes_import_the_same_file_at_once(
    base: Base, undisturbed: Any, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    _, after, _ = undisturbed
    for _ in range(5):
        with base.copy() as (home, address):
            told = [answer["told"] for answer in nursery(*[job(home, address, base.file) for _ in range(3)])]
            assert sorted(t["already"] for t in told) == [False, True, True]
            assert sorted(t["new"] for t in told) == [0, 0, 351]
            with opened(settings, django_db_blocker, home, address) as services:
                assert content(home) == after
                assert services.check_log() == []


def test_two_processes_import_overlapping_files_at_once(
    base: Base, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    """Other files with some of the same records: each record is there once, whoever came first."""
    files = [base.home.parent / "a.csv", base.home.parent / "b.csv"]
    files[0].write_bytes(many(300, start=1000))
    files[1].write_bytes(many(300, start=1200))
    with base.copy() as (home, address):
        told = [answer["told"] for answer in nursery(*[job(home, address, file) for file in files])]
        assert sum(t["new"] for t in told) == 500 and sum(t["repeated"] for t in told) == 100
        with opened(settings, django_db_blocker, home, address) as services:
            assert services.check_log() == []
            counters = [t.counter for t in services.joint("KN-CW-008").tightenings]
            assert len(counters) == len(set(counters)) == 200 + 500


def test_several_processes_prepare_an_empty_folder_at_once(tmp_path: Path) -> None:
    program = (
        "import django; django.setup()\n"
        "from evenpull.store import services\n"
        "print('ready', flush=True); input()\n"
        "services.prepare(); print(services.log_status().key_id)\n"
    )
    pipe = subprocess.PIPE
    environment = os.environ | {
        "EVENPULL_HOME": str(tmp_path / "home"),
        "EVENPULL_DATABASE": "",
        "PYTHONPATH": str(ROOT / "src"),
        "DJANGO_SETTINGS_MODULE": "evenpull.store.settings",
    }
    children = [
        subprocess.Popen(
            [sys.executable, "-c", program], env=environment, stdin=pipe, stdout=pipe, stderr=pipe, text=True
        )
        for _ in range(3)
    ]
    for child in children:
        assert child.stdout is not None and child.stdout.readline() == "ready\n"
        assert child.stdin is not None
    for child in children:
        assert child.stdin is not None
        child.stdin.write("go\n")
        child.stdin.flush()
    told = [child.communicate(timeout=60) for child in children]
    assert [child.returncode for child in children] == [0, 0, 0], told
    assert len({out for out, _ in told}) == 1


@pytest.fixture(params=BOTH)
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Base:
    return base_of(request, tmp_path)


def test_killed_while_the_tables_are_made(
    empty: Base, nursery: Any, settings: Any, django_db_blocker: Any
) -> None:
    def ways(**how: Any) -> tuple[dict[str, Any], int]:
        """How a process is made to die, and how many moments of that kind there are."""
        with empty.copy() as (home, address):
            (answer,) = nursery(job(home, address, empty.file, act="prepare", **how))
        return how, answer["told"]["moments"]

    (_, statements), (at_commits, commits) = ways(), ways(commits=True)
    assert statements > 100 and commits >= 2
    deaths = [{"last": last} for last in range(3, statements, statements // 8)]
    # Between two commits, where the tables of a step can be there and the note of them is not.
    for how in [*deaths, *({"last": last} | at_commits for last in range(1, commits + 1))]:
        with empty.copy() as (home, address):
            (answer,) = nursery(job(home, address, empty.file, act="prepare", **how))
            assert killed(answer), how
            with opened(settings, django_db_blocker, home, address) as services:
                services.prepare()
                furnish("kn-cw-008")
                assert services.check_log() == []
