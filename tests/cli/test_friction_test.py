"""The command `friction-test`: figures by hand, faults with line and field, the page with the measured runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenpull.calculation.lot_test import read_runs
from evenpull.plan.errors import SpecificationError
from tests.cli.calling import call
from tools.nut_factor_page import PICTURE, measured, picture

RUNS = "run;torque (N.m);load (kN);thread torque (N.m)\n1;100;55;44\n2;104;54;46\n3;97;56;43\n4;101;55.5;44\n"
FACES = ("--thread", "M12", "--bearing", "16.63 mm", "--hole", "13.5 mm")


def test_the_quantities_of_a_run(tmp_path: Path) -> None:
    """Run 1 is the example M12, 100 N.m, 55 kN, 44 N.m of the reference rows: 0.15152, 0.11156, 0.0832, 0.13517."""
    path = tmp_path / "runs.csv"
    path.write_text(RUNS, encoding="utf-8")
    out = call("friction-test", path, *FACES).stdout
    assert "K 0.1515, mu_tot 0.1116, mu_th 0.0832, mu_b 0.1352" in " ".join(out.split())
    assert "95 % confidence" in out and "mu_G = [" in out


def test_faults_have_line_and_field(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    path.write_text("run,torque (N.m),load (kN)\n1,-5,20\n,3,x\n", encoding="utf-8")
    result = call("friction-test", path, *FACES, code=2)
    for words in (":2: torque: -5", ":3: run:", ":3: load: 'x' is not a number"):
        assert words in result.stderr
    path.write_text("run,torque,load (kN)\n1,5,20\n", encoding="utf-8")
    assert "the unit is missing" in call("friction-test", path, *FACES, code=2).stderr
    path.write_text("", encoding="utf-8")
    assert "empty" in call("friction-test", path, *FACES, code=2).stderr
    path.write_text(RUNS.splitlines()[0] + "\n1;100;55;\n2;100;55;\n", encoding="utf-8")
    call("friction-test", path, *FACES, code=2)  # two runs are no lot


def test_nothing_is_replaced(tmp_path: Path) -> None:
    path, out = tmp_path / "runs.csv", tmp_path / "k.svg"
    lines = [f"{run},{10 * step + run},{5 * step}" for run in (1, 2, 3) for step in (1, 2, 3, 4)]
    path.write_text("run,torque (N.m),load (kN)\n" + "\n".join(lines) + "\n", encoding="utf-8")
    call("friction-test", path, *FACES, "--svg", out)
    assert out.read_text(encoding="utf-8").startswith("<svg")
    assert "exists already" in call("friction-test", path, *FACES, "--svg", out, code=2).stderr


def test_too_many_readings_are_refused() -> None:
    with pytest.raises(SpecificationError, match="at most"):
        read_runs("run,torque (N.m),load (kN)\n" + "1,2,3\n" * 100_001, "big.csv")


def test_the_page_shows_the_measured_runs() -> None:
    assert PICTURE.read_text(encoding="utf-8") == picture()
    sheet = measured()
    assert sheet.falling is not None and len(sheet.falling.curves) == 6
    for curve in sheet.falling.curves:
        first, last = curve.points[0][1], curve.points[-1][1]
        assert 0.4 < last / first < 0.6
