"""Made-up contractors and how they might write the same pulls down: a seeded generator for tests of suggestions.

Thirteen contractors with habits of their own (language, delimiter, order of day and month, units, headings). Each seed
draws words, order and presence of columns, banner lines, footer, encoding and columns that mislead. All names are
invented.
"""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from openpyxl import Workbook

from tests.intake.contractor_words import WORDS

FIELD = {  # where a column belongs in a mapping; the rest belongs nowhere
    "joint": "columns.joint", "fastener": "columns.fastener", "pass": "columns.pass", "torque": "torque.column",
    "target": "particular.target", "angle": "angle.column", "tool": "columns.tool", "counter": "columns.counter",
    "operator": "columns.operator", "result": "columns.result", "date": "time.column", "time": "time.time_column",
    "moment": "time.column", "unit": "torque.unit_column", "lot": "particular.bolt_lot",
    "order": "particular.work_order", "limit": "particular.upper", "setting": "particular.setting",
}  # fmt: skip
MISLEADING = ("size", "line", "note", "due", "lot", "order", "length", "limit", "setting", "seen", "received", "spare")
CREW = ["M. Aldercott", "T. Vänskä-Roe", "J. Pellorin", "K. Obuasi"]
NM_PER_FT_LB = 4.4482216152605 * 0.3048  # NIST SP 811, appendix B: both factors are definitions


@dataclass(frozen=True)
class Habit:
    """How one contractor writes. `units`: header, column, cell, none; `place`: what stands before the fastener."""

    name: str
    language: str
    kind: str = "csv"
    delimiter: str = ";"
    decimal: str = ","
    day: str = "%d.%m.%Y"
    hour: str = "%H:%M:%S"
    together: bool = False
    units: str = "header"
    unit: str = "Nm"
    place: str = ""
    stage: str = ""
    nested: bool = False
    encodings: tuple[str, ...] = ("utf-8", "utf-8-sig")
    typed: bool = False
    thousands: str = ""


HABITS = (
    Habit("Aldermoor Bolting", "en", delimiter=",", decimal=".", day="%d/%m/%Y", hour="%H:%M"),
    Habit("Kvistad Flenser", "no", day="%d.%m.%Y", encodings=("cp1252", "utf-8")),
    Habit("Werkgruppe Hallbach", "de", units="column", encodings=("cp1252", "utf-8-sig"), thousands="."),
    Habit("Atelier Rouvreau", "fr", day="%d/%m/%Y", units="cell", encodings=("cp1252", "utf-8")),
    Habit("Talleres Otamendi", "es", day="%d-%m-%Y", together=True),
    Habit("Officina Barzanti", "it", day="%d/%m/%Y", delimiter="\t", place="bullone "),
    Habit("Verhoeckx Montage", "nl", day="%d-%m-%y", stage="ronde "),
    Habit("Pinecrest Field Services", "en", delimiter=",", decimal=".", day="%m/%d/%Y", hour="%I:%M %p", unit="ft-lb"),
    Habit("Serras do Lima", "pt", day="%Y-%m-%d", delimiter="|", together=True),
    Habit("Hallbach Hall", "de", kind="xlsx", nested=True, typed=True, decimal="."),
    Habit("Ostrava Yard", "en", kind="xlsx", decimal=".", day="%Y-%m-%d", units="none", together=True),
    Habit("Rouvreau Nord", "fr", delimiter=";", encodings=("utf-16",), day="%Y/%m/%d", together=True, place="B"),
    Habit("Langskip Drift", "no", kind="xlsx", typed=True, decimal=".", together=True),
)  # fmt: skip


@dataclass(frozen=True)
class Pull:
    joint: str
    fastener: int
    stage: int
    newton_metres: float
    written: str
    angle: float
    tool: str
    counter: int
    operator: str
    at: datetime
    ok: bool


@dataclass(frozen=True)
class Made:
    """`truth`: heading -> its place in a mapping, "" for none; `names`: the same by role; `ambiguous`: no row settles
    day and month."""

    name: str
    data: bytes
    truth: dict[str, str]
    names: dict[str, str]
    pulls: list[Pull]
    joints: frozenset[str]
    tools: frozenset[str]
    ambiguous: bool
    habit: Habit
    ok: str


