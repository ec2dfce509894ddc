"""Calling a command of the program as a person would."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner, Result

from evenpull.cli.main import app


def call(*words: str | Path, code: int = 0) -> Result:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exit_code == code, result.output
    assert "Traceback" not in result.output
    return result
