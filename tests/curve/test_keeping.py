"""Curves kept in Parquet, thinned by a rule, read from CSV; what ended each step."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpull.curve import CurveError, Curves, measure
from evenpull.curve.columns import joined, one_curve
from evenpull.curve.parquet import curve_files, read_parts, read_runs, write_curves
from evenpull.curve.read_csv import Layout, read_curve_file
from evenpull.curve.simulate import FAULTS, simulate
from evenpull.curve.steps import CAUSES, ProgramStep, program_fulfilled, step_ends
from evenpull.curve.thin import curve_digest, thin
from tests.curve.made import curve, ramp

PROGRAM = (ProgramStep(1, "run", "angle", 700.0), ProgramStep(2, "final", "torque", 40.0, 44.0, 60.0, 0.01))


def same(one: Curves, other: Curves) -> bool:
    return all(np.array_equal(getattr(one, name), getattr(other, name), equal_nan=name != "step")
               for name in ("time", "angle", "torque", "step", "offsets"))


def many() -> Curves:
    made = simulate(9, list(FAULTS[:9])).curves
    return joined([made, one_curve([0.0, 1.0], [0.0, math.nan], [0.0, 1.0]), one_curve([], [], [])])


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    curves = many()
    runs = [f"run {i}" for i in range(len(curves))]
    path = write_curves(tmp_path, "KN-CW-014 / 2", runs, curves)
    assert write_curves(tmp_path, "KN-CW-014 / 2", runs, curves) == path
    assert curve_files(tmp_path) == [("KN-CW-014 / 2", path)] == curve_files(tmp_path, "KN-CW-014 / 2")
    assert curve_files(tmp_path, "other") == []
    [(names, back)] = list(read_parts(path))
    assert names == runs and same(back, curves)
    kept = read_runs(path)
    assert [row[1] for row in kept] == np.diff(curves.offsets).tolist()
    assert kept[3] == ("run 3", int(np.diff(curves.offsets)[3]), curve_digest(curves, 3), "")


def test_another_program_reads_the_file(tmp_path: Path) -> None:
    """By its own reader: polars."""
    import polars as pl

    curves = many()
    path = write_curves(tmp_path, "KN-CW-014", [str(i) for i in range(len(curves))], curves)
    table = pl.read_parquet(path)
    assert table["torque_Nm"].list.len().to_list() == np.diff(curves.offsets).tolist()
    assert np.array_equal(table["torque_Nm"].explode().drop_nulls().to_numpy()[:100], curves.torque[:100])


def test_large_files_come_in_parts(tmp_path: Path) -> None:
    one = one_curve(np.arange(3), np.arange(3), np.arange(3))
    curves = joined([one] * 4500)
    path = write_curves(tmp_path, "J", [str(i) for i in range(4500)], curves)
    assert [len(part) for _, part in read_parts(path)] == [2000, 2000, 500]


@pytest.mark.parametrize(("joint", "runs", "says"), [
    ("", ["a", "b"], "name of the joint is empty"), ("J", ["a"], "1 names for 2 curves"),
    ("J", ["a", "a"], "named twice"),
])  # fmt: skip
def test_what_is_not_written(tmp_path: Path, joint: str, runs: list[str], says: str) -> None:
    with pytest.raises(CurveError, match=says):
        write_curves(tmp_path, joint, runs, joined([curve(), curve()]))
    assert list(tmp_path.rglob("*.parquet")) == []


def test_nothing_half_written_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError("no space left on device")

    monkeypatch.setattr(pq, "write_table", full)
    with pytest.raises(OSError, match="no space"):
        write_curves(tmp_path, "J", ["a"], curve())
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_a_file_that_is_not_ours(tmp_path: Path) -> None:
    path = tmp_path / "x.parquet"
    path.write_bytes(b"PAR1 and nothing")
    with pytest.raises(CurveError, match="no Parquet file"):
        list(read_parts(path))
    pq.write_table(pa.table({"run": ["a"]}), path)
    with pytest.raises(CurveError, match=r"column 'time_s' is missing"):
        list(read_parts(path))
    whole = pq.read_table(write_curves(tmp_path, "J", ["a"], curve()), partitioning=None)
    short = whole.set_column(whole.schema.get_field_index("angle_deg"), whole.schema.field("angle_deg"),
                             pa.array([[1.0]], whole.schema.field("angle_deg").type))
    pq.write_table(short, path)
    with pytest.raises(CurveError, match="fewer points"):
        list(read_parts(path))


@settings(max_examples=60, deadline=None)
@given(data=st.binary(max_size=400))
def test_any_bytes_as_parquet(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.mktemp("any") / "x.parquet"
    path.write_bytes(data)
    with pytest.raises(CurveError):
        list(read_parts(path))


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), torque=st.floats(0.05, 2.0), angle=st.floats(0.3, 5.0))
def test_thinning_keeps_its_rule(seed: int, torque: float, angle: float) -> None:
    """Every point that was left out lies within both tolerances of the straight line between those that stayed."""
    time, a, T = ramp(noise=0.3, seed=seed, tail=10)
    own = one_curve(time, a, T, np.where(a < 500, 1, 2))
    thinned = thin(own, torque=torque, angle=angle)
    kept = thinned.curves
    t = own.time.astype(float)
    assert np.abs(np.interp(t, kept.time, kept.torque) - own.torque).max() <= torque * 1.001 + 1e-4
    assert np.abs(np.interp(t, kept.time, kept.angle) - own.angle).max() <= angle * 1.001 + 1e-3
    assert set(zip(kept.time.tolist(), kept.torque.tolist(), strict=True)) <= set(
        zip(own.time.tolist(), own.torque.tolist(), strict=True))
    assert thinned.n_original[0] == len(t) and thinned.original == (curve_digest(own, 0),)
    assert np.flatnonzero(np.diff(kept.step)).size == 1 and f"{torque:g} N.m" in thinned.rule


def test_a_thinned_curve_is_smaller_and_says_so(tmp_path: Path) -> None:
    thinned = thin(curve(), torque=0.05, angle=0.5)
    assert len(thinned.curves.torque) < 0.2 * len(curve().torque)
    path = write_curves(tmp_path, "J", ["a"], thinned)
    assert read_runs(path) == [("a", len(curve().torque), curve_digest(curve(), 0), thinned.rule)]
    found = measure(thinned.curves, target=40.0)
    assert found["k_el"][0] == pytest.approx(1.0, abs=0.05) or math.isnan(found["k_el"][0])
    with pytest.raises(CurveError, match="greater than 0"):
        thin(curve(), torque=0.0, angle=1.0)


def test_points_that_are_no_numbers_are_never_thinned_away() -> None:
    time, a, T = ramp()
    T[[200, 201, 900]] = math.nan
    assert np.isnan(thin(one_curve(time, a, T), torque=1.0, angle=5.0).curves.torque).sum() == 3


def text_of(delimiter: str = ",", decimal: str = ".") -> bytes:
    rows = ["run,t,phi,M,no", *(f"{run},{i * 0.01:.2f},{i * 2.5},{i * 0.5 + k},{1 + i // 3}"
                                for i in range(6) for k, run in enumerate(("A7", "B2")))]
    text = "\n".join(rows) + "\n"
    return text.replace(",", ";").replace(".", decimal).replace(";", delimiter).encode()


LONG = Layout(run="run", time="t", angle="phi", torque="M", step="no")


def test_a_long_file_of_two_runs() -> None:
    found = read_curve_file(text_of(), LONG, "two.csv")
    assert found.runs == ["A7", "B2"] and found.curves.offsets.tolist() == [0, 6, 12]
    assert found.curves.torque.tolist() == [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5]
    assert found.curves.step[:6].tolist() == [1, 1, 1, 2, 2, 2]
    german = read_curve_file(text_of(";", ","), Layout(run="run", time="t", angle="phi", torque="M", step="no",
                                                       delimiter=";", decimal=","), "two.csv")
    assert same(german.curves, found.curves) and german.sha256 != found.sha256


def test_a_wide_file_whose_runs_end_at_different_lines() -> None:
    data = b"s,A angle,A torque,B angle,B torque\n0,0,0,0,0\n1,90,1,180,2\n2,180,2,,\n"
    found = read_curve_file(data, Layout(kind="wide", time="s", angle=" angle", torque=" torque"), "wide.csv")
    assert found.runs == ["A", "B"] and found.curves.offsets.tolist() == [0, 3, 5]
    assert found.curves.angle.tolist() == [0, 90, 180, 0, 180]


def test_units_and_rate() -> None:
    layout = Layout(time=None, rate=100.0, angle="rev", torque="T", torque_unit="lbf.ft", angle_unit="rev")
    found = read_curve_file(b"rev,T\n0,0\n0.5,10\n", layout, "one.csv")
    assert found.runs == ["one.csv"] and found.curves.angle.tolist() == [0, 180]
    assert found.curves.time.tolist() == pytest.approx([0, 0.01])
    assert found.curves.torque[1] == pytest.approx(13.5582, abs=1e-4)  # 1 lbf.ft = 1.355 818 N.m


def test_missing_values_are_counted_and_not_dropped() -> None:
    data = b"time,angle,torque\n0,0,0\n1,1,--\n2,2,2\n"
    with pytest.raises(CurveError, match=r"x\.csv, line 3, torque: '--' is no number .* name it in the layout"):
        read_curve_file(data, Layout(), "x.csv")
    found = read_curve_file(data, Layout(missing=("--",)), "x.csv")
    assert np.isnan(found.curves.torque).tolist() == [False, True, False]


@pytest.mark.parametrize(("data", "layout", "says"), [
    (b"", Layout(), "heading is missing"),
    (b"time,angle,torque\n", Layout(), "holds no point"),
    (b"time,angle,M\n0,0,0\n", Layout(), "column 'torque' for the torque stands there 0 times"),
    (b"time,angle,torque,torque\n0,0,0,0\n", Layout(), "stands there 2 times"),
    (b"time,angle,torque\n0,0\n", Layout(), "line 2: 2 cells, the heading has 3"),
    (b"time,angle,torque\n0,0,1e40\n", Layout(), "line 2, torque"),
    (b"time,angle,torque\n0,0,nan\n", Layout(), "line 2, torque"),
    (b"time,angle,torque\n0,0,1_0\n", Layout(), "line 2, torque"),
    (b"time,angle,torque\n0,0,1,5\n", Layout(), "decimal comma"),
    (b"time,angle,torque,s\n0,0,1,x\n", Layout(step="s"), "line 2, step"),
    (b"time,angle,torque,r\n0,0,1, \n", Layout(run="r"), "run is empty"),
    (b"\xff\xfe", Layout(), "cannot be read as utf-8-sig"),
    (b"a", Layout(time=None), "either the column of the time or the rate"),
    (b"a", Layout(delimiter=",", decimal=","), "two different"),
    (b"s,A a,A t,B a,B t\n0,0,0,0,0\n1,1,1,,\n2,2,2,2,2\n", Layout(kind="wide", time="s", angle=" a", torque=" t"),
     "goes on after it was empty in line 3"),
    (b"s,a,t\n0,0,0\n", Layout(kind="wide", time="s", angle=" angle", torque=" torque"),
     "no column ends with ' torque'"),
])  # fmt: skip
def test_faults_of_a_file_name_the_place_and_the_way_out(data: bytes, layout: Layout, says: str) -> None:
    with pytest.raises(CurveError, match=says):
        read_curve_file(data, layout, "x.csv")


def test_many_faults_come_at_once() -> None:
    with pytest.raises(CurveError) as caught:
        read_curve_file(b"time,angle,torque\n" + b"0,x,y\n" * 40, Layout(), "x.csv")
    assert str(caught.value).count("\n") == 20 and "there may be more" in str(caught.value)


@settings(max_examples=150, deadline=None)
@given(data=st.binary(max_size=200) | st.text(alphabet='time,angle.torque\n0123456789e-+ "\r', max_size=200).map(
    lambda text: b"time,angle,torque\n" + text.encode()))
def test_any_bytes_as_csv(data: bytes) -> None:
    for layout in (Layout(), LONG, Layout(kind="wide", time="time", angle="angle", torque="torque")):
        try:
            found = read_curve_file(data, layout, "any.csv")
        except CurveError as error:
            assert str(error)
        else:
            assert len(found.runs) == len(found.curves)


def stepped(target: float = 40.0, k: float = 1.0) -> Curves:
    time, angle, torque = ramp(target=target, k=k)
    return one_curve(time, angle, torque, np.where(angle <= 700, 1, 2))


@pytest.mark.parametrize(("curves", "cause"), [
    (stepped(), "torque target"), (stepped(30.0), "stopped before"), (stepped(50.0), "torque limit"),
    (stepped(40.0, 0.3), "angle limit"),
])  # fmt: skip
def test_what_ended_the_last_step(curves: Curves, cause: str) -> None:
    found = step_ends(joined([stepped(), curves]), PROGRAM)
    assert found.curve.tolist() == [0, 0, 1, 1] and found.step.tolist() == [1, 2, 1, 2]
    assert [CAUSES[c] for c in found.cause] == ["angle target", "torque target", "angle target", cause]
    assert found.torque[1] == pytest.approx(40) and found.turn[0] == pytest.approx(700)
    assert program_fulfilled(joined([stepped(), curves]), PROGRAM).tolist() == [True, cause == "torque target"]


def test_a_step_that_is_not_in_the_program() -> None:
    time, angle, torque = ramp()
    own = one_curve(time, angle, torque, np.where(angle <= 700, 1, 7))
    assert CAUSES[step_ends(own, PROGRAM).cause[1]] == "not in the program"
    assert not program_fulfilled(own, PROGRAM)[0]
    assert not program_fulfilled(one_curve([], [], []), PROGRAM)[0]
    with pytest.raises(CurveError, match="stands there twice"):
        step_ends(own, (*PROGRAM, PROGRAM[0]))
