"""Review of one tool over many tightenings, database included, against reading the same rows with a bare query."""

from __future__ import annotations

import os
import statistics
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from bench import made
from bench.load import set_up, timed

TOOL = "TW-00000"
CERTIFICATES = 'form = "evenpull certificates 1"\n' + "".join(
    f"""
[[certificate]]
serial = "{TOOL}"
number = "{number}"
calibrated = {day}
valid_until = {last}
laboratory = "Tidewater Metrology"
standards = ["RS-1"]
unit = "N.m"
permissible = "4 %"
rule = "simple acceptance"
counter = {counter}
""" + "".join(f"""
[[certificate.point]]
stage = "{stage}"
direction = "clockwise"
nominal = {nominal}
reference = {nominal / factor}
uncertainty = "1.2 %"
""" for stage, factor in stages for nominal in (20.0, 300.0, 1000.0))
    for number, day, last, counter, stages in (
        ("K-1", "2024-12-20", "2027-12-31", 1, (("as left", 1.005),)),
        ("K-2", "2028-01-01", "2028-12-30", 2_000_000, (("as found", 1.05), ("as left", 1.0))),
    )
)


def one_size(tightenings: int, database: str = "", repeat: int = 3) -> None:
    """Take in records of one tool, then review it; prints the ratio."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        works = made.make(folder, tightenings, tools=1)
        set_up(folder / "home", database)
        from evenpull.review import Found, lots
        from evenpull.store import services
        from evenpull.store.models import Pull
        from evenpull.store.services import bases, reviewing, touching

        services.add_tools(works.tools, "tools.toml", "bench")
        services.add_mapping(made.MAPPING, "works.toml", "bench")
        services.add_certificates(CERTIFICATES, "certificates.toml", "bench", confirmed=True)
        texts = [(text, "made.toml") for text in works.joints]
        for n in range(0, len(texts), 2000):
            services.add_joints(texts[n : n + 2000], "bench")
        for path in works.files:
            services.commit_file(path.name, path, "works", "bench")
        folds = list(Pull.objects.order_by().values_list("fold", flat=True).distinct())
        kept = timed(lambda: bases.of(folds))  # written with the findings of the joints; here at once
        found = Found(kind="out of tolerance", serial=TOOL, at=datetime(2028, 1, 2, tzinfo=UTC).timestamp(),
                      words="five percent high", certificate="K-2",
                      event=datetime(2025, 2, 1, tzinfo=UTC).timestamp())
        start = datetime(2024, 12, 20, tzinfo=UTC).timestamp()

        def bare() -> int:
            return len(touching.fetched(touching.query([TOOL], start, found.at)))

        def whole() -> object:
            now = reviewing.compute(found)
            return now.numbers(), now.outcome.by_class(), now.outcome.by_state(), lots(now.outcome), now.digest

        rows = bare()
        bound = statistics.median(timed(bare).wall for _ in range(repeat))
        spent = statistics.median(timed(whole).wall for _ in range(repeat))
        counts = reviewing.compute(found).outcome.counts
        where = "PostgreSQL" if database else "SQLite"
        print(f"{where}, {rows:,} tightenings of one tool on {len(folds):,} joints (bases kept in {kept.wall:.0f} s)")
        print(f"  review                {spent:8.3f} s   {spent / bound:5.2f} x  a bare query of the same rows "
              f"({bound:.3f} s)")
        print("  " + ", ".join(f"{n:,} {verdict.words}" for verdict, n in counts.items()), flush=True)


def run() -> None:
    """Both databases; BENCH_REVIEW gives the number of tightenings, 100000 when it is not set."""
    import subprocess
    import sys

    from tests.store.postgres import running_server

    size = os.environ.get("BENCH_REVIEW", "100000")
    with running_server() as server:
        for where in ("SQLite", "PostgreSQL"):
            more = [server.url(server.create())] if where == "PostgreSQL" else []
            subprocess.run([sys.executable, "-m", "bench.reviewing", size, *more], check=True)


if __name__ == "__main__":
    import sys

    one_size(int(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "")
