"""Commands that work on a dossier, in the order of the job, on a folder of their own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from evenpull.demo import scenario
from evenpull.demo.generate import write_records
from evenpull.plan import read_tools
from tests.cli.calling import call

SEMICOLONS = "store log, semicolons"
BOOK = "bench book, nested headings"


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder with the files of the scenario."""
    folder = tmp_path / "files"
    write_records(folder)
    for name in scenario.JOINTS:
        (folder / f"{name}.toml").write_text(scenario.joint_text(name), encoding="utf-8")
    for name in scenario.MAPPINGS:
        (folder / f"{name}.toml").write_text(scenario.mapping_text(name), encoding="utf-8")
    (folder / "tools.toml").write_text(scenario.tools_text(), encoding="utf-8")
    return folder


@pytest.fixture
def filled(dossier: Path, desk: Path) -> Path:
    """The dossier with tools, joints and mappings."""
    call("add", *sorted(desk.glob("*.toml")), "--by", "M. Okonjo-Reyes")
    return desk


def test_add_says_what_was_written_and_what_was_there(dossier: Path, desk: Path) -> None:
    files = [desk / "tools.toml", desk / "kn-cw-014.toml", desk / "bench-book.toml"]
    first = call("add", *files, "--by", "M. Okonjo-Reyes").stdout
    tools = len(read_tools(scenario.tools_text(), "tools.toml"))
    assert f"{tools} tools" in first and "joint KN-CW-014 written" in first and f"mapping '{BOOK}' written" in first
    again = call("add", *files, "--by", "M. Okonjo-Reyes").stdout
    assert again.count("as it was, nothing written") == 2


def test_add_refuses_an_unknown_form_and_writes_nothing(dossier: Path, desk: Path) -> None:
    other = desk / "other.toml"
    other.write_text('form = "something else"\n')
    result = call("add", desk / "tools.toml", other, "--by", "M. Okonjo-Reyes", code=2)
    assert f"{other}:1: form: 'something else' is none of" in result.stderr
    assert "No joint yet" in call("status").stdout


