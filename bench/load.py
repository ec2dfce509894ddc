"""The dossier under load: taking in, judging, asking, at 10,000, 100,000 and 1,000,000 tightenings."""

from __future__ import annotations

import os
import sqlite3
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


def bare_sqlite(files: list[Path], path: Path) -> float:
    """Polars reads the files; the rows are inserted as they are into one table with a key and two indexes."""
    import polars as pl

    def work() -> None:
        connection = sqlite3.connect(path)
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute(
            "CREATE TABLE bare (no INTEGER, at TEXT, joint TEXT, bolt INTEGER, pass INTEGER, torque REAL, angle REAL, "
            "turned TEXT, ended TEXT, who TEXT, tool TEXT, PRIMARY KEY (tool, no))"
        )
        connection.execute("CREATE INDEX bare_joint ON bare (joint)")
        connection.execute("CREATE INDEX bare_who ON bare (who)")
        for file in files:
            rows = pl.read_csv(file, separator=";").rows()
            with connection:
                connection.executemany("INSERT INTO bare VALUES (?,?,?,?,?,?,?,?,?,?,?)", rows)
        connection.close()

    return timed(work)


def take_in(works: made.Works) -> dict[str, float]:
    """Seconds of describing and of taking in through the services."""
    from evenpull.store import services

    found = {}
    found["tools"] = timed(lambda: services.add_tools(works.tools, "tools.toml", "bench"))
    services.add_mapping(made.MAPPING, "works.toml", "bench")
    found["joints"] = timed(lambda: services.add_joints([(text, "made.toml") for text in works.joints], "bench"))
    found["records"] = timed(
        lambda: [services.commit_file(path.name, path, "works", "bench") for path in works.files]
    )
    return found


def main(tightenings: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        works = made.make(folder, tightenings)
        set_up(folder / "home")
        bound = bare_sqlite(works.files, folder / "bare.sqlite3")
        found = take_in(works)
        rate = works.rows / found["records"]
        print(f"{works.rows:,} rows: bare {bound:.1f} s, taken in {found['records']:.1f} s = {rate:,.0f} rows/s, ratio "
              f"{found['records'] / bound:.1f}; joints {found['joints']:.1f} s, tools {found['tools']:.1f} s")  # fmt: skip


if __name__ == "__main__":
    import sys

    main(int(sys.argv[1]))
