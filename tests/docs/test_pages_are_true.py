"""What the README and the documents say must be true today."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from evenpull.demo.generate import scenario_plans
from evenpull.demo.story import contractor_file
from evenpull.plan import make_plan, read_specification, read_tools
from tools import file_pages

ROOT = Path(__file__).parent.parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
# Invented wrenches with the serials that the template names.
TOOL = """
[[tool]]
serial = "{serial}"
name = "setting torque tool"
kind = "setting"
unit = "N.m"
range = ["20 N.m", "200 N.m"]
resolution = "1 N.m"
uncertainty = "3 %"
certificate = "KNC-26-{serial}"
certificate_from = 2026-01-01
certificate_until = 2099-12-31
"""
TOOLS = 'form = "evenpull tools 1"\n' + "".join(TOOL.format(serial=serial) for serial in ("TW-0207", "TW-0219"))
PAGES = ["README.md", *sorted(str(p.relative_to(ROOT)) for p in (ROOT / "docs").rglob("*.md"))]
MAPPING = """form = "evenpull mapping 1"
name = "my mapping"
[file]
kind = "csv"
delimiter = ","
[time]
column = "time"
format = "%Y-%m-%d %H:%M:%S"
zone = "UTC"
[columns]
joint = "joint"
fastener = "bolt"
pass = "pass"
tool = "tool"
counter = "no"
operator = "who"
direction = { value = "tighten" }
end_cause = { value = "reached" }
[torque]
column = "torque"
unit = "N.m"
[angle]
column = "angle"
unit = "deg"
"""


def test_the_reference_of_files_is_made_from_the_schemas() -> None:
    assert file_pages.PAGE.read_text(encoding="utf-8") == file_pages.page(), "run: python tools/file_pages.py"


@pytest.mark.parametrize("page", PAGES)
def test_links_and_pictures_exist(page: str) -> None:
    path = ROOT / page
    for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", path.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (path.parent / target).exists(), f"{page}: {target}"


def test_paths_named_in_start_here_exist() -> None:
    text = (ROOT / "docs" / "start-here.md").read_text(encoding="utf-8")
    for name in re.findall(r"`([a-z_/]+/[a-z_0-9/.*-]+)`", text):
        inside = [ROOT / name, ROOT / "src" / "evenpull" / name]
        assert any(list(p.parent.glob(p.name)) for p in inside), name


def _export(spec_text: str, folder: Path) -> None:
    """A complete and faultless record of the joint, as an invented tool would write it."""
    spec = read_specification(spec_text, "my-joint.toml")
    plan = make_plan(spec, read_tools(TOOLS, "my-tools.toml"), date(2026, 6, 1))
    start, lines = datetime(2026, 6, 1, 8, tzinfo=UTC), ["no,time,joint,bolt,pass,tool,torque,angle,who"]
    tool = plan.spec.tools_allowed[0]
    for number, pull in enumerate(plan.pulls):
        when = start + timedelta(minutes=number)
        check = plan.passes[pull.pass_number - 1].check
        end = f"{pull.pass_number},{tool},{pull.torque:.1f},{1 if check else 20},A. Lund"
        lines += [f"{number},{when:%Y-%m-%d %H:%M:%S},MY-JOINT-1,{f},{end}" for f in pull.fasteners]
    (folder / "export.csv").write_text("\n".join(lines) + "\n")


@pytest.mark.slow
def test_the_commands_of_the_readme_work_as_written(tmp_path: Path) -> None:
    """Every `evenpull` line of the section "Your own joint", in order, in an empty folder."""
    section = README.split("## Your own joint")[1].split("## What it does not do")[0]
    commands = [line for line in section.splitlines() if line.startswith(".venv/bin/evenpull")]
    assert len(commands) >= 10
    environment = os.environ | {"EVENPULL_HOME": str(tmp_path / "home")}
    (tmp_path / "my-tools.toml").write_text(TOOLS)
    (tmp_path / "my-mapping.toml").write_text(MAPPING)
    (tmp_path / "list.xlsx").write_bytes(contractor_file(scenario_plans())[1])
    said = ""
    for line in commands:
        bare = line.split("  #")[0].removeprefix(".venv/bin/evenpull").strip()
        bare, _, out = bare.partition(" > ")
        run = subprocess.run(
            [sys.executable, "-m", "evenpull.cli.main", *shlex.split(bare)],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
        )
        assert run.returncode == 0, f"{line}\n{run.stdout}\n{run.stderr}"
        said += run.stdout
        if out:
            text = run.stdout.replace("NEW-JOINT", "MY-JOINT-1")
            (tmp_path / out.strip()).write_text(text)
            if "evenpull joint 1" in text:
                _export(text, tmp_path)
    assert "nothing was changed" in said and "unchanged and added 0 facts" in run.stdout


def test_the_python_example_of_the_readme_runs() -> None:
    code = README.split("```python\n")[1].split("```")[0]
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    # VDI 2230-1 Table A1 (from memory, not re-read): M24 class 8.8, mu 0.12, 90 % of yield: 188 kN.
    assert float(run.stdout) == pytest.approx(188e3, rel=0.01)


def test_the_mechanics_need_no_django() -> None:
    code = "import evenpull.joint, sys; print([m for m in sys.modules if m.split('.')[0] in ('django', 'typer')])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.stdout.strip() == "[]", run.stderr
