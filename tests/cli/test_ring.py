"""The command ring: text, table, loads and data of a ring file; faults as lines of the file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenpull.prediction.notes import INTERACTION_ONLY, NO_LICENCE, PREDICTED
from tests.cli.calling import call
from tests.prediction.files import PLAIN, changed

MORE = '[[procedure]]\nname = "one pass"\norder = "star"\npasses = [1.0]\n'


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "ring.toml"
    path.write_text(PLAIN + MORE, encoding="utf-8")
    return path


def plain(text: str) -> str:
    return " ".join(text.split())


def test_text_shows_each_procedure_with_its_demands(file: Path) -> None:
    out = call("ring", file).stdout
    text = plain(out)
    assert "star: accepted" in text and "one pass: accepted" in text
    assert "24 pulls" in text and "8 pulls" in text
    assert "accepted: highest bolt load on the way" in text and "not judged: least load at the end" in text
    assert f"all figures: {INTERACTION_ONLY}" in text
    assert PREDICTED in text and NO_LICENCE in text and "no yield of flange or bolt" in text
    assert max(map(len, out.splitlines())) <= 80


def test_table_of_all_procedures_says_what_its_columns_are(file: Path) -> None:
    out = call("ring", file, "--compare").stdout
    rows = [line.split() for line in out.splitlines() if line.startswith(("   1  ", "   2  "))]
    assert [int(row[1]) for row in rows[:2]] == [24, 8]
    assert float(rows[1][5]) > float(rows[0][5]) > 0  # spread
    head = plain(out)
    assert f"Procedures beside each other, {INTERACTION_ONLY}" in head and "spread = (largest load" in head
    assert max(map(len, out.splitlines())) <= 80


def test_loads_after_every_pull(file: Path) -> None:
    out = call("ring", file, "--procedure", "one pass", "--loads").stdout
    rows = [line.split() for line in out.splitlines() if line[:6].strip().isdigit() and ":" not in line]
    assert [row[0] for row in rows] == [str(number) for number in range(1, 9)]
    assert rows[0][1:3] == ["1", "100.0"] and rows[-1][-1] == "100.0"
    assert "star: " not in out and max(map(len, out.splitlines())) <= 80


def test_data_holds_loads_and_sources(file: Path) -> None:
    data = json.loads(call("ring", file, "--json").stdout)
    assert data["kind"] == INTERACTION_ONLY and PREDICTED in data["notes"]
    first = data["procedures"][0]
    assert len(first["loads_N"]) == len(first["pulls"]) == 24 and len(first["loads_N"][0]) == 8
    assert first["least"] == pytest.approx(min(first["loads_N"][-1]) / 98e3)
    assert any(row["field"] == "bolt.stiffness" and "VDI" in row["source"] for row in data["inputs"])


def test_inputs_say_where_they_come_from(file: Path) -> None:
    assert "bolt.stiffness" not in call("ring", file).stdout
    text = plain(call("ring", file, "--inputs").stdout)
    assert "flange.bore = 200 mm inside diameter of the ring [T-SPEC 1]" in text
    assert "facing.unloading = 1200 MPa/mm" in text and "[T-SHEET 2]" in text
    assert "bolt.stiffness = " in text and "VDI 2230-1" in text and "ISO 898-1" in text


def test_a_procedure_that_is_not_there_is_refused_with_those_that_are(file: Path) -> None:
    error = call("ring", file, "--procedure", "two passes", code=2).stderr
    assert "'two passes' is not in the file" in error and "'one pass'" in error


def test_template_can_be_predicted_at_once(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    path.write_text(call("ring", "--new").stdout, encoding="utf-8")
    assert "NEW-RING" in call("ring", path).stdout
    assert "evenpull ring --new" in call("ring", code=2).stderr


def test_faults_are_lines_of_the_file(file: Path) -> None:
    text = changed(changed(PLAIN, "count = 8", "count = 2"), '"60 MPa"', '"6 MPa"')
    file.write_text(text, encoding="utf-8")
    lines = call("ring", file, code=2).stderr.splitlines()
    assert [line.split(":")[2].strip() for line in lines] == ["bolt.count", "facing.curve.2"]
    assert all(line.startswith(f"{file}:") and "allowed: " in line for line in lines)


SCATTER = '[scatter]\nK_nut = "6 %"\nassemblies = 400\nbasis = "T-TEST 3"\n'


def test_torque_results_stand_apart_from_interaction_results(file: Path) -> None:
    assert "no [scatter] in the file" in plain(call("ring", file, "--scatter", code=2).stderr)
    file.write_text(changed(PLAIN, 'load = "98 kN"', 'load = "98 kN"\nK = 0.16') + MORE + SCATTER, encoding="utf-8")
    out = call("ring", file, "--scatter", "--procedure", "one pass").stdout
    text = plain(out)
    assert "torque control with scatter" in text and INTERACTION_ONLY not in text
    assert "floor: what friction and tools alone leave" in text and PREDICTED in text and NO_LICENCE in text
    assert max(map(len, out.splitlines())) <= 80
    rows = [line.split() for line in out.splitlines() if line[:6].strip().isdigit() and "(" in line]
    assert len(rows) == 8 and all(float(row[1]) < float(row[2]) < float(row[3]) for row in rows)
    for other in ("--compare", "--loads"):
        assert "table of its own" in call("ring", file, "--scatter", other, code=2).stderr


def test_torque_data_holds_nothing_of_interaction(file: Path) -> None:
    file.write_text(changed(PLAIN, 'load = "98 kN"', 'load = "98 kN"\nK = 0.16') + MORE + SCATTER, encoding="utf-8")
    data = json.loads(call("ring", file, "--scatter", "--procedure", "one pass", "--json").stdout)
    assert data["kind"].startswith("torque control") and "loads_N" not in data["procedures"][0]
    assert data["procedures"][0]["torques_N_m"][0] == [pytest.approx(0.16 * 98e3 * 0.020)]
