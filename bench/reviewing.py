"""Review of one tool over many tightenings, database included, against reading the same rows with a bare query."""

from __future__ import annotations

import json
import os
import re
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


KIND = re.compile(r'^(?:class|thread|torque) = "([^"]+)"', re.M)


def prepare(folder: Path, tightenings: int, database: str = "") -> None:
    """A dossier in which one tool did everything, with what its joints ask kept as their findings would leave it."""
    works = made.make(folder, tightenings, tools=1)
    set_up(folder / "home", database)
    from evenpull.store import services

    services.add_tools(works.tools, "tools.toml", "bench")
    services.add_mapping(made.MAPPING, "works.toml", "bench")
    services.add_certificates(CERTIFICATES, "certificates.toml", "bench", confirmed=True)
    texts = [(text, "made.toml") for text in works.joints]
    for n in range(0, len(texts), 2000):
        services.add_joints(texts[n : n + 2000], "bench")
    for path in works.files:
        services.commit_file(path.name, path, "works", "bench")
    keep_bases(works.joints)


def keep_bases(joints: list[str]) -> None:
    """One joint of each kind is planned, the others of its kind ask the same under their own id: what the findings of
    all joints write, in a small part of their time. Some are planned after all, and have to be equal."""
    from evenpull.store.models import Basis, Mention
    from evenpull.store.services import bases, facts
    from evenpull.store.services.log import writing

    known: dict[tuple[str, ...], list[object]] = {}
    ids = [made.joint_id(n) for n in range(len(joints))]
    specs = dict(Mention.objects.filter(kind="kind", name=bases.SPECIFICATION).values_list("fold", "seq"))
    planned = len(ids) // 7 + 1
    rows = []
    for n, (joint, text) in enumerate(zip(ids, joints, strict=True)):
        kind, fold = tuple(KIND.findall(text)), facts.fold(joint)
        if kind not in known or n % planned == planned - 1:
            bases.of([fold])
            body = json.loads(Basis.objects.values_list("body", flat=True).get(fold=fold))
            if known.setdefault(kind, body)[1:] != body[1:]:
                raise AssertionError(f"{joint} does not ask what others of its kind ask")
        rows.append((fold, specs[fold], json.dumps([joint, *known[kind][1:]])))
    with writing():
        bases.keep(rows)


def one_size(tightenings: int, database: str = "", repeat: int = 3) -> None:
    """Take in records of one tool, then review it; prints the ratio."""
    with tempfile.TemporaryDirectory() as name:
        prepare(Path(name), tightenings, database)
        measure(database, repeat)


def measure(database: str, repeat: int) -> None:
    from evenpull.review import Found, lots
    from evenpull.store.models import Pull
    from evenpull.store.services import reviewing, touching
    from evenpull.store.services.bulk import fetched

    found = Found(kind="out of tolerance", serial=TOOL, at=datetime(2028, 1, 2, tzinfo=UTC).timestamp(),
                  words="five percent high", certificate="K-2",
                  event=datetime(2025, 2, 1, tzinfo=UTC).timestamp())
    start = datetime(2024, 12, 20, tzinfo=UTC).timestamp()

    def bare() -> int:
        return len(fetched(touching.query([TOOL], start, found.at), touching.COLUMNS))

    def whole() -> object:
        now = reviewing.compute(found)
        return now.numbers(), now.outcome.by_class(), now.outcome.by_state(), lots(now.outcome), now.digest

    rows, joints = bare(), Pull.objects.order_by().values("fold").distinct().count()
    bound = statistics.median(timed(bare).wall for _ in range(repeat))
    spent = statistics.median(timed(whole).wall for _ in range(repeat))
    counts = reviewing.compute(found).outcome.counts
    where = "PostgreSQL" if database else "SQLite"
    print(f"{where}, {rows:,} tightenings of one tool on {joints:,} joints")
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
