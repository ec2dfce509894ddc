"""The commands of studies: from a file to start from to a judged study; planning, samples, drift."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenpull.study.model import KINDS
from tests.cli.calling import call
from tests.study.files import PLAIN, ROWS, changed, with_rows

BY = ("--by", "V. Sunde-Farrow")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "wrench.toml"
    path.write_text(PLAIN, encoding="utf-8")
    return path


@pytest.mark.parametrize("kind", KINDS)
def test_a_template_of_every_kind_is_planned_at_once(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "new.toml"
    path.write_text(call("study", "new", kind).stdout, encoding="utf-8")
    text = call("study", "check", path).stdout
    assert "readings to be taken" in text and "planned" in text


def test_text_and_data_of_a_judged_study(file: Path, tmp_path: Path) -> None:
    rows = tmp_path / "rows.csv"
    rows.write_text(ROWS)
    lines = call("study", "check", file, "--readings", rows).stdout.splitlines()
    text = " ".join(" ".join(lines).split())
    assert "Measuring scatters with s = " in text and "What it does not say" in text and "Components" in text
    assert max(map(len, lines)) <= 80
    data = json.loads(call("study", "check", file, "--readings", rows, "--json").stdout)
    assert data["state"] == "judged" and data["rules"] == "study rules 1" and data["missing"] == []
    assert {one["key"] for one in data["figures"]} >= {"repeatability", "measurement", "bias: J. Mwangale"}
    lame = json.loads(call("study", "check", file, "--json").stdout)
    assert lame["state"] == "planned" and len(lame["missing"]) == 8


def test_faults_are_lines_of_the_file(file: Path, tmp_path: Path) -> None:
    file.write_text(changed(PLAIN, ("replicates = 2", "replicates = 1")))
    assert call("study", "check", file, code=2).stderr.startswith(f"{file}:21: design.replicates: ")
    file.write_text(with_rows(PLAIN, ROWS.replace("150.8", "150.8 N.m")))
    assert "digits with a decimal point" in call("study", "check", file, code=2).stderr
    rows = tmp_path / "rows.csv"
    rows.write_text(ROWS.replace("value", "torque"))
    file.write_text(PLAIN)
    assert call("study", "check", file, "--readings", rows, code=2).stderr.startswith("rows.csv:1: ")


def test_from_a_plan_to_a_judged_study_in_the_dossier(dossier: Path, file: Path, tmp_path: Path) -> None:
    said = call("study", "add", file, *BY).stdout
    assert "study T-ST-1, revision 1: written; planned: 8 readings to be taken" in said
    assert "as it was, nothing written" in call("study", "add", file, *BY).stdout
    order = call("study", "order", "T-ST-1").stdout.splitlines()
    assert len(order) == 8 and order == call("study", "order", file).stdout.splitlines()
    alone = call("study", "order", "T-ST-1", "--person", "J. Mwangale").stdout.splitlines()
    assert alone == [line for line in order if "J. Mwangale" in line]
    assert "is not a person" in call("study", "order", "T-ST-1", "--person", "X", code=2).stderr
    out = tmp_path / "card.pdf"
    assert "8 readings on 2 pages" in call("study", "card", "T-ST-1", *BY, "-o", out).stdout
    assert out.read_bytes().startswith(b"%PDF")
    assert "exists already" in call("study", "card", "T-ST-1", *BY, "-o", out, code=2).stderr
    rows = tmp_path / "rows.csv"
    rows.write_text(ROWS)
    assert "revision 2: written; Measuring scatters" in call("study", "readings", "T-ST-1", rows, *BY).stdout
    assert "T-ST-1" in call("study", "list").stdout
    (row,) = json.loads(call("study", "list", "--json").stdout)
    assert row["state"] == "judged" and row["revision"] == 2 and row["counts"] == "counts"
    assert "planned" in call("study", "show", "T-ST-1", "--revision", "1").stdout
    assert json.loads(call("study", "show", "T-ST-1", "--json").stdout)["state"] == "judged"
    assert "near: T-ST-1" in call("study", "show", "T-ST-2", code=2).stderr


def test_add_takes_a_study_too(dossier: Path, file: Path) -> None:
    assert "study T-ST-1 written" in call("add", file, *BY).stdout


def test_planning() -> None:
    text = " ".join(call("study", "plan", "repeatability", "--repeat", "1.2", "--operator", "0.6", "--wanted",
                         "1.8").stdout.split())
    assert "Of measurement, limits are to be expected at" in text and "which is a guess" in text
    assert "no study of 5 parts" in call("study", "plan", "repeatability", "--repeat", "1", "--wanted", "1.01",
                                         code=2).stderr
    assert "is no scatter of a study" in call("study", "plan", "repeatability", "--repeat", "1", "--aim", "x",
                                              code=2).stderr
    text = call("study", "plan", "capability", "--demanded", "1.67", "--expected", "2").stdout
    assert "55 values show 1.67" in text and "93 values" in text
    assert "17 pulls of each of 3 persons" in call("study", "plan", "exercise", "--scatter", "1.5", "--persons", "3",
                                                   "--wanted", "1").stdout
    assert "greater than 0" in call("study", "plan", "exercise", "--scatter", "-1", code=2).stderr


def test_samples() -> None:
    text = " ".join(call("study", "sample", "--lot", "100", "--checked", "10", "--share", "5").stdout.split())
    assert "(5 of 100) would have been missed with probability 58 %" in text and "none bad among 59 pieces" in text
    assert "at most 25.9 % is bad" in call("study", "sample", "--checked", "10").stdout
    assert "--checked" in call("study", "sample", code=2).stderr
    assert "each has to fit" in call("study", "sample", "--lot", "5", "--checked", "6", code=2).stderr


def test_drift(dossier: Path) -> None:
    from evenpull.store import services

    for n in range(12):
        services.add_entry("shift check", "TW-1", {"set": "200 N.m", "device_value": f"{200 + (-1) ** n + n % 3} N.m",
                                                   "device": "CD-3", "result": "within limits"}, "V. Sunde-Farrow")
    certificates = [w for one in ("2022-02-01=0.1", "2023-02-03=0.6", "2024-02-03=1.2/0.1", "2025-02-03=0.5")
                    for w in ("--certificate", one)]
    more = ("--limit", "4", "--uncertainty", "0.8", "--baseline", "6", *certificates)
    text = call("study", "drift", "TW-1", *more).stdout
    assert "12 shift checks" in text and "Next calibration after 367 days" in " ".join(text.split())
    assert "No advice on the interval: no calibrations were given." in call("study", "drift", "TW-1").stdout
    assert "is not DAY=FOUND" in call("study", "drift", "TW-1", "--certificate", "x", code=2).stderr
    assert "write it as 2026-03-18" in call("study", "drift", "TW-1", "--since", "x", code=2).stderr
    assert "no tool 'TW-9'" in call("study", "drift", "TW-9", code=2).stderr