def test_the_whole_job_for_the_bearing_housing(filled: Path, tmp_path: Path) -> None:
    by = ("--by", "T. Abernethy-Voss")
    joint, book = "KN-BH-021", filled / "machine-hall-2026-03-23.xlsx"
    pdf = tmp_path / "card.pdf"
    assert "valid for 48 hours" in call("card", joint, "--out", pdf, *by).stdout
    assert pdf.read_bytes().startswith(b"%PDF")

    seen = call("preview", book, "-m", BOOK).stdout
    assert "would be new" in seen
    assert json.loads(call("matrix", joint, "--json").stdout)["records"] == 0, "a preview writes nothing"
    assert call("release", joint, "--statement", "Tightened as specified.", *by, code=2).stderr.startswith(joint)

    assert "36 records" in call("import", book, "-m", BOOK, *by).stdout
    assert "nothing changed" in call("import", book, "-m", BOOK, *by).stdout
    text = call("matrix", joint).stdout
    assert "State: ready to sign (released)\n" in text
    assert text.count(" accepted") >= 18
    assert len([line for line in call("records", joint).stdout.splitlines() if "TW-0241" in line]) == 18

    assert "signed by T. Abernethy-Voss" in call("release", joint, "--statement", "Tightened as specified.", *by).stdout
    report, bundle = tmp_path / "r.pdf", tmp_path / "b.zip"
    assert "signed 20" in call("report", joint, "-o", report).stdout
    assert "draft" in call("report", joint, "--draft", "-o", report).stdout
    call("bundle", joint, "-o", bundle)
    assert "nothing was changed" in call("verify", bundle).stdout
    changed = bytearray(bundle.read_bytes())
    changed[len(changed) // 2] ^= 1
    bundle.write_bytes(changed)
    assert "CHANGED" in call("verify", bundle, code=1).stdout


def test_a_flag_is_found_by_a_part_of_its_key(filled: Path) -> None:
    call("import", filled / "tool-store-2026-03-18.csv", "-m", SEMICOLONS, "--by", "P. Achterberg-Lowe")
    by = ("--action", "redo", "--reason", "left out in the last pass", "--by", "M. Okonjo-Reyes")
    many = call("dispose", "KN-CW-014", "missing|KN-CW-014", *by, code=2).stderr
    assert "fits" in many and "missing|KN-CW-014||11|3|" in many
    none = call("dispose", "KN-CW-014", "no such flag", *by, code=2).stderr
    assert "no flag of KN-CW-014 fits 'no such flag'" in none
    done = call("dispose", "KN-CW-014", "missing|KN-CW-014||11|3|", *by).stdout
    assert "KN-CW-014: redo, by M. Okonjo-Reyes" in done
    assert "KN-CW-014 is now: not released" in done


def test_several_flags_of_one_kind_by_one_act(filled: Path) -> None:
    call("import", filled / "tool-store-2026-03-18.csv", "-m", SEMICOLONS, "--by", "P. Achterberg-Lowe")
    by = ("--action", "redo", "--reason", "left out in the last pass", "--by", "M. Okonjo-Reyes")

    def written() -> int:
        from evenpull.store.models import Fact

        return Fact.objects.filter(kind="disposition").count()

    named = call("dispose", "KN-CW-014", "missing|", *by, code=2).stderr
    count = named.count("missing|KN-CW-014|")
    assert count > 1
    shown = call("dispose", "KN-CW-014", *by, "--all-open", "missing", code=1).stdout  # asked, and no answer given
    assert shown.count("redo, by M. Okonjo-Reyes") == count and "Record 'redo' on these" in shown and written() == 0
    call("dispose", "KN-CW-014", *by, "--all-open", "missing", "--yes")
    assert written() == count
    none = call("dispose", "KN-CW-014", *by, "--all-open", "no torque", code=2).stderr
    assert "no open flag of KN-CW-014 is of the kind 'no torque'; open: " in none
    both = call("dispose", "KN-CW-014", "x", *by, "--all-open", "missing", code=2).stderr
    assert "name the flags, or one kind" in both and written() == count


def test_status_in_words_and_as_data(filled: Path) -> None:
    rows = json.loads(call("status", "--json").stdout)
    assert [row["joint"] for row in rows] == sorted(name.upper() for name in scenario.JOINTS)
    assert {row["state"] for row in rows} == {"not released"}
    words = call("status").stdout
    assert all(row["joint"] in words for row in rows)
    assert max(len(line) for line in words.splitlines()) <= 80


def test_an_unknown_joint_names_the_near_ones(filled: Path) -> None:
    assert "near: KN-CW-014" in call("matrix", "KN-CW-041", code=2).stderr


def test_no_card_for_a_target_that_would_overload(filled: Path, tmp_path: Path) -> None:
    out = tmp_path / "card.pdf"
    result = call("card", "KN-CW-009", "--by", "M. Okonjo-Reyes", "-o", out, code=2)
    assert "overloads the fastener" in result.stderr
    assert not out.exists()


def test_a_file_that_is_no_table_is_refused(filled: Path) -> None:
    fake = filled / "report.csv"
    fake.write_bytes(b"%PDF-1.7\n1 0 obj\n")
    result = call("preview", fake, "-m", SEMICOLONS, code=2)
    assert result.stderr.startswith("report.csv") and "PDF" in result.stderr


def test_commands_as_processes(desk: Path, tmp_path: Path) -> None:
    """The same through the installed entry point: own process, own folder."""
    home = tmp_path / "home"
    environment = os.environ | {"EVENPULL_HOME": str(home), "EVENPULL_BY": "M. Okonjo-Reyes"}
    environment.pop("DJANGO_SETTINGS_MODULE", None)

    def process(*words: str | Path, code: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "evenpull.cli.main", *map(str, words)],
            env=environment, cwd=tmp_path, capture_output=True, text=True, timeout=120,
        )  # fmt: skip
        assert done.returncode == code, done.stdout + done.stderr
        assert "Traceback" not in done.stderr
        return done.stdout + done.stderr

    assert "evenpull 0." in process("--version")
    process("add", desk / "tools.toml", desk / "kn-bh-021.toml", desk / "bench-book.toml")
    process("import", desk / "machine-hall-2026-03-23.xlsx", "-m", BOOK)
    assert "KN-BH-021    ready to sign" in process("status")
    process("card", "KN-BH-021", "--paper", "us-letter")
    process("report", "KN-BH-021")
    process("bundle", "KN-BH-021", "-o", "b.zip")
    environment["EVENPULL_HOME"] = str(tmp_path / "nowhere")
    process("verify", "b.zip")
    assert not (tmp_path / "nowhere").exists(), "verify needs no dossier"
    assert len(list(tmp_path.glob("*.pdf"))) == 2
    process("matrix", "KN-XX-999", code=2)
