"""A dossier to be mishandled: copies of it, processes that die inside it, and what has to hold afterwards."""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests import databases
from tests.store.postgres import Server

ROOT = Path(__file__).parents[2]
FIXED = 2  # deaths that are not drawn
BOTH = ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)]
# The draws are the same in every run; another word in the environment draws others.
SEED = os.environ.get("EVENPULL_TEST_SEED", "Kestrel Narrows")


class Base:
    """A dossier with something in it, and copies of it to be mistreated."""

    def __init__(self, folder: Path, server: Server | None) -> None:
        self.home, self.server = folder / "home", server
        self.file = folder / "second.csv"
        self.template = "" if server is None else server.create()
        self.home.mkdir()
        self._copies = 0

    @property
    def vendor(self) -> str:
        return "sqlite" if self.server is None else "postgres"

    @property
    def address(self) -> str:
        """Of the database that copies are made of; "" for the one in the folder."""
        return "" if self.server is None else self.server.url(self.template)

    @contextmanager
    def copy(self) -> Iterator[tuple[Path, str]]:
        """(home, address of its database), thrown away afterwards."""
        self._copies += 1
        home = self.home.parent / f"copy-{self._copies}"
        shutil.copytree(self.home, home)
        if self.server is None:
            yield home, ""
        else:
            name = self.server.create(self.template)
            yield home, self.server.url(name)
            self.server.drop(name)
        shutil.rmtree(home)


def base_of(request: pytest.FixtureRequest, folder: Path) -> Base:
    """An empty base on the database that the fixture's parameter (of `BOTH`) names."""
    return Base(folder, request.getfixturevalue("server") if request.param == "postgres" else None)


@contextmanager
def opened(settings: Any, blocker: Any, home: Path, address: str) -> Iterator[Any]:
    from evenpull.store import services

    settings.EVENPULL_HOME = home
    entry = databases.postgres(address) if address else databases.sqlite(home / "records.sqlite3")
    with blocker.unblock(), databases.database(entry):
        yield services


@pytest.fixture(scope="module")
def nursery() -> Iterator[Callable[..., list[dict[str, Any]]]]:
    """Runs jobs in processes of their own; see child.py."""
    pipe = subprocess.PIPE
    environment = os.environ | {"PYTHONPATH": str(ROOT / "src")}
    parent = subprocess.Popen(
        [sys.executable, "-m", "tests.store.child"], cwd=ROOT, env=environment, stdin=pipe, stdout=pipe, text=True
    )

    def run(*jobs: dict[str, Any]) -> list[dict[str, Any]]:
        assert parent.stdin is not None and parent.stdout is not None
        parent.stdin.write(json.dumps({"jobs": jobs}) + "\n")
        parent.stdin.flush()
        return list(json.loads(parent.stdout.readline()))

    yield run
    parent.communicate(timeout=20)


def job(home: Path, address: str, file: Path, **how: Any) -> dict[str, Any]:
    return {"home": str(home), "address": address, "file": str(file), **how}


def deaths(act: str, base: Base, moments: int, seconds: float) -> Iterator[tuple[str, dict[str, Any]]]:
    """Without end: (what to print on failure, how the process dies). The first two die at the first and last moment,
    the others at one drawn of the counted moments and by the clock alternately. One that was to die by the clock may
    be through already; the caller counts those that were killed."""
    dice = random.Random(f"{SEED} {act} {base.vendor}")
    for number in itertools.count():
        how: dict[str, Any] = {"after": seconds * dice.random()}
        if number < FIXED or number % 2:
            how = {"last": (1, moments)[number] if number < FIXED else dice.randint(1, moments)}
        yield f"{act} on {base.vendor}, death {number} of EVENPULL_TEST_SEED={SEED!r}: {how}", how


def drawn(many: int) -> int:
    """How many deaths a test draws: a third of `many`; all of them, ten minutes more, with EVENPULL_TEST_DEATHS=all."""
    return many if os.environ.get("EVENPULL_TEST_DEATHS") == "all" else -(-many // 3)


def measured(base: Base, nursery: Callable[..., list[dict[str, Any]]], **how: Any) -> tuple[float, int]:
    """(seconds, moments) of an act that nobody disturbs; seconds of the shorter of two runs, as the first one also
    loads what the next ones find loaded, and a death by the clock that comes too late tells nothing."""
    seconds, moments = [], 0
    for _ in range(2):
        with base.copy() as (home, address):
            began = time.perf_counter()
            (answer,) = nursery(job(home, address, base.file, **how))
            seconds.append(time.perf_counter() - began)
            moments = answer["told"]["moments"]
    return min(seconds), moments


def killed(answer: dict[str, Any]) -> bool:
    """Whether the process was ended by SIGKILL; otherwise it must have come through well."""
    assert answer["status"] in (0, -signal.SIGKILL), answer
    return bool(answer["status"] == -signal.SIGKILL)


def kinds() -> Counter[str]:
    """How many facts of each kind there are."""
    from evenpull.store.models import Fact

    return Counter(Fact.objects.values_list("kind", flat=True))


def raw_files(home: Path) -> list[str]:
    """Names of the raw files, each held against its content."""
    names = sorted(p.name for p in (home / "raw").rglob("*") if p.is_file() and not p.name.startswith(".part-"))
    for name in names:
        path = home / "raw" / name[:2] / name
        assert hashlib.sha256(path.read_bytes()).hexdigest() == name, f"the raw file {name} is not whole"
    return names


def verified(services: Any, home: Path, why: str = "", *, sealed: bool = True) -> None:
    """Every fact holds: digests, tree and signed checkpoints; the raw files that facts name; the index as it would be
    made again from the facts; no finding that says what the
    facts do not (where it was `sealed` by this process: its seal has a key of the process)."""
    from evenpull.store.models import Fact
    from evenpull.store.services import findings

    assert services.check_log() == [], why
    keys = list(Fact.objects.values_list("key", flat=True))
    assert len(keys) == len(set(keys)), why
    named = set()
    for fact in Fact.objects.filter(kind__in=("file", "card", "release", "time-stamp")):
        named.add(next(v for k in ("sha256", "pdf_sha256", "report_sha256", "token") if (v := fact.data.get(k))))
    assert named <= set(raw_files(home)), f"a fact names a raw file that is not there: {why}"
    assert not sealed or findings.differing() == [], why
    kept, made = indexed(), indexed(again=True)
    assert kept == made, f"the index is not what the facts give: {why}"


def indexed(again: bool = False) -> list[list[tuple[Any, ...]]]:
    """The rows of the index; with `again` those that the facts give now, made and thrown away."""
    from django.db import transaction

    from evenpull.store.models import Finding, Mention, Pull
    from evenpull.store.services import index

    with transaction.atomic():
        if again:
            index.rebuild()
        found = [sorted(Pull.objects.values_list(), key=repr)]
        found.append(sorted((row[1:] for row in Mention.objects.values_list()), key=repr))  # without its own number
        found.append(sorted(Finding.objects.values_list("joint", "fold")))
        transaction.set_rollback(True)
    return found
