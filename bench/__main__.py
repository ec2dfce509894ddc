"""python -m bench: time and ratio of the steps that grow with the number of records. Nothing is asserted here."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROWS = 20_000
REPEAT = 3

JOINT = """form = "evenpull joint 1"
[joint]
id = "KN-BENCH-1"
name = "bench"
place = "Kestrel Narrows / bench"
kind = "general assembly"
class = "C"
viewed_from = "the front"
first_fastener = "on top"
numbering = "clockwise"
[source]
document = "KN-SPEC-0999"
revision = "A"
place = "table 1"
approved_by = "M. Okonjo-Reyes"
in_force_from = 2026-01-05
[fasteners]
count = 200
thread = "M10"
class = "8.8"
length = "45 mm"
head = "hexagon"
counterpart = "nut"
nut_class = "8"
washer_under_head = true
washer_under_nut = true
hole = "medium"
turned = "nut"
condition = "new"
circle = "900 mm"
[[clamped]]
part = "plate"
material = "steel"
thickness = "20 mm"
[friction]
lubricant = "oil film"
[target]
method = "torque"
rule = "friction"
torque = "40 N.m"
tolerance = "8 %"
[procedure]
order = "circular"
passes = [50, 100]
[tools]
allowed = ["TW-1"]
[series]
unit_name = "unit"
"""
TOOLS = """form = "evenpull tools 1"
[[tool]]
serial = "TW-1"
name = "click wrench"
kind = "setting"
unit = "N.m"
range = ["10 N.m", "100 N.m"]
resolution = "0.5 N.m"
uncertainty = "3 %"
certificate = "C-1"
certificate_from = 2026-01-01
certificate_until = 2027-12-31
"""
MAPPING = """form = "evenpull mapping 1"
name = "bench"
[file]
kind = "csv"
encoding = "utf-8"
delimiter = ";"
decimal = ","
header_rows = [1]
[time]
column = "when"
format = "%d.%m.%Y %H:%M:%S"
zone = "Europe/London"
[columns]
joint = "joint"
unit = "unit"
fastener = "bolt"
pass = "pass"
tool = { value = "TW-1" }
counter = "no"
operator = "who"
direction = "turned"
end_cause = "end"
[torque]
column = "torque"
unit = "N.m"
[meaning]
direction.tighten = ["R"]
end_cause.reached = ["reached"]
"""


def records() -> bytes:
    """20,000 invented rows: 50 units of 200 fasteners in two passes."""
    lines = ["no;when;joint;unit;bolt;pass;torque;turned;end;who"]
    for number in range(ROWS):
        unit, place = divmod(number, 400)
        level, bolt = divmod(place, 200)
        torque = (20 if level == 0 else 40) * (1 + ((number * 7919) % 100 - 50) / 1000)
        hour, rest = divmod(number, 3600)
        when = f"{2 + hour // 20:02d}.03.2026 {hour % 20:02d}:{rest // 60:02d}:{rest % 60:02d}"
        text = f"{torque:.2f}".replace(".", ",")
        lines.append(f"{number};{when};KN-BENCH-1;U{unit};{bolt + 1};{level + 1};{text};R;reached;A. Lindqvist")
    return ("\n".join(lines) + "\n").encode()


def timed(act: Callable[[], object], repeat: int = REPEAT) -> float:
    """Median of `repeat` runs, seconds."""
    spent = []
    for _ in range(repeat):
        start = time.perf_counter()
        act()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def line(name: str, seconds: float, bound_name: str, bound: float) -> None:
    print(f"{name:<44} {seconds:8.3f} s   {seconds / bound:8.1f} x  {bound_name} ({bound:.3f} s)")


def main() -> None:
    from bench import cards, joints, rings

    joints.run(timed, line)
    print()
    rings.run_all(timed, line)
    print()
    print("cards filled in, aged and read back (docs/scan.md; limits were set on other seeds)")
    cards.run()
    print()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["EVENPULL_HOME"] = f"{folder}/home"
        os.environ["DJANGO_SETTINGS_MODULE"] = "evenpull.store.settings"
        os.environ.pop("EVENPULL_DATABASE", None)
        import django

        django.setup()
        measure(Path(folder))


def measure(folder: Path) -> None:
    from evenpull.evidence import Frontier, verify
    from evenpull.intake import from_json, read_bytes, read_mapping, to_json
    from evenpull.proof import prove
    from evenpull.store import services

    data = records()
    mapping = read_mapping(MAPPING, "bench.toml")
    print(f"{ROWS} rows, {len(data) / 1e6:.1f} MB; median of {REPEAT} runs; ratio to the bound named at the right\n")

    bound = timed(lambda: list(csv.reader(io.StringIO(data.decode()), delimiter=";")))
    spent = timed(lambda: read_bytes(data, mapping, "b.csv"))
    line("read a CSV file into records", spent, "csv module, same file", bound)

    reading = read_bytes(data, mapping, "b.csv")
    texts = [json.dumps(to_json(t)) for t in reading.tightenings]
    bound = timed(lambda: [json.loads(text) for text in texts])
    spent = timed(lambda: [from_json(json.loads(t)) for t in texts])
    line("records from their stored text", spent, "json.loads", bound)

    services.prepare()
    services.add_tools(TOOLS, "tools.toml", "Bench Bencher")
    services.add_joint(JOINT, "joint.toml", "Bench Bencher")
    services.add_mapping(MAPPING, "bench.toml", "Bench Bencher")

    def plain_insert() -> None:
        with sqlite3.connect(folder / f"{time.time_ns()}.sqlite3") as db:
            db.execute("PRAGMA journal_mode=WAL")
            db.execute("CREATE TABLE t (n INTEGER PRIMARY KEY, k TEXT UNIQUE, body TEXT)")
            db.executemany("INSERT INTO t VALUES (?, ?, ?)", ((i, str(i), text) for i, text in enumerate(texts)))

    bound = timed(plain_insert)
    start = time.perf_counter()
    services.commit_file("b.csv", data, "bench", "Bench Bencher")
    line("take in the file (read, compare, log, sign)", time.perf_counter() - start, "sqlite3 insert, same text", bound)
    spent = timed(lambda: services.commit_file("b.csv", data, "bench", "Bench Bencher"))
    line("take in the same file again", spent, "sqlite3 insert, same text", bound)

    view = services.joint("KN-BENCH-1")
    bound = timed(lambda: [from_json(json.loads(text)) for text in texts])
    spent = timed(lambda: prove(view.plan, view.tightenings))
    line("judge all records of the joint", spent, "only building the records", bound)
    spent = timed(lambda: services.joint("KN-BENCH-1"))
    line("one joint for its page", spent, "only building the records", bound)
    services.joints()
    line("list of joints, findings kept", timed(services.joints), "only building the records", bound)

    digests = [hashlib.sha256(text.encode()).digest() for text in texts]
    bound = timed(lambda: [hashlib.sha256(value).digest() for value in digests])
    spent = timed(lambda: Frontier().extended(digests).root)
    line("append to the log, root", spent, "SHA-256 of each digest", bound)

    path = services.export_bundle("KN-BENCH-1", folder / "bundle.zip")
    whole = path.read_bytes()
    bound = timed(lambda: [json.loads(text) for text in texts] and hashlib.sha256(whole).digest())
    spent = timed(lambda: verify(path))
    line(f"verify a bundle of {len(whole) / 1e6:.0f} MB", spent, "parse facts, hash the file", bound)


if __name__ == "__main__":
    main()
    from bench import load

    print("the dossier under load (BENCH_LOAD=10000,100000,1000000 for more)", flush=True)
    load.run()
    from bench import reviewing

    print("review of one tool over many tightenings (BENCH_REVIEW=1000000 for more)", flush=True)
    reviewing.run()
    from bench import curves

    print("torque-angle curves from Parquet (BENCH_CURVES=2000000 for more)", flush=True)
    curves.run()