def make(seed: int) -> Made:
    """One file of one contractor; the same seed gives the same table."""
    rng = random.Random(seed)
    habit = HABITS[seed % len(HABITS)]
    pulls = _pulls(rng, habit)
    words = {role: rng.choice(options) for role, options in WORDS[habit.language].items()}
    columns = _columns(rng, habit)
    heads = {role: _head(rng, words[role], role, habit) for role in columns}
    if len(set(heads.values())) < len(heads):
        return make(seed + 100_000 * len(HABITS))  # two columns of one name: drawn again
    rows = [[_cell(rng, role, at, pull, habit, words) for role in columns] for at, pull in enumerate(pulls)]
    banner = _banner(rng, habit)
    footer = [["Total", str(len(rows))]] if rng.random() < 0.3 else []
    names = [heads[role] for role in columns]
    groups: list[list[str]] = []
    if habit.nested:
        groups, names = _groups(rng, names)
    table = [*banner, *groups, [heads[role] for role in columns], *rows, *footer]
    data = _bytes(rng, habit, table, columns, len(banner) + len(groups) + 1, pulls)
    # With two figures for the year even 26-03-26 can be read from either end.
    two_figures = "%y" in habit.day or max(pull.at.day for pull in pulls) <= 12
    open_order = not habit.typed and not habit.day.startswith("%Y") and two_figures
    known = rng.random() < 0.6
    return Made(
        f"{habit.name} {seed}.{habit.kind}", data,
        {name: FIELD.get(role, "") for name, role in zip(names, columns, strict=True)},
        dict(zip(columns, names, strict=True)), pulls,
        frozenset({p.joint for p in pulls} | {"QX-9001"}) if known else frozenset(),
        frozenset({p.tool for p in pulls} | {"ZZ-1"}) if known else frozenset(),
        open_order, habit, words["ok"],
    )


def _pulls(rng: random.Random, habit: Habit) -> list[Pull]:
    joints = [f"{rng.choice(['HX', 'P', 'V'])}-{rng.randint(100, 999)}{rng.choice('ABC')}"
              for _ in range(rng.randint(1, 3))]
    tools = [f"{rng.choice('TKW')}{rng.randint(1000, 9999)}" for _ in range(rng.randint(1, 2))]
    counters = {tool: rng.randint(120, 9000) for tool in tools}
    crew = rng.sample(CREW, rng.randint(1, 2))
    early = rng.random() < 0.4
    at = datetime(2026, rng.randint(1, 12), rng.randint(1, 9) if early else rng.randint(14, 26), 7, rng.randint(0, 59))
    base = rng.choice([90.0, 240.0, 1150.0 if habit.thousands else 560.0])
    scale = NM_PER_FT_LB if habit.unit == "ft-lb" else 1.0
    pulls = []
    for joint in dict.fromkeys(joints):
        count = rng.choice([4, 8, 12])
        tool, operator = rng.choice(tools), rng.choice(crew)
        for stage, share in enumerate((0.4, 0.7, 1.0), 1):
            order = list(range(1, count + 1))
            rng.shuffle(order)
            for number in order:
                counters[tool] += 1
                text = f"{base * share * rng.uniform(0.97, 1.03) / scale:.1f}"
                at += timedelta(seconds=rng.randint(25, 90))
                pulls.append(Pull(joint, number, stage, float(text) * scale, text, round(rng.uniform(5, 60), 1), tool,
                                  counters[tool], operator, at, rng.random() < 0.95))
        at += timedelta(hours=rng.choice([1, 5]))
    return pulls


def _columns(rng: random.Random, habit: Habit) -> list[str]:
    columns = ["joint", "fastener", "torque", *(["moment"] if habit.together else ["date", "time"])]
    columns += [role for role in ("pass", "angle", "tool", "counter", "operator", "result", "target")
                if rng.random() < 0.75]
    columns += [role for role in MISLEADING if rng.random() < 0.25]
    rng.shuffle(columns)
    if habit.units == "column":
        columns.insert(columns.index("torque") + 1, "unit")
    return columns


