"""The command calculate: text, data, comparison and PDF of a calculation file, and of one kept in the dossier."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenpull.demo import scenario
from tests.calculation.files import changed, plain
from tests.cli.calling import call


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "cover.toml"
    path.write_text(plain("shigley", "nasa5020") + "[space]\nGamma = 0.25\n", encoding="utf-8")
    return path


def test_text_shows_every_step_with_its_numbers(file: Path) -> None:
    lines = call("calculate", file).stdout.splitlines()
    text = " ".join(" ".join(lines).split())
    assert "T = 70000 N·mm (70 N·m)" in text and "F_i = T / (K d) = 70000 / (" in text
    assert "lines computed again from their formula and printed numbers" in text
    assert "Spread of the load" in text and "Monte Carlo" in text
    assert max(map(len, lines)) <= 80


def test_data_is_the_result_of_the_rule_set(file: Path) -> None:
    data = json.loads(call("calculate", file, "--rule", "shigley", "--json").stdout)
    (part,) = data["rules"]
    torque = next(step for step in part["steps"] if step["symbol"] == "T")
    assert part["key"] == "shigley" and torque["value"] == 70.0 and data["calculation"] == "T-1"


def test_two_rule_sets_beside_each_other(file: Path) -> None:
    text = " ".join(call("calculate", file, "--compare", "shigley", "nasa5020").stdout.split())
    assert "quantities stand in both" in text and "preload at assembly, aimed at:" in text


def test_pdf_is_written_and_replaces_nothing(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    call("calculate", file, "--pdf", out)
    assert out.read_bytes().startswith(b"%PDF-1.7")
    before = out.read_bytes()
    assert "exists already" in call("calculate", file, "--pdf", out, code=2).stderr
    assert out.read_bytes() == before


def test_template_can_be_calculated_at_once(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    path.write_text(call("calculate", "--new").stdout, encoding="utf-8")
    assert "NEW-CALCULATION" in call("calculate", path).stdout


def test_faults_are_lines_of_the_file(file: Path) -> None:
    file.write_text(changed(changed(plain(), 'thread = "M12"', 'thread = "M13"'), "n = 0.5", "n = 2"))
    lines = call("calculate", file, code=2).stderr.splitlines()
    assert [line.split(":")[2].strip() for line in lines] == ["bolt.thread", "loads.n"]
    assert all(line.startswith(f"{file}:") for line in lines)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--rule", "dowel"], "is not a rule set; there are:"),
        (["--compare", "shigley", "structural_eu"], "cannot be applied"),
        (["--compare", "shigley", "shigley"], "twice"),
    ],
)
def test_refusals(file: Path, words: list[str], says: str) -> None:
    assert says in call("calculate", file, *words, code=2).stderr


def test_nothing_named() -> None:
    assert "--new" in call("calculate", code=2).stderr


def test_kept_in_the_dossier_by_add_and_calculated_by_its_id(dossier: Path, tmp_path: Path) -> None:
    for name in ("kn-tb-001", "kn-tb-001-c1"):
        text = scenario.calculation_text(name) if name.endswith("-c1") else scenario.joint_text(name)
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    files = [tmp_path / "kn-tb-001.toml", tmp_path / "kn-tb-001-c1.toml"]
    assert "calculation KN-TB-001-C1 written" in call("add", *files, "--by", "T. Abernethy-Voss").stdout
    assert "as it was, nothing written" in call("add", files[1], "--by", "T. Abernethy-Voss").stdout
    assert "1450 N·m" in call("calculate", "KN-TB-001-C1").stdout
    assert "near: KN-TB-001-C1" in call("calculate", "KN-TB-001-C7", code=2).stderr
