"""The command ring-solid: the same procedures with the solid reference, and how far apart the two are."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from evenpull.ring.solid import extra
from tests.cli.calling import call
from tests.prediction.files import PLAIN


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "ring.toml"
    path.write_text(PLAIN, encoding="utf-8")
    return path


def test_the_two_models_agree_pull_by_pull(file: Path) -> None:
    pytest.importorskip("skfem", reason="the extra fe is not installed")
    pytest.importorskip("gmsh", reason="the extra fe is not installed", exc_type=ImportError)
    out = call("ring-solid", file, "--size-factor", "2").stdout
    rows = [line.split() for line in out.splitlines() if re.match(r" {3,5}\d+  \d", line)]
    assert [int(row[0]) for row in rows] == list(range(1, 25))
    for row in rows:
        assert float(row[4]) - float(row[5]) == pytest.approx(float(row[2]), abs=0.11)
        assert abs(float(row[2])) < 4.0  # a coarse mesh; the fine one is compared in tests/ring
    assert any(float(row[2]) != 0 for row in rows)
    assert max(map(len, out.splitlines())) <= 80


def test_without_the_extra_it_says_how_to_get_it(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> object:
        raise ImportError(f"No module named {name!r}")

    monkeypatch.setattr(extra, "import_module", missing)
    error = call("ring-solid", file, code=2).stderr
    assert "evenpull[fe]" in error and str(file) in error
