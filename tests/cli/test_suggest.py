"""The command that suggests a mapping: what is open is asked with exit code 1, what is settled is a file to add."""

from __future__ import annotations

from pathlib import Path

from evenpull.demo import scenario
from evenpull.demo.generate import scenario_plans
from evenpull.demo.story import contractor_file
from tests.cli.calling import call


def test_suggest_ask_answer_add_and_take_in(dossier: Path, tmp_path: Path) -> None:
    for name, text in (("tools", scenario.tools_text()), ("kn-cw-026", scenario.joint_text("kn-cw-026"))):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    by = ("--by", "P. Achterberg-Lowe")
    call("add", tmp_path / "tools.toml", tmp_path / "kn-cw-026.toml", *by)
    name, data = contractor_file(scenario_plans())
    sheet, out = tmp_path / name, tmp_path / "made.toml"
    sheet.write_bytes(data)
    asked = call("suggest", sheet, "--out", out, code=1)
    assert "open, time.zone:" in asked.stderr and "--answer time.zone=..." in asked.stderr and asked.stdout == ""
    assert not out.exists()
    for answer, said in (
        ("time.zone=Mars/Phobos", "'Mars/Phobos' is no answer"), ("moon=full", "nothing was asked about it"),
        ("time.zone", "is not KEY=ANSWER"),
    ):  # fmt: skip
        assert said in call("suggest", sheet, "-a", answer, "--out", out, code=2).stderr and not out.exists()
    settled = ("suggest", sheet, "-a", "time.zone=Europe/London", "--name", "Brae Skerry list")
    printed = call(*settled)
    assert printed.stdout.startswith('form = "evenpull mapping 1"') and "Joint: columns.joint, sure" in printed.stderr
    call(*settled, "--out", out)
    assert out.read_text(encoding="utf-8") == printed.stdout
    out.write_text("# a person's own lines")
    assert "is there already" in call(*settled, "--out", out, code=2).stderr
    assert out.read_text() == "# a person's own lines"
    out.write_text(printed.stdout, encoding="utf-8")
    assert "mapping 'Brae Skerry list' written" in call("add", out, *by).stdout
    done = call("import", sheet, "--mapping", "Brae Skerry list", *by).stdout
    assert "8" in done and "BS-118" in call("records", "KN-CW-026").stdout


def test_what_is_no_list_is_refused(dossier: Path, tmp_path: Path) -> None:
    (tmp_path / "scan.csv").write_bytes(b"%PDF-1.7\n")
    assert "PDF" in call("suggest", tmp_path / "scan.csv", code=2).stderr
    assert "no-such" in call("suggest", tmp_path / "no-such.csv", code=2).stderr
