"""Help for the schema of a study file and a commented file to start from for each kind, made from the schema itself."""

from __future__ import annotations

from collections.abc import Mapping

from evenpull.plan.guide import WIDTH, HelpRow, field_at, schema_help
from evenpull.study.model import KINDS
from evenpull.study.schema import STUDY_FORM, StudyFile

# Whoever saves a template unchanged must not seem to have studied a tool or a person that exists.
_UNNAMED = {
    "study.id": '"NEW-STUDY"', "study.name": '"not stated yet"', "study.basis": '"not stated yet"',
    "study.revision": '"none"', "study.led_by": '"nobody yet"', "study.notes": '"Template: not for work."',
    "study.tools": '["TOOL-1"]', "measured.resolution": "0.1", "measured.hidden": "true", "design.replicates": "3",
}
_PERSONS = {"design.persons": '["first person", "second person", "third person"]'}
_PARTS = (('"100 N.m"', "100"), ('"150 N.m"', "150"), ('"200 N.m"', "200"))
_START: Mapping[str, Mapping[str, str]] = {
    "repeatability and reproducibility": {
        **_PERSONS, "measured.analysed": '"difference from target"', "window.lower": "-6", "window.upper": "6",
        "judged.model": '"with interaction"', "demand.precision": "30", "expected.repeat": "1.2",
        "expected.operator": "0.6", "expected.part": "1",
    },
    "machine capability": {
        "design.replicates": "50", "window.target": "150", "window.lower": "144", "window.upper": "156",
        "demand.index": "1.67", "expected.repeat": "1", "expected.index": "2",
    },
    "process capability": {
        "design.replicates": "5", "window.lower": "144", "window.upper": "156", "demand.index": "1.33",
        "expected.repeat": "1", "expected.index": "1.6",
    },
    "operator exercise": {
        **_PERSONS, "design.replicates": "10", "measured.analysed": '"share of target"', "window.target": "150",
        "window.lower": "-4", "window.upper": "4", "demand.bias": "3", "demand.inside": "0.7", "expected.repeat": "1.5",
        "validity.ends_with": '["exercise not passed", "another tool"]',
    },
}
_READINGS = {"readings.rows": "'''operator;part;replicate;value ...'''"}  # an example of one line
_GROUPS = (('"group 1"', ""), ('"group 2"', ""), ('"group 3"', ""), ('"group 4"', ""), ('"group 5"', ""))


def study_help() -> tuple[HelpRow, ...]:
    """Every key of a study file in the order of the file."""
    return schema_help(StudyFile)


def study_template(kind: str = KINDS[0]) -> str:
    """A study file of this kind to start from: it reads without error as a planned study, every key is explained, keys
    that are not needed stand in comments. ValueError for a kind that is none."""
    if kind not in _START:
        raise ValueError(f"{kind!r} is not a kind of study; there are: {', '.join(KINDS)}")
    values = {**_UNNAMED, "study.kind": f'"{kind}"', "validity.until": "2027-03-19", **_START[kind]}
    parts = _PARTS if kind == KINDS[0] else _GROUPS if kind == "process capability" else ()
    lines = [
        f'form = "{STUDY_FORM}"', "",
        "# Every key is explained beside it. Lines that begin with # are not used.",
        "# All values are examples: replace them by those of your study. Readings are added when they are taken,",
        "# on the page, from a printed card, or from a file of readings.",
    ]  # fmt: skip
    table = ""
    for row in study_help():
        above, _, name = row.field.rpartition(".")
        if above == "part":
            if table != "part":
                table = "part"
                lines += _part_lines(parts)
            continue
        used = any(key.rpartition(".")[0] == above for key in values)
        if above != table:
            table = above
            lines += ["", f"[{table}]" if used else f"# [{table}]"]
        lines.append(_line(row, name, values, used))
    return "\n".join(lines) + "\n"


def _part_lines(parts: tuple[tuple[str, str], ...]) -> list[str]:
    meaning = {row.field: f"{row.meaning}; {row.allowed}" for row in study_help()}
    lines = []
    for place, (name, target) in enumerate(parts or (('"one"', "100"),)):
        mark = "" if parts else "# "
        lines += ["", f"{mark}[[part]]"]
        for key, value in (("name", name), ("target", target)):
            if not value:
                continue
            text = f"{mark}{key} = {value}"
            lines.append(f"{text:<{WIDTH}}  # {meaning[f'part.{key}']}" if place == 0 else text)
    return lines


def _line(row: HelpRow, name: str, values: Mapping[str, str], used: bool) -> str:
    info = field_at(StudyFile, row.field)
    needed = info is not None and info.is_required()
    value = _READINGS.get(row.field) or values.get(row.field) or row.default or row.example
    text = f"{name} = {value}"
    if not (used and (needed or row.field in values)):
        text = f"# {text}"
    return f"{text:<{WIDTH}}  # {row.meaning}; {row.allowed}"
