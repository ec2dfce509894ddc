"""Reading a study file: TOML text to a `Study`, or every fault at once with file, line and field."""

from __future__ import annotations

from pathlib import Path, PurePosixPath
from typing import Any

from evenpull.plan.errors import SpecificationError
from evenpull.plan.locate import line_at
from evenpull.plan.toml_text import Source, check_schema, read_file, read_toml
from evenpull.plan.values import shown
from evenpull.quantities import canonical_unit
from evenpull.study.checks import check_together
from evenpull.study.model import Demands, Guess, Part, Reading, Study, Validity, Window
from evenpull.study.readings import Design, read_rows
from evenpull.study.schema import LONGEST_ROWS, STUDY_FORM, StudyFile

LARGEST = 100_000 + LONGEST_ROWS  # characters: the readings may stand in the file
WHAT = "a study file"
Beside = tuple[str, str]  # text of the readings beside the file, and the name of their file


def read_study(text: str, file: str, beside: Beside | None = None) -> Study:
    """The study in a TOML text; `file` names it in errors. Raises SpecificationError with all faults.

    `beside` holds readings that do not stand in the file itself. They are read once the file is faultless, since only
    then it is known what they have to fit to.
    """
    source = read_toml(text, file, most=LARGEST, what=WHAT, form=STUDY_FORM)
    check_schema(source, StudyFile)
    check_together(source)
    _check_beside(source, beside)
    source.refuse_if_faulty()
    data = StudyFile.model_validate(source.data)
    planned = _built(data, source)
    design = Design(planned.persons, tuple(part.name for part in planned.parts), planned.replicates, planned.part_word)
    readings: tuple[Reading, ...] = ()
    if beside is not None:
        readings = read_rows(beside[0], beside[1], design)
    elif data.readings is not None and data.readings.rows is not None:
        readings = read_rows(data.readings.rows, file, design, first_line=_first_line(source))
    return _built(data, source, readings, beside)


def read_study_file(path: Path, beside: Path | None = None) -> Study:
    """The study in a file, its readings from `beside` or from the file that it names. SpecificationError also for a
    file that is not UTF-8 or too large; OSError as is."""
    text = read_file(path, most=LARGEST, what=WHAT)
    return read_study(text, str(path), readings_beside(path, text, beside))


def readings_beside(path: Path, text: str, given: Path | None = None) -> Beside | None:
    """(text, name) of the readings that belong to a study file: those of `given`, else of the file that it names in
    readings.csv, in the same folder. None where it names none, or where it is no study file (reading it says so)."""
    if given is None:
        try:
            source = read_toml(text, str(path), most=LARGEST, what=WHAT, form=STUDY_FORM)
        except SpecificationError:
            return None
        table = source.data.get("readings")
        named = table.get("csv") if isinstance(table, dict) else None
        if not _is_name(named):
            return None
        given = path.parent / str(named)
        if not given.is_file():
            source.fault(("readings", "csv"), named, f"there is no file {shown(str(named))} beside this one",
                         "the name of a file in the same folder; or leave the key out while there are no readings")
            source.refuse_if_faulty()
    return read_file(given, most=LONGEST_ROWS, what="a file of readings"), given.name


def _is_name(text: object) -> bool:
    return isinstance(text, str) and 0 < len(text) < 200 and PurePosixPath(text).name == text and "\\" not in text


def _check_beside(source: Source, beside: Beside | None) -> None:
    table = source.data.get("readings")
    if not isinstance(table, dict):
        return
    rows, named = table.get("rows"), table.get("csv")
    if rows is not None and named is not None:
        source.fault(("readings", "csv"), named, "the readings stand in this file and in another one", "rows or csv")
    elif rows is not None and beside is not None:
        source.fault(("readings", "rows"), None, f"the readings stand in this file and in {shown(beside[1])}",
                     "one of them; to go on with a study on the page its readings must not stand in its file")
    elif rows is None and named is None:
        source.fault(("readings",), None, "the table [readings] is empty", "rows or csv; without readings leave it out")
    elif named is not None and not _is_name(named):
        source.fault(("readings", "csv"), named, f"{shown(named)} is not the name of a file beside this one",
                     "a name without folder")
    elif named is not None and beside is None:
        source.fault(("readings", "csv"), named, f"the readings of {shown(named)} were not given with this file",
                     "give both; or leave the key out while there are no readings")


def _first_line(source: Source) -> int:
    """Line of the first line of the readings: behind the quotes, or below them where nothing stands behind."""
    line = line_at(source.places, ("readings", "rows")) or 1
    stands = source.text.replace("\r\n", "\n").split("\n")[line - 1].rstrip()
    return line + 1 if stands.endswith(("'''", '"""')) else line


def _built(
    data: Any, source: Source, readings: tuple[Reading, ...] = (), beside: Beside | None = None
) -> Study:
    s, m, d, w, j, v = data.study, data.measured, data.design, data.window, data.judged, data.validity
    expected = data.expected
    return Study(
        id=s.id, name=s.name, kind=s.kind, revision=s.revision, basis=s.basis, led_by=s.led_by, tools=s.tools,
        device=s.device or "", notes=s.notes or "", quantity=m.quantity,
        unit=m.unit if m.quantity == "other" else canonical_unit(m.unit, m.quantity), resolution=m.resolution,
        hidden=m.hidden, analysed=m.analysed, persons=d.persons,
        parts=tuple(Part(one.name, one.target) for one in data.part), replicates=d.replicates, draw=d.draw,
        window=Window(w.target, w.lower, w.upper), confidence=j.confidence, content=j.content, model=j.model,
        demands=Demands(data.demand.precision, data.demand.index, data.demand.bias, data.demand.inside),
        guess=None if expected is None else Guess(expected.repeat, expected.part, expected.operator,
                                                  expected.interaction, expected.index),
        validity=Validity() if v is None else Validity(v.first, v.last, v.ends_with), readings=readings,
        text=source.text, file=source.file, rows="" if beside is None else beside[0],
        rows_file="" if beside is None else beside[1],
    )  # fmt: skip
