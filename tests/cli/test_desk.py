"""Commands that need no dossier: new, check, target, plan, mapping. Errors are file:line: field: message, code 2."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from evenpull.cli.main import app
from evenpull.demo import scenario
from evenpull.demo.generate import write_records
from evenpull.plan.model import JOINT_KINDS

run = CliRunner()


@pytest.fixture
def joint(tmp_path: Path) -> Path:
    path = tmp_path / "kn-cw-014.toml"
    path.write_text(scenario.joint_text("kn-cw-014"), encoding="utf-8")
    return path


@pytest.fixture
def tools(tmp_path: Path) -> Path:
    path = tmp_path / "tools.toml"
    path.write_text(scenario.tools_text(), encoding="utf-8")
    return path


def test_help_shows_the_job_in_order() -> None:
    text = run.invoke(app, ["--help"]).output
    names = [
        "new", "check", "target", "plan", "calculate", "add", "card", "mapping", "preview", "import", "status",
        "matrix", "records", "dispose", "release", "report", "bundle", "verify", "serve", "demo",
    ]  # fmt: skip
    places = [re.search(rf"│ {name} ", text) for name in names]
    assert all(places), [name for name, place in zip(names, places, strict=True) if place is None]
    starts = [place.start() for place in places if place]
    assert starts == sorted(starts)


@pytest.mark.parametrize("kind", JOINT_KINDS)
def test_a_new_joint_file_can_be_checked_at_once(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "joint.toml"
    assert run.invoke(app, ["new", kind, "--out", str(path)]).exit_code == 0
    result = run.invoke(app, ["check", str(path)])
    assert result.exit_code == 0, result.output


def test_new_replaces_no_file(joint: Path) -> None:
    before = joint.read_text(encoding="utf-8")
    result = run.invoke(app, ["new", "--out", str(joint)])
    assert result.exit_code == 2
    assert "exists already" in result.stderr
    assert joint.read_text(encoding="utf-8") == before


def test_errors_name_file_line_and_field_all_at_once(joint: Path) -> None:
    text = joint.read_text(encoding="utf-8")
    text = text.replace('length = "110 mm"', 'length = "110 N.m"').replace("count = 16", "count = 0")
    joint.write_text(text + "\n[spare]\nx = 1\n", encoding="utf-8")
    result = run.invoke(app, ["check", str(joint)])
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    lines = result.stderr.splitlines()
    for field, line in (("fasteners.length", "length ="), ("fasteners.count", "count ="), ("spare", "[spare]")):
        number = next(i for i, found in enumerate(joint.read_text().splitlines(), 1) if found.startswith(line))
        assert any(found.startswith(f"{joint}:{number}: {field}: ") for found in lines), (field, lines)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    result = run.invoke(app, ["check", str(tmp_path / "no.toml")])
    assert result.exit_code == 2
    assert result.stderr.strip() == f"{tmp_path / 'no.toml'}: No such file or directory"


def test_check_goes_on_after_a_bad_file(tmp_path: Path, joint: Path, tools: Path) -> None:
    result = run.invoke(app, ["check", str(tmp_path / "no.toml"), str(joint), "--tools", str(tools)])
    assert result.exit_code == 2
    assert "KN-CW-014: 16 x M24 8.8, target 520 N.m" in result.stdout


def test_target_in_words_and_as_data_agree(joint: Path, tools: Path) -> None:
    words = run.invoke(app, ["target", str(joint), "--tools", str(tools)])
    data = json.loads(run.invoke(app, ["target", str(joint), "--tools", str(tools), "--json"]).stdout)
    assert f"Torque at the fastener  {data['torque_N_m']:.4g} N.m" in words.stdout
    assert f"{data['load_N']['low'] / 1e3:.4g} to {data['load_N']['high'] / 1e3:.4g} kN" in words.stdout
    assert max(len(line) for line in words.stdout.splitlines()) <= 80
    symbols = [step["symbol"] for step in data["chain"]]
    assert {"F_M", "d_2", "mu_G", "F_min", "F_max"} <= set(symbols)
    assert all(step["source"] for step in data["chain"])


def test_a_target_that_would_overload_is_shown_as_a_stop(tmp_path: Path, tools: Path) -> None:
    path = tmp_path / "kn-cw-009.toml"
    path.write_text(scenario.joint_text("kn-cw-009"), encoding="utf-8")
    result = run.invoke(app, ["target", str(path), "--tools", str(tools)])
    assert result.exit_code == 0
    assert "STOP: The target overloads the fastener" in result.stdout


def test_plan_gives_order_and_corrected_settings(joint: Path, tools: Path) -> None:
    result = run.invoke(app, ["plan", str(joint), "--tools", str(tools), "--pulls"])
    assert "order: 1 9 5 13 3 11 7 15 2 10 6 14 4 12 8 16" in result.stdout
    # crow-foot 60 mm straight out on a lever of 900 mm: 520 x 900 / 960 = 487.5 N.m
    assert re.search(r"TW-0252: set 48[78] N\.m", result.stdout)
    assert result.stdout.count("\npull ") == 64


def test_plan_gives_the_setting_of_each_fastener(tmp_path: Path, tools: Path) -> None:
    path = tmp_path / "kn-cw-014.toml"
    text = scenario.joint_text("kn-cw-014")
    settings = f"passes = [100]\nsettings = [{[120, *([100] * 15)]}]\nsettings_limit = 120"
    path.write_text(re.sub(r"^passes = .*$", settings, text, flags=re.MULTILINE), encoding="utf-8")
    result = run.invoke(app, ["plan", str(path), "--tools", str(tools), "--pulls"])
    assert "pass 1 of 1 (own settings): 16 fasteners" in result.stdout
    assert "number 1: 120 %, 624 N.m (592.8 to 655.2 N.m)" in result.stdout
    assert "number 2: 100 %, 520 N.m (494 to 546 N.m)" in result.stdout
    assert re.search(r"pull    1  pass 1  number       1  624 N\.m", result.stdout)
    assert "predicted, not" in result.stdout


def test_tools_go_with_a_file_only(tools: Path) -> None:
    result = run.invoke(app, ["target", "KN-CW-014", "--tools", str(tools)])
    assert result.exit_code == 2
    assert "--tools goes with a joint file" in result.stderr


def test_mapping_is_checked_and_tried(tmp_path: Path) -> None:
    mapping = tmp_path / "semicolon-log.toml"
    mapping.write_text(scenario.mapping_text("semicolon-log"), encoding="utf-8")
    first = write_records(tmp_path)[0]
    result = run.invoke(app, ["mapping", str(mapping), "--against", str(tmp_path / first.name)])
    assert result.exit_code == 0, result.output
    assert "79 records, 1 row unread" in result.stdout
    assert "'see card' is not a number" in result.stdout.replace("\n", " ")


def test_mapping_that_does_not_fit_names_the_columns(tmp_path: Path) -> None:
    mapping = tmp_path / "m.toml"
    mapping.write_text(scenario.mapping_text("semicolon-log").replace('"Moment"', '"Moments"'), encoding="utf-8")
    first = write_records(tmp_path)[0]
    result = run.invoke(app, ["mapping", str(mapping), "--against", str(tmp_path / first.name)])
    assert result.exit_code == 2
    assert "Moment" in result.stderr and "Traceback" not in result.output


def test_serve_keeps_to_this_machine(dossier: Path) -> None:
    for host in ("192.0.2.1", "2001:db8::1", "pages.example.org"):
        result = run.invoke(app, ["serve", "--host", host])
        assert result.exit_code == 2
        assert "no accounts" in result.stderr and "account add" in result.stderr