def _head(rng: random.Random, word: str, role: str, habit: Habit) -> str:
    if role in ("torque", "target", "limit") and habit.units == "header":
        return rng.choice(["{} ({})", "{} [{}]"]).format(word, habit.unit)
    if role == "angle":
        return f"{word} (°)" if rng.random() < 0.5 else f"{word} [deg]"
    return word


def _cell(rng: random.Random, role: str, at: int, pull: Pull, habit: Habit, words: dict[str, str]) -> str:
    def number(text: str) -> str:
        whole, _, part = text.partition(".")
        if habit.thousands and len(whole) > 3:
            whole = whole[:-3] + habit.thousands + whole[-3:]
        return whole + habit.decimal + part

    in_cell = " Nm" if habit.units == "cell" else ""
    cells: dict[str, Callable[[], str]] = {
        "joint": lambda: pull.joint, "fastener": lambda: f"{habit.place}{pull.fastener}",
        "pass": lambda: f"{habit.stage}{pull.stage}", "torque": lambda: number(pull.written) + in_cell,
        "target": lambda: number(f"{(0, 96, 168, 240)[pull.stage]}.0") + in_cell,
        "limit": lambda: number("264.0") + in_cell, "angle": lambda: number(f"{pull.angle:.1f}"),
        "tool": lambda: pull.tool, "counter": lambda: str(pull.counter), "operator": lambda: pull.operator,
        "result": lambda: words["ok"] if pull.ok else words["nok"], "date": lambda: pull.at.strftime(habit.day),
        "time": lambda: pull.at.strftime(habit.hour), "moment": lambda: pull.at.strftime(f"{habit.day} {habit.hour}"),
        "unit": lambda: habit.unit, "size": lambda: "M24", "line": lambda: str(at + 1),
        "note": lambda: rng.choice(["", "", "", "wet", "wind"]),
        "due": lambda: datetime(2026, 11, 30).strftime(habit.day),
        "lot": lambda: "H-7731", "order": lambda: "WO 55120", "length": lambda: rng.choice(["90", "110", "125"]),
        "setting": lambda: number(f"{(0, 38, 70, 101)[pull.stage]}.5"), "seen": lambda: words["ok"],
        "received": lambda: datetime(2026, 12, 28).strftime(habit.day), "spare": lambda: str(rng.randint(1, 60)),
    }  # fmt: skip
    return cells[role]()


def _banner(rng: random.Random, habit: Habit) -> list[list[str]]:
    lines = [[habit.name], ["Site: Kestrel Narrows", "Unit 2"], ["Printed", "2026-04-01"], []]
    return rng.sample(lines, rng.randint(1, 3)) if rng.random() < 0.4 else []


def _groups(rng: random.Random, names: list[str]) -> tuple[list[list[str]], list[str]]:
    cut = rng.randint(2, len(names) - 2)
    row = [""] * len(names)
    row[0], row[cut] = "Ort", "Messung"
    return [row], [f"{'Ort' if at < cut else 'Messung'} / {name}" for at, name in enumerate(names)]


def _bytes(
    rng: random.Random, habit: Habit, table: list[list[str]], columns: list[str], first: int, pulls: list[Pull]
) -> bytes:
    if habit.kind == "csv":
        out = io.StringIO(newline="")
        csv.writer(out, delimiter=habit.delimiter, lineterminator="\r\n").writerows(table)
        return out.getvalue().encode(rng.choice(habit.encodings), "replace")
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for at, row in enumerate(table):
        cells: list[object] = list(row)
        if first <= at < first + len(pulls):
            for place, role in enumerate(columns):
                moment = pulls[at - first].at
                if role in ("torque", "angle", "counter", "line", "length", "spare"):
                    cells[place] = float(row[place]) if "." in row[place] else int(row[place])
                elif habit.typed and role in ("date", "moment", "time"):
                    cells[place] = {"date": moment.date(), "time": moment.time(), "moment": moment}[role]
        sheet.append(cells)
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()
