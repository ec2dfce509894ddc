"""Kept files of curves and of findings, spoiled in any way: a value, or a CurveError; nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenpull.curve.columns import CurveError, joined, one_curve
from evenpull.curve.expectation import nothing_expected
from evenpull.curve.features import measure
from evenpull.curve.judged_table import FindingsWriter, Head, read_finding, read_findings, read_head
from evenpull.curve.keyed import KeyedWriter, Keys, content_of, read_keyed, read_keys, read_one, read_some
from evenpull.curve.parquet import read_group
from evenpull.curve.verdicts import verdicts
from evenpull.curve.version import RULES_VERSION, THRESHOLDS_TEXT
from evenpull.intake.curve_file import read_curve_parts
from evenpull.intake.curve_mapping import read_curve_mapping
from tests.store.curve_files import HEAD, MAPPING_TEXT

CURVES = joined([one_curve(np.arange(40.0), np.arange(40.0) * k, np.arange(40.0) / k) for k in (1, 2, 3)])
KEYS = Keys(["SP-1"] * 3, ["A"] * 3, [""] * 3, np.arange(3), np.arange(1, 4), np.ones(3, np.int64), np.full(3, 1.7e9))
LAYOUT = read_curve_mapping(MAPPING_TEXT, "traces.toml")
LINE = "TW-0207/A/{n};0,{i};{i},5;{i},25;1;1;1"
TEXT = "\n".join([HEAD, *(LINE.format(n=n, i=i) for n in (1, 2) for i in range(10))]) + "\n"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """A file of curves as a dossier keeps it, one of findings, and text."""
    folder = tmp_path_factory.mktemp("good")
    with KeyedWriter(folder, "J") as out:
        out.add(["a", "b", "c"], CURVES, KEYS)
        curves = out.finish().path
    head = Head(RULES_VERSION, THRESHOLDS_TEXT, "c" * 64, "J", "b" * 64, (("KN-SPEC-1", ()),))
    with FindingsWriter(folder, head) as found:
        own = verdicts(measure(CURVES), nothing_expected(3))
        found.add(["a", "b", "c"], KEYS, np.zeros(3, np.int32), own)
        findings = found.finish()
    return {"curves": curves.read_bytes(), "findings": findings.read_bytes(), "text": TEXT.encode()}


READERS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "read_keyed": ("curves", lambda path: list(read_keyed(path))),
    "read_keys": ("curves", lambda path: list(read_keys(path))),
    "read_some": ("curves", lambda path: list(read_some(path, [0, 2]))),
    "read_one": ("curves", lambda path: read_one(path, 1)),
    "read_group": ("curves", lambda path: read_group(path, 0)),
    "content_of": ("curves", lambda path: content_of(path, "J")),
    "read_curve_parts": ("curves", lambda path: list(read_curve_parts(path, None, "any.parquet"))),
    "read_curve_parts of text": ("text", lambda path: list(read_curve_parts(path, LAYOUT, "any.csv"))),
    "read_head": ("findings", read_head),
    "read_finding": ("findings", lambda path: read_finding(path, 1).numbers("T_off")),
    "read_findings": ("findings", lambda path: list(read_findings(path, ["verdict", "T_off"]))),
}


@pytest.mark.parametrize("name", READERS)
def test_what_is_whole_is_read(good: dict[str, bytes], name: str, tmp_path: Path) -> None:
    kind, read = READERS[name]
    path = tmp_path / "whole"
    path.write_bytes(good[kind])
    assert read(path)


@pytest.mark.parametrize("name", READERS)
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(dice=st.data())
def test_what_is_spoiled_is_refused_by_name(
    good: dict[str, bytes], name: str, tmp_path: Path, dice: st.DataObject
) -> None:
    kind, read = READERS[name]
    data = good[kind]
    how = dice.draw(st.sampled_from(["anything", "cut off", "other bytes"]))
    if how == "anything":
        data = dice.draw(st.binary(max_size=300))
    elif how == "cut off":
        data = data[: dice.draw(st.integers(0, len(data) - 1))]
    else:
        at = dice.draw(st.integers(0, len(data) - 1))
        data = data[:at] + dice.draw(st.binary(min_size=1, max_size=4)) + data[at + 1 :]
    path = tmp_path / "spoiled"
    path.write_bytes(data)
    try:
        read(path)
    except (CurveError, IndexError) as error:  # IndexError: fewer curves than asked for
        assert str(error)
