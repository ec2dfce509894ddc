"""Curves with keys in Parquet, findings in Parquet, and what changed between two of them: properties, no dossier."""

from __future__ import annotations

import math
import tempfile
import tomllib
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.curve.changes import ON, RULE_CHANGED, Tally, changes, flat, with_one
from evenpull.curve.columns import CurveError, Curves, curves_of
from evenpull.curve.expectation import Expectation, nothing_expected, stacked
from evenpull.curve.features import measure
from evenpull.curve.judged_table import FindingsWriter, Head, bits, from_bits, read_findings, read_head
from evenpull.curve.keyed import KeyedWriter, Keys, content_of, no_keys, read_keyed, read_one
from evenpull.curve.simulate import simulate
from evenpull.curve.verdicts import THRESHOLDS, VERDICTS, verdicts
from evenpull.curve.version import RULES_VERSION, THRESHOLDS_TEXT, version_of
from evenpull.intake.curve_mapping import run_pattern

MADE = simulate(31, ["none", "none", "re-hit", "slip", "yield", "none"])
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("C",)), max_size=20)
NUMBER = st.integers(-1, 2**53)


def written(folder: Path, runs: list[str], curves: Curves, keys: Keys, at_once: int) -> Path:
    with KeyedWriter(folder, "KN-CW/014 ü") as out:
        for a in range(0, len(runs), at_once):
            out.add(runs[a:a + at_once], curves[a:a + at_once], keys[a:a + at_once])
        return out.finish().path


@given(st.data())
@settings(max_examples=40)
def test_keys_and_points_come_back_as_they_were(data: st.DataObject) -> None:
    n = data.draw(st.integers(1, 6))
    lengths = data.draw(st.lists(st.integers(0, 5), min_size=n, max_size=n))
    points = data.draw(st.lists(st.floats(width=32), min_size=sum(lengths), max_size=sum(lengths)))
    curves = curves_of(points, points[::-1], points, [1] * len(points), np.cumsum([0, *lengths]))
    runs = data.draw(st.lists(TEXT, min_size=n, max_size=n, unique=True))
    texts = [data.draw(st.lists(TEXT, min_size=n, max_size=n)) for _ in range(3)]
    numbers = [np.array(data.draw(st.lists(NUMBER, min_size=n, max_size=n)), np.int64) for _ in range(3)]
    began = np.array(data.draw(st.lists(st.floats(allow_infinity=False), min_size=n, max_size=n)))
    keys = Keys(*texts, *numbers, began)
    with tempfile.TemporaryDirectory() as folder:
        one = written(Path(folder), runs, curves, keys, n)
        parts = written(Path(folder), runs, curves, keys, 1)
        assert one == parts and content_of(one, "KN-CW/014 ü") == one.stem, "whatever the parts, the same content"
        got_runs, got, back = next(read_keyed(one)) if n else ([], keys, curves)
        found = list(read_keyed(parts))
        assert [run for part in found for run in part[0]] == runs
        if len(found) == 1:
            assert got_runs == runs and np.array_equal(got.counter, numbers[0])
            assert list(got.tool) == texts[0] and np.array_equal(got.began_s, began, equal_nan=True)
            assert np.array_equal(back.torque, curves.torque, equal_nan=True)
        number = data.draw(st.integers(0, n - 1))
        assert read_one(one, number)[0] == [runs[number]]
        with pytest.raises(IndexError):
            read_one(one, n)


def test_what_cannot_be_kept_leaves_no_file(tmp_path: Path) -> None:
    curves, n = MADE.curves, len(MADE.curves)
    keys = no_keys(n)
    for runs, why in ((["a"] * n, "named twice"), (["a"] * 2, "one for each")):
        with pytest.raises(CurveError, match=why), KeyedWriter(tmp_path, "J") as out:
            out.add(runs, curves, keys)
            out.finish()
    with pytest.raises(CurveError, match="between 0"), KeyedWriter(tmp_path, "J") as out:
        out.add(list("abcdef"), curves, Keys(keys.tool, keys.epoch, keys.unit, np.full(n, 2**60), *[keys.fastener] * 2,
                                             keys.began_s))
    with pytest.raises(CurveError, match="no curve"), KeyedWriter(tmp_path, "J") as out:
        out.finish()
    with pytest.raises(CurveError, match="name of the joint"):
        KeyedWriter(tmp_path, " ")
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


@given(st.lists(st.lists(st.booleans(), min_size=len(VERDICTS), max_size=len(VERDICTS)), min_size=1, max_size=9))
def test_bits_come_back(rows: list[list[bool]]) -> None:
    found = np.array(rows, bool)
    assert np.array_equal(from_bits(bits(found)), found)


