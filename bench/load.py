"""The dossier under load: taking in, judging, asking, at 10,000, 100,000 and 1,000,000 tightenings."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from bench import made


def set_up(home: Path, database: str = "") -> None:
    """Django on a folder (and a PostgreSQL address); once in a process."""
    os.environ["EVENPULL_HOME"], os.environ["EVENPULL_DATABASE"] = str(home), database
    os.environ["DJANGO_SETTINGS_MODULE"] = "evenpull.store.settings"
    import django

    django.setup()
    from evenpull.store import services

    services.prepare()


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def read_bare(files: list[Path]) -> None:
    """Polars reads the files, nothing more."""
    import polars as pl

    for file in files:
        pl.read_csv(file, separator=";").rows()


def insert_bare(home: Path) -> float:
    """Seconds of inserting the rows that taking in wrote (facts, pulls, mentions) once more, as they are, into tables
    of the same columns and indexes in the same database: what the database itself asks for these rows."""
    from django.db import connection

    from evenpull.store.models import Fact, Mention, Pull
    from evenpull.store.services.bulk import insert

    found = 0.0
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

            found += timed(work)
        with connection.cursor() as cursor:
            cursor.execute(f"DROP TABLE {twin}")
        model._meta.db_table = table
        for index, name in names:
            index.name = name
    return found


def take_in(works: made.Works) -> dict[str, float]:
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
    for path in (
        "/", "/?q=hall+7", "/?state=not+released", f"/joints/{joint}/", f"/joints/{joint}/entry/", "/new-joint/",
        f"/joints/{joint}/alike/", "/intake/", f"/files/{sha}/", "/tools/", "/log/", "/audit/", "/audit/changes/",
        f"/audit/find/?what=tool&name={tool}", "/audit/find/?what=person&name=Fitter+0001",
        f"/audit/find/?what=lot&name={lot}", "/audit/recurrences/", "/audit/lists/late/", "/calculations/",
        "/predictions/",
    ):  # fmt: skip
        asked[f"page {path}"] = lambda path=path: _page(web, path)
    return asked


def _page(web: object, path: str) -> None:
    answer = web.get(path)  # type: ignore[attr-defined]
    assert answer.status_code in (200, 401), (path, answer.status_code)


def ask_all() -> list[tuple[str, float]]:
    """(question, median of three, s), slowest first."""
    found = []
    for name, work in questions().items():
        found.append((name, sorted(timed(work) for _ in range(3))[1]))
    return sorted(found, key=lambda pair: -pair[1])


def one_size(tightenings: int, database: str = "", *, judge: int | None = None) -> None:
    """Take in, judge, ask, at one size in a process of its own; prints the lines."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        works = made.make(folder, tightenings)
        set_up(folder / "home", database)
        from evenpull.store.services import findings

        where = "PostgreSQL" if database else "SQLite"
        found = take_in(works)
        bound = timed(lambda: read_bare(works.files)) + insert_bare(folder / "home")
        rate = works.rows / found["records"]
        print(f"{where}, {works.rows:,} tightenings: taken in at {rate:,.0f} rows/s, "
              f"{found['records'] / bound:.1f} x reading and inserting the same rows bare ({bound:.1f} s)")  # fmt: skip
        print(f"  {len(works.joints):,} joints described in {found['joints']:.1f} s, "
              f"{1e3 * found['joints'] / len(works.joints):.2f} ms each")  # fmt: skip
        count = len(works.joints) if judge is None else min(judge, len(works.joints))
        spent = timed(lambda: findings.refresh(count))
        print(f"  {count:,} joints judged in {spent:.1f} s, {1e3 * spent / count:.1f} ms each")
        asked = ask_all()
        slow = [pair for pair in asked if pair[1] > 0.2]
        print(f"  {len(asked)} questions and pages, {len(slow)} over 200 ms; the slowest:")
        for question, seconds in asked[:8]:
            print(f"    {1e3 * seconds:7.1f} ms  {question}")


def run() -> None:
    """Both databases, each in a process of its own; BENCH_LOAD gives the sizes, 10000,100000 when it is not set."""
    import subprocess
    import sys

    from tests.store.postgres import running_server

    sizes = [int(size) for size in os.environ.get("BENCH_LOAD", "10000,100000").split(",")]
    judge = os.environ | {"JUDGE": os.environ.get("JUDGE", "300")}
    for size in sizes:
        subprocess.run([sys.executable, "-m", "bench.load", str(size)], env=judge, check=True)
    with running_server() as server:
        for size in sizes:
            address = server.url(server.create())
            subprocess.run([sys.executable, "-m", "bench.load", str(size), address], env=judge, check=True)


if __name__ == "__main__":
    import sys

    address = sys.argv[2] if len(sys.argv) > 2 else ""
    one_size(int(sys.argv[1]), address, judge=int(os.environ.get("JUDGE", "0")) or None)
