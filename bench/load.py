"""The dossier under load: taking in, judging, asking, at 10,000, 100,000 and 1,000,000 tightenings."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from bench import made


def set_up(home: Path, database: str = "") -> None:
    """Django on a folder (and a PostgreSQL address); once in a process."""
    os.environ["EVENPULL_HOME"], os.environ["EVENPULL_DATABASE"] = str(home), database
    os.environ["DJANGO_SETTINGS_MODULE"] = "evenpull.store.settings"
    import django

    django.setup()
    from evenpull.store import services

    services.prepare()

LEFT_OUT = ("log-in", "log-out", "password", "accounts", "audit-find")  # the last is asked with words
SLOW = 0.2  # s that a question or a page may take


class Spent(NamedTuple):
    """Seconds by the clock on the wall, and of this process on a processor: the second is what a machine shared with
    other work leaves comparable. On PostgreSQL the work of the server is in the first only."""

    wall: float
    cpu: float

    def and_(self, other: Spent) -> Spent:
        return Spent(self.wall + other.wall, self.cpu + other.cpu)


def timed(work: Callable[[], object]) -> Spent:
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return Spent(time.perf_counter() - wall, time.process_time() - cpu)


def read_bare(files: list[Path]) -> None:
    """Polars reads the files, nothing more."""
    import polars as pl

    for file in files:
        pl.read_csv(file, separator=";").rows()


def insert_bare() -> Spent:
    """Seconds of inserting the rows that taking in wrote (facts, pulls, mentions) once more, as they are, into tables
    of the same columns and indexes in the same database: what the database itself asks for these rows."""
    from django.db import connection

    from evenpull.store.models import Fact, Mention, Pull
    from evenpull.store.services.bulk import insert

    found = Spent(0.0, 0.0)
    for model in (Fact, Pull, Mention):
        table, twin = model._meta.db_table, f"bare_{model._meta.db_table}"
        columns = [field.name for field in model._meta.fields]
        last = model.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        with connection.schema_editor() as editor:
            model._meta.db_table = twin
            names = [(index, index.name) for index in model._meta.indexes]
            for index, name in names:
                index.name = f"b_{name}"[:30]
            editor.create_model(model)
        from django.db import transaction

        for first in range(0, last + 1, 100_000):
            model._meta.db_table = table
            part = model.objects.filter(pk__gte=first, pk__lt=first + 100_000).order_by("pk")
            rows = list(part.values_list(*columns))
            model._meta.db_table = twin

            def work(model: object = model, columns: object = columns, rows: object = rows) -> None:
                with transaction.atomic():
                    insert(model, columns, rows)  # type: ignore[arg-type]

            found = found.and_(timed(work))
        with connection.cursor() as cursor:
            cursor.execute(f"DROP TABLE {twin}")
        model._meta.db_table = table
        for index, name in names:
            index.name = name
    return found


def take_in(works: made.Works) -> dict[str, Spent]:
    """Seconds of describing and of taking in through the services."""
    from evenpull.store import services

    found = {}
    found["tools"] = timed(lambda: services.add_tools(works.tools, "tools.toml", "bench"))
    services.add_mapping(made.MAPPING, "works.toml", "bench")
    texts = [(text, "made.toml") for text in works.joints]
    found["joints"] = timed(
        lambda: [services.add_joints(texts[n : n + 2000], "bench") for n in range(0, len(texts), 2000)]
    )
    found["records"] = timed(
        lambda: [services.commit_file(path.name, path, "works", "bench") for path in works.files]
    )
    return found


def questions() -> dict[str, Callable[[], object]]:
    """Every question of an audit, on something that is there; and every page, as a browser asks for it."""
    from django.test import Client

    from evenpull.store import services
    from evenpull.store.services import audit

    tool, person, lot, joint = "TW-00001", "Fitter 0001", "KL-7", made.joint_id(17)
    web = Client(HTTP_HOST="127.0.0.1")
    sha = services.file_names(1)[0].sha256
    asked: dict[str, Callable[[], object]] = {
        "audit tool": lambda: audit.tool(tool), "audit person": lambda: audit.person(person),
        "audit lot": lambda: audit.lot(lot), "audit changes": lambda: audit.changes(),
        "audit changes of a kind": lambda: audit.changes(kind="file"),
        "audit changes by a person": lambda: audit.changes(author="bench"),
        "audit changes of a joint": lambda: audit.changes(joint=joint),
        "audit late entries": lambda: audit.listed("late"),
        "audit exceptions": lambda: audit.listed("entry", "exception"),
        "audit recurrences": lambda: audit.recurrences(), "audit alike": lambda: audit.siblings(joint),
        "draw a joint": lambda: audit.draw("joint"), "draw a tool": lambda: audit.draw("tool"),
        "draw a person": lambda: audit.draw("person"), "draw a lot": lambda: audit.draw("lot"),
        "judge a joint": lambda: services.joint(joint),
    }  # fmt: skip
    for path in [
        *pages(web, joint, sha), "/?q=hall+7", "/?state=not+released",
        f"/audit/find/?what=tool&name={tool}", "/audit/find/?what=person&name=Fitter+0001",
        f"/audit/find/?what=lot&name={lot}",
    ]:  # fmt: skip
        asked[f"page {path}"] = partial(_page, web, path)
    return asked


def pages(web: Any, joint: str, sha: str) -> list[str]:
    """The address of every page that can be looked at, of the list of addresses itself, so that none is forgotten:
    those of a joint and of a file on one that is there, the lists of the audit as its first page links them. Left out
    are files to be saved, forms that are only sent, pages of calculations and predictions, of which none is here, and
    those that are only there where people log in.
    """
    from django.urls import URLPattern

    from evenpull.web.urls import urlpatterns

    given = {"joint_id": [joint], "sha256": [sha], "seq": ["10"], "what": ["joint", "tool", "person", "lot"],
             "which": sorted(set(re.findall(r'href="/audit/lists/([^"/?]+)/', web.get("/audit/").content.decode())))}
    found = []
    for pattern in urlpatterns:
        route = str(getattr(pattern, "pattern", ""))
        if not isinstance(pattern, URLPattern) or (route and not route.endswith("/")) or pattern.name in LEFT_OUT:
            continue
        names = re.findall(r"<\w+:(\w+)>", route)
        for value in given.get(names[0], []) if names else [""]:
            path = "/" + re.sub(r"<\w+:\w+>", value, route)
            if web.get(path).status_code not in (302, 405):  # elsewhere, or only sent
                found.append(path)
    return found


def _page(web: Any, path: str) -> None:
    answer = web.get(path)
    assert answer.status_code == 200, (path, answer.status_code)


def ask_all() -> list[tuple[str, Spent]]:
    """(question, median of three by the clock, s), slowest first."""
    found = []
    for name, work in questions().items():
        found.append((name, sorted(timed(work) for _ in range(3))[1]))
    return sorted(found, key=lambda pair: -pair[1].wall)


def one_size(tightenings: int, database: str = "", *, judge: int | None = None) -> None:
    """Take in, judge, ask, rebuild, at one size in a process of its own; prints the lines."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        works = made.make(folder, tightenings)
        set_up(folder / "home", database)
        from evenpull.store.services import findings

        def say(text: str) -> None:
            print(text, flush=True)

        say(f"{'PostgreSQL' if database else 'SQLite'}, {works.rows:,} tightenings, {len(works.joints):,} joints "
            "(by the clock / on the processor)")  # fmt: skip
        found = take_in(works)
        taken, described = found["records"], found["joints"]
        say(f"  described       {_each(described, len(works.joints))} a joint")
        say(f"  taken in        {_each(taken, works.rows)} a row, {works.rows / taken.wall:,.0f} rows/s")
        bound = timed(lambda: read_bare(works.files)).and_(insert_bare())
        say(f"  bare            {_each(bound, works.rows)} a row; taking in costs {taken.wall / bound.wall:.2f} x by "
            f"the clock, {taken.cpu / bound.cpu:.2f} x on the processor")  # fmt: skip
        count = len(works.joints) if judge is None else min(judge, len(works.joints))
        say(f"  judged          {_each(timed(lambda: findings.refresh(count)), count)} a joint ({count:,} of them)")
        asked = ask_all()
        slow = [pair for pair in asked if pair[1].wall > SLOW]
        say(f"  {len(asked)} questions and pages, {len(slow)} over {1e3 * SLOW:.0f} ms by the clock:")
        for question, spent in asked:
            say(f"    {1e3 * spent.wall:7.1f} / {1e3 * spent.cpu:7.1f} ms  {question}")
        if count == len(works.joints):
            rebuild()


