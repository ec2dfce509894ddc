"""The study file: what it holds, every fault at once with its line, and readings that are never dropped."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.plan.errors import SpecificationError
from evenpull.plan.guide import schema_help
from evenpull.study import drawn_order, judge, order_of_person, read_study, read_study_file
from evenpull.study.guide import study_help, study_template
from evenpull.study.model import KINDS, Study
from evenpull.study.readings import Design, read_rows, value_of, write_rows
from evenpull.study.schema import ENDS, StudyFile
from tests.study.files import EXERCISE, MACHINE, PLAIN, PROCESS, ROWS, changed, study_text, with_rows


def study(text: str = PLAIN, rows: str | None = None) -> Study:
    return read_study(text, "s.toml", None if rows is None else (rows, "rows.csv"))


def faults(text: str, rows: str | None = None) -> list[str]:
    with pytest.raises(SpecificationError) as caught:
        study(text, rows)
    return [str(fault) for fault in caught.value.faults]


def test_a_study_without_readings_is_planned() -> None:
    found = study()
    assert found.state == "planned" and len(found.places) == 8 and found.part_word == "target"
    assert judge(found).line == "planned: 8 readings to be taken"


def test_rows_in_the_file_and_beside_it_are_the_same_study() -> None:
    inside, beside = study(with_rows(PLAIN)), study(PLAIN, ROWS)
    assert inside.counted.keys() == beside.counted.keys() and inside.state == beside.state == "complete"
    assert [one.value for one in inside.readings] == [one.value for one in beside.readings]
    assert list(inside.counted)[:2] == [("J. Mwangale", "150 N.m", 1), ("J. Mwangale", "300 N.m", 1)]
    assert inside.readings[1].text == "301,2" and inside.readings[1].value == 301.2
    assert judge(inside).outcome == judge(beside).outcome
    assert beside.digest == study().digest and beside.rows_digest and not inside.rows_digest


def test_a_study_with_some_readings_says_what_is_missing_and_judges_nothing() -> None:
    found = study(PLAIN, "\n".join(ROWS.splitlines()[:-2]))
    result = judge(found)
    assert result.state == "incomplete" and found.missing == (
        ("J. Mwangale", "150 N.m", 2), ("J. Mwangale", "300 N.m", 2))
    assert result.line == "incomplete: 2 of 8 readings are missing" and not result.outcome.figures
    assert result.outcome.says == ("2 readings of 8 missing: J. Mwangale, target 150 N.m, no. 2, J. Mwangale, target "
                                   "300 N.m, no. 2",)
    assert "finds what was wished for" in result.outcome.says_not[0]


def test_a_reading_left_out_is_kept_with_its_reason_and_its_place_read_again() -> None:
    rows = changed(ROWS, ("value\n", "value;left out\n"), ("1;150.8\n", "1;157.8;slipped off the square\n"
                                                           "J. Mwangale;150 N.m;1;150.8;\n"))
    found = study(PLAIN, rows)
    assert found.state == "complete" and len(found.readings) == 9 and len(found.counted) == 8
    assert "Left out: J. Mwangale, target 150 N.m, no. 1, 157.8 N.m: slipped off the square." in (
        judge(found).outcome.remarks)
    assert judge(found).outcome.figures == judge(study(PLAIN, ROWS)).outcome.figures


def test_a_place_that_could_not_be_read_is_missing_and_says_why() -> None:
    rows = changed(ROWS, ("value\n", "value;remark\n"), ("J. Mwangale;300 N.m;2;302.0", "J. Mwangale;300 N.m;2;;dark"))
    result = judge(study(PLAIN, rows))
    assert result.state == "incomplete"
    assert "J. Mwangale, target 300 N.m, no. 2 could not be read: dark." in result.outcome.remarks


def test_replicates_are_numbered_as_they_come_where_the_column_is_left_out() -> None:
    rows = "\n".join(";".join(cells[i] for i in (0, 1, 3)) for cells in (r.split(";") for r in ROWS.splitlines()))
    assert judge(study(PLAIN, rows)).outcome.figures == judge(study(PLAIN, ROWS)).outcome.figures


@pytest.mark.parametrize("mark", [",", "\t", ";"])
def test_any_usual_separator(mark: str) -> None:
    rows = ROWS.replace("301,2", "301.2").replace(";", mark)
    assert study(PLAIN, rows.replace("\n", "\r\n")).state == "complete"


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "says"),
    [
        ('kind = "repeatability and reproducibility"', 'kind = "repeatability"', 6, "study.kind", "machine capability"),
        ('unit = "N.m"', 'unit = "Newton"', 15, "measured.unit", "lbf.ft"),
        ('unit = "N.m"', 'unit = "kN"', 15, "measured.unit", "kN is a unit of force"),
        ("hidden = true", "hiden = true", 17, "measured.hiden", "did you mean 'hidden'?"),
        ('persons = ["J. Mwangale", "R. Fjeldgaard"]', 'persons = ["J. Mwangale"]', 20, "design.persons",
         "two or more; of one person or tool alone"),
        ('persons = ["J. Mwangale", "R. Fjeldgaard"]', 'persons = ["J. Mwangale", "j.  mwangale"]', 20,
         "design.persons", "are one person in the readings"),
        ("replicates = 2", "replicates = 1", 21, "design.replicates", "no repeatability"),
        ("replicates = 2", "replicates = 2.0", 21, "design.replicates", "not a whole number"),
        ('name = "300 N.m"', 'name = "150  n.M"', 28, "part.1.name", "are one part in the readings"),
        ('name = "300 N.m"', 'name = "3;00"', 28, "part.1.name", "without comma or semicolon"),
        ("upper = 6", "upper = -6", 33, "window.upper", "does not lie above"),
        ("upper = 6", "upper = inf", 33, "window.upper", "finite"),
    ],
)  # fmt: skip
def test_faults_name_line_field_and_way_out(old: str, new: str, line: int, field: str, says: str) -> None:
    found = faults(changed(PLAIN, (old, new)))
    assert any(one.startswith(f"s.toml:{line}: {field}: ") and says in one for one in found), found


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("J. Mwangale;150 N.m;1;150.8", "J. Mwangle;150 N.m;1;150.8", 2, "did you mean 'J. Mwangale'?"),
        ("J. Mwangale;300 N.m;1;301,2", "J. Mwangale;330 N.m;1;301,2", 3, "is not a target of this study"),
        ("R. Fjeldgaard;150 N.m;1;149.1", "R. Fjeldgaard;150 N.m;3;149.1", 4, "not one of the 2 replicates"),
        ("R. Fjeldgaard;150 N.m;1;149.1", "R. Fjeldgaard;150 N.m;;149.1", 4, "the replicate is missing"),
        ("R. Fjeldgaard;300 N.m;1;298.4", "R. Fjeldgaard;300 N.m;1;298.4 N.m", 5, "is not a number"),
        ("R. Fjeldgaard;300 N.m;1;298.4", "R. Fjeldgaard;300 N.m;1;1e3", 5, "no exponent"),
        ("R. Fjeldgaard;300 N.m;1;298.4", "R. Fjeldgaard;300 N.m;1;", 5, "the reading is missing"),
        ("R. Fjeldgaard;300 N.m;2;297.9", "R. Fjeldgaard;300 N.m;1;297.9", 6,
         "a second reading of the same place"),
        ("J. Mwangale;150 N.m;2;151.4", "J. Mwangale;150 N.m;2;151.4;9", 8, "the line has 5 cells, the heading 4"),
        ("J. Mwangale;150 N.m;2;151.4", 'J. Mwangale;150 N.m;2;"151.4', 8, "is no line of cells"),
        ("part;replicate;value", "part;replicat;value", 1, "did you mean 'replicate'?"),
        ("part;replicate;value", "part;replicate;torque", 1, "the column 'value' is missing"),
        ("operator;part;", "part;part;", 1, "stands there twice"),
    ],
)  # fmt: skip
def test_faults_of_readings_name_their_line(old: str, new: str, line: int, says: str) -> None:
    rows = changed(ROWS, (old, new))
    assert any(one.startswith(f"rows.csv:{line}: ") and says in one for one in faults(PLAIN, rows))
    # the same line counted in the study file itself, where the rows begin below their key
    first = PLAIN.count("\n") + 4
    inside = faults(with_rows(PLAIN, rows))
    assert any(one.startswith(f"s.toml:{first + line - 1}: ") and says in one for one in inside), inside


def test_every_fault_comes_at_once() -> None:
    text = changed(PLAIN, ('unit = "N.m"', 'unit = "x"'), ("replicates = 2", "replicates = 1"), ("= 6", "= -9"))
    assert len(faults(text)) == 3
    assert len(faults(PLAIN, changed(ROWS, ("150.8", "x"), ("149.1", "y"), ("297.9", "z")))) == 3


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (study_text(EXERCISE, replicates=5), "names none"),
        (study_text(EXERCISE, persons=["A", "B"], replicates=2, more="[window]\ntarget = 5"), "3 or more"),
        (study_text(EXERCISE, persons=["A", "B"], replicates=5), "analysed against targets, and none is stated"),
        (study_text(MACHINE, replicates=5), "judged against a window, and there is none"),
        (study_text(MACHINE, replicates=2, more="[window]\nlower = 5"), "fewer than three"),
        (study_text(MACHINE, replicates=5, parts=[("a", None)], more="[window]\nlower = 5"), "one run at one target"),
        (study_text(MACHINE, replicates=5, persons=["A"], more="[window]\nlower = 5"), "not told apart by persons"),
        (study_text(PROCESS, replicates=5, more="[window]\nlower = 5"), "a process is seen in groups"),
        (study_text(MACHINE, replicates=5, more="[window]\nlower = 5\n[demand]\nprecision = 30"), "is not asked of"),
        (study_text(EXERCISE, persons=["A"], replicates=5, more="[window]\ntarget = 5\n[demand]\ninside = 0.9"),
         "pulls lie within a window"),
        (study_text(EXERCISE, persons=["A"], replicates=5, measured='quantity = "other"\nunit = "u"\n'
                    'analysed = "share of target"', more="[window]\ntarget = 0"), "shares of a target of 0"),
        (study_text(MACHINE, replicates=5, more="[window]\nlower = 5\n[validity]\nfrom = 2026-05-01\n"
                    "until = 2026-04-01"), "before the first day"),
        (study_text(MACHINE, replicates=5, more='[window]\nlower = 5\n[judged]\nmodel = "without interaction"'),
         "has no model of persons and parts"),
        (study_text("repeatability and reproducibility", persons=["A", "B"], replicates=3,
                    more="[window]\nlower = 5\n[demand]\nprecision = 30"), "needs both limits"),
    ],
)  # fmt: skip
def test_what_a_kind_cannot_be_judged_by_is_refused(text: str, says: str) -> None:
    assert any(says in one for one in faults(text)), faults(text)


def test_readings_beside_a_file(tmp_path: Path) -> None:
    both = "[readings]\nrows = '''\nvalue\n1\n'''\ncsv = \"x.csv\"\n"
    assert any("rows or csv" in one for one in faults(PLAIN + both))
    assert any("stand in this file and in 'rows.csv'" in one for one in faults(with_rows(PLAIN), ROWS))
    assert any("were not given with this file" in one for one in faults(PLAIN + '[readings]\ncsv = "x.csv"\n'))
    assert any("a name without folder" in one for one in faults(PLAIN + '[readings]\ncsv = "../x.csv"\n', ROWS))
    assert any("is empty" in one for one in faults(PLAIN + "[readings]\n"))
    path = tmp_path / "s.toml"
    path.write_text(PLAIN + '[readings]\ncsv = "r.csv"\n')
    with pytest.raises(SpecificationError, match=r"s\.toml:\d+: readings\.csv: there is no file 'r\.csv'"):
        read_study_file(path)
    (tmp_path / "r.csv").write_text(ROWS)
    assert read_study_file(path).state == "complete"
    other = tmp_path / "other.csv"
    other.write_text("\n".join(ROWS.splitlines()[:3]))
    assert read_study_file(path, other).state == "incomplete"


@pytest.mark.parametrize("kind", KINDS)
def test_templates_read_as_planned_studies(kind: str) -> None:
    result = judge(read_study(study_template(kind), "t.toml"))
    assert result.state == "planned" and not result.outcome.remarks and len(result.outcome.says) > 1
    for row in study_help():
        assert f"{row.field.rpartition('.')[2]} = " in study_template(kind), row.field
    with pytest.raises(ValueError, match="is not a kind"):
        study_template("else")


def test_the_help_names_every_end_and_every_key() -> None:
    row = next(one for one in schema_help(StudyFile) if one.field == "validity.ends_with")
    assert all(name in row.allowed for name in ENDS)
    assert all(one.meaning and one.allowed and one.example for one in study_help())


# rows ----------------------------------------------------------------------------------------------------------------

NAMES = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=12).map(
    str.strip).filter(lambda t: t and "," not in t and ";" not in t)


@given(st.lists(st.tuples(st.integers(0, 1), st.integers(0, 1), st.integers(1, 3),
                          st.decimals(-999, 999, places=3).map(str), NAMES | st.just("")), max_size=12,
                unique_by=lambda row: row[:3]))
def test_what_is_written_is_read_back(rows: list[tuple[int, int, int, str, str]]) -> None:
    design = Design(("Ann O.", "Bo"), ("low", "high"), 3, "part")
    text = "operator;part;replicate;value;remark\n" + "".join(
        f'{design.persons[o]};{design.parts[p]};{n};{value};"{remark.replace(chr(34), chr(34) * 2)}"\n'
        for o, p, n, value, remark in rows)
    found = read_rows(text, "r.csv", design)
    assert [(one.place[2], one.text, one.value) for one in found] == [(r[2], r[3], float(r[3])) for r in rows]
    assert [one.remark for one in found] == [" ".join(r[4].split()) for r in rows]
    again = read_rows(write_rows(found, group=False), "r.csv", design)
    assert [(o.place, o.text, o.remark) for o in again] == [(o.place, o.text, o.remark) for o in found]


@pytest.mark.parametrize("text", ["", "1e3", "nan", "12.", ".5", "1 000", "٣", "1.234.5", "--1", "9" * 16])
def test_what_is_no_reading(text: str) -> None:
    with pytest.raises(ValueError, match="is not a number"):
        value_of(text)


# order ---------------------------------------------------------------------------------------------------------------


def test_the_order_is_drawn_once_and_for_all() -> None:
    """Kept here as it was drawn first: another program that sorts the same SHA-256 digests draws the same."""
    found = study()
    order = drawn_order(found)
    assert sorted(order) == sorted(found.places) and order == drawn_order(found)
    assert [place[2] for place in order] == [1, 1, 1, 1, 2, 2, 2, 2]
    from hashlib import sha256

    def lot(*parts: str) -> bytes:
        return sha256("\n".join(("T-ST-1", "1", *parts)).encode()).digest()

    first = min(found.persons, key=lambda name: lot("1", "person", name))
    assert order[0] == (first, min(found.part_names, key=lambda name: lot("1", first, "part", name)), 1)
    others = [study(changed(PLAIN, ("replicates = 2", f'replicates = 2\ndraw = "{n}"'))) for n in range(2, 9)]
    assert len({drawn_order(one) for one in others}) > 1
    assert order_of_person(found, "R. Fjeldgaard") == tuple(p for p in order if p[0] == "R. Fjeldgaard")


def test_groups_of_a_process_stand_in_the_order_of_time() -> None:
    text = study_text(PROCESS, parts=[(f"G{g}", None) for g in (3, 1, 2)], replicates=2, more="[window]\nlower = 1")
    assert [place[1] for place in drawn_order(read_study(text, "s"))] == ["G3", "G3", "G1", "G1", "G2", "G2"]