def findings(folder: Path, rules: str, thresholds: str, expectation: Expectation) -> Path:
    head = Head(rules, thresholds, "c" * 64, "J", rules.ljust(64, "0"), (("plan", ()),))
    features = measure(MADE.curves, target=expectation.target)
    judged = verdicts(features, expectation, thresholds=tomllib.loads(thresholds))
    with FindingsWriter(folder, head) as out:
        out.add(list("abcdef"), no_keys(6), np.zeros(6, np.int32), judged)
        path = out.finish()
    part = next(read_findings(path))
    back = part.verdicts(read_head(path), tomllib.loads(thresholds))
    assert np.array_equal(back.found, judged.found) and np.array_equal(back.answer, judged.answer)
    assert np.array_equal(back.features.values, features.values, equal_nan=True)
    return path


def compared(old: Path, new: Path) -> tuple[list[dict[str, object]], Tally]:
    tally, rows = Tally(), []
    for a, b in zip(read_findings(old), read_findings(new), strict=True):
        for table in changes(a, b, read_head(old), read_head(new), tally):
            rows += table.to_pylist()
    return rows, tally


def test_the_threshold_that_made_the_difference_is_found_whichever_it_is(tmp_path: Path) -> None:
    old = findings(tmp_path, RULES_VERSION, THRESHOLDS_TEXT, MADE.expectation)
    assert compared(old, old)[0] == []
    text = THRESHOLDS_TEXT.replace("fallen = 0.85", "fallen = 0.01").replace("turn = 2.0", "turn = 200.0")
    new = findings(tmp_path, "other", text, MADE.expectation)
    rows, tally = compared(old, new)
    assert {row["number"] for row in rows} == {3} and rows[0]["rule"] == "slip or stripping"
    assert rows[0]["cause"] in ("threshold slip.fallen", "several of them together")
    assert sum(n for (basis, _, _), n in tally.moves.items() if basis == ON[0]) == 6


def test_a_limit_and_a_rule_that_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = findings(tmp_path, RULES_VERSION, THRESHOLDS_TEXT, MADE.expectation)
    wide = Expectation(**{name: getattr(MADE.expectation, name).copy() for name in Expectation.__slots__})
    wide.T_low[0] = wide.target[0] * 1.2
    rows, _ = compared(old, findings(tmp_path, "more", THRESHOLDS_TEXT, wide))
    assert [(row["number"], row["cause"], row["quantity"]) for row in rows] == [(0, "limit T_low", "T_off")]
    assert rows[0]["now"] == wide.T_low[0] and rows[0]["before"] == MADE.expectation.T_low[0]
    from evenpull.curve import verdicts as code

    new = findings(tmp_path, "last", THRESHOLDS_TEXT, MADE.expectation)
    monkeypatch.setitem(code._RULES, "step order", lambda g: (np.ones(6, bool), np.ones(6, bool)))
    newer = findings(tmp_path, "newer", THRESHOLDS_TEXT, MADE.expectation)
    rows, _ = compared(new, newer)
    assert rows and {row["cause"] for row in rows} == {RULE_CHANGED}


def test_findings_of_other_curves_are_not_set_beside_each_other(tmp_path: Path) -> None:
    one = findings(tmp_path, RULES_VERSION, THRESHOLDS_TEXT, MADE.expectation)
    part, head = next(read_findings(one)), read_head(one)
    with pytest.raises(CurveError, match="other curves"):
        list(changes(part, part, head, Head(**{**head.__dict__, "content": "d" * 64}), Tally()))
    pq.write_table(pq.read_table(one, partitioning=None).replace_schema_metadata(None), tmp_path / "bare.parquet")
    with pytest.raises(CurveError, match="no file of curve findings"):
        read_head(tmp_path / "bare.parquet")


def test_no_threshold_changes_without_another_name() -> None:
    assert version_of(2, THRESHOLDS_TEXT) != version_of(2, THRESHOLDS_TEXT + " ") != version_of(3, THRESHOLDS_TEXT)
    for name, value in flat(THRESHOLDS).items():
        assert flat(with_one(THRESHOLDS, name, value + 1))[name] == value + 1
    assert len(nothing_expected(3)) == 3 and math.isnan(stacked([nothing_expected(1, fresh=math.nan)]).fresh[0])


FORMS = ["{tool}/{epoch}/{counter}", "{tool} no. {counter}", "{counter}", "a{tool}b"]


@given(st.text(max_size=30), st.sampled_from(FORMS))
def test_the_form_of_a_run_never_takes_long_and_gives_back_what_it_took(text: str, form: str) -> None:
    pattern = run_pattern(form)
    match = pattern.fullmatch(text)
    if match is not None:
        assert form.format(**match.groupdict()) == text
    for long in ("x/" * 20_000, "x" * 40_000, "a no. " * 9_000 + "\n"):  # comes to an end at once
        assert pattern.fullmatch(long) is None or form.format(**pattern.fullmatch(long).groupdict()) == long