def rebuild() -> None:
    """All findings thrown away and made again; every value of every one is what it was."""
    from evenpull.store.models import Finding
    from evenpull.store.services import findings

    def kept() -> str:
        names = [field.name for field in Finding._meta.fields]
        sums = hashlib.sha256()
        for row in Finding.objects.order_by("joint").values_list(*names).iterator(1000):
            sums.update(repr(row).encode())
        return sums.hexdigest()

    before, count = kept(), Finding.objects.count()
    spent = timed(findings.rebuild)
    assert kept() == before, "rebuilt findings differ from the stored ones"
    print(f"  rebuilt         {_each(spent, count)} a finding, all {count:,} of them, index and all; equal to those "
          "stored", flush=True)  # fmt: skip


def _each(spent: Spent, count: int) -> str:
    return f"{1e3 * spent.wall / count:8.3f} / {1e3 * spent.cpu / count:8.3f} ms"


def run() -> None:
    """Both databases, each size in a process of its own; BENCH_LOAD gives the sizes, 10000,100000 when it is not set,
    JUDGE how many joints are judged (0: all of them, and then all are rebuilt and compared)."""
    import subprocess
    import sys

    from tests.store.postgres import running_server

    sizes = [int(size) for size in os.environ.get("BENCH_LOAD", "10000,100000").split(",")]
    with running_server() as server:
        for where in ("SQLite", "PostgreSQL"):
            for size in sizes:
                more = [server.url(server.create())] if where == "PostgreSQL" else []
                judged = os.environ.get("JUDGE", "0" if size <= 10_000 else "300")  # 0: all, and rebuilt
                subprocess.run(
                    [sys.executable, "-m", "bench.load", str(size), *more], env=os.environ | {"JUDGE": judged},
                    check=True,
                )  # fmt: skip


if __name__ == "__main__":
    import sys

    address = sys.argv[2] if len(sys.argv) > 2 else ""
    one_size(int(sys.argv[1]), address, judge=int(os.environ.get("JUDGE", "0")) or None)
