"""Files of curves in the dossier: taken in, found again, matched with records, refused; on both databases."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from evenpull.curve import CurveError
from evenpull.curve.keyed import KeyedWriter, no_keys, read_keyed
from evenpull.curve.parquet import write_curves
from evenpull.intake.mapping import MappingError
from evenpull.store import services
from evenpull.store.models import Curve, CurveFile, Fact
from evenpull.store.services import curves_judging as judging
from evenpull.store.services import curves_kept as kept
from evenpull.store.services import curves_matching as matching
from evenpull.store.services import curves_taking as taking
from evenpull.store.services import index, index_check
from evenpull.store.services.log import writing
from evenpull.store.services.place import read_raw
from tests.store.curve_files import HEAD, MAPPING_TEXT, NAME, STEEL_JOINT, csv_of, rows, simulated
from tests.store.samples import AUTHOR, MAPPING, file_of, furnish, row

CURVES = simulated(["none"] * 4)
SIX = ["none", "none", "none", "none", "re-hit", "slip"]


def furnished() -> None:
    furnish("kn-gb-006", "kn-cw-008")
    kept.add_mapping(MAPPING_TEXT, "traces.toml", AUTHOR)


def take(data: bytes, name: str = "traces.csv", joint: str = STEEL_JOINT, **how: object) -> kept.CurveFileRow:
    return taking.take(name, data, joint, AUTHOR, **({"mapping": NAME} | how)).row  # type: ignore[arg-type]


def records(counters: range, joint: str = STEEL_JOINT) -> bytes:
    return file_of(row(n, joint=joint, bolt=n) for n in counters)


def left(home: Path) -> list[Path]:
    """Files of curves and findings, whole or half."""
    return [p for name in ("curves", "curve-findings") for p in (home / name).rglob("*") if p.is_file()]


def test_taken_once_and_found_again(anywhere: Path) -> None:
    furnished()
    data = csv_of(CURVES, [1, 2, 3, 4])
    first = taking.take("traces.csv", data, STEEL_JOINT.lower(), AUTHOR, mapping=NAME)
    assert not first.already and first.row.joint == STEEL_JOINT and first.row.curves == first.row.keyed == 4
    assert read_raw(first.row.sha256) == data
    runs, keys, curves = next(read_keyed(kept.parquet_of(first.row)))
    assert runs == [f"TW-0207/A/{n}" for n in (1, 2, 3, 4)] and list(keys.counter) == [1, 2, 3, 4]
    assert np.allclose(curves.torque, CURVES.torque, atol=1e-4) and list(keys.fastener) == [1, 2, 3, 4]
    count = Fact.objects.count()
    again = taking.take("other name.csv", data, STEEL_JOINT, AUTHOR, mapping=NAME)
    assert again.already and again.row == first.row and Fact.objects.count() == count and Curve.objects.count() == 4
    run, key, one = kept.one_curve(first.row, 2)
    assert run == "TW-0207/A/3" and key.counter[0] == 3 and len(one) == 1
    assert np.array_equal(one.torque, curves[2:3].torque)
    assert services.check_log() == [] and index_check.differences() == []
    before = sorted(Curve.objects.values_list("file", "number", "tool", "counter", "digest"))
    with writing():
        index.rebuild()
    assert before == sorted(Curve.objects.values_list("file", "number", "tool", "counter", "digest"))
    assert index_check.differences() == []
    Curve.objects.filter(number=1).update(fastener=5)
    Curve.objects.filter(number=3).delete()
    assert ["another fastener than curve 1" in line or "curve 3" in line for line in index_check.differences()] == [
        True, True]


def test_the_record_may_come_first_or_last(anywhere: Path) -> None:
    furnished()
    services.commit_file("early.csv", records(range(1, 3)), MAPPING, AUTHOR)
    row_ = take(csv_of(CURVES, [1, 2, 3, 9]))
    assert row_.matched == 2
    found = matching.summary(STEEL_JOINT)
    assert (found.curves, found.matched, found.without, found.bare) == (4, 2, 2, 0)
    services.commit_file("late.csv", records(range(3, 6)), MAPPING, AUTHOR)
    found = matching.summary(STEEL_JOINT)
    assert (found.curves, found.matched, found.without, found.bare) == (4, 3, 1, 2)
    assert kept.file(row_.seq).matched == 2, "the fact says what was here then"
    assert found.differ == 0
    place = Fact.objects.get(kind="tightening", body__contains='"counter":3').seq
    assert matching.curves_of_record(place) == [(row_.seq, 2)] and matching.record_of_curve(row_.seq, 2) == place
    assert matching.curves_without(STEEL_JOINT) == [(row_.seq, 3)]
    assert len(matching.records_without(STEEL_JOINT)) == 2
    # A reading that is withdrawn takes its records along.
    (late,) = [f for f in services.files() if f.name == "late.csv"]
    services.withdraw_reading(late.sha256, "of another week", AUTHOR)
    assert matching.summary(STEEL_JOINT).matched == 2


def test_a_curve_of_another_fastener_than_its_record_says(anywhere: Path) -> None:
    furnished()
    services.commit_file("r.csv", file_of(row(n, joint=STEEL_JOINT, bolt=n + 1) for n in (1, 2)), MAPPING, AUTHOR)
    take(csv_of(CURVES[:2], [1, 2]))
    assert matching.summary(STEEL_JOINT).differ == 2
    (flag,) = [f for f in services.joint(STEEL_JOINT).proof.open_flags if f.code == "curves contradict"]
    assert "2 curves state other fasteners than their records" in flag.text


def test_two_curves_of_one_record_are_shown_and_none_is_chosen(anywhere: Path) -> None:
    furnished()
    services.commit_file("r.csv", records(range(1, 5)), MAPPING, AUTHOR)
    first = take(csv_of(CURVES, [1, 2, 3, 4]))
    same = take(csv_of(CURVES[:2], [1, 2]), "part.csv")
    assert matching.summary(STEEL_JOINT).again == 2 and matching.summary(STEEL_JOINT).conflicts == 0
    other = take(csv_of(simulated(["none"], seed=99), [2]), "other.csv")
    found = matching.summary(STEEL_JOINT)
    assert found.conflicts == 1 and set(found.twice[0].curves) == {(first.seq, 1), (same.seq, 1), (other.seq, 0)}
    assert matching.conflicting(first.seq) == [1]
    view = services.joint(STEEL_JOINT)
    (flag,) = [f for f in view.proof.open_flags if "different points" in f.text]
    assert (flag.code, flag.fastener) == ("curves contradict", 2)
    assert "traces.csv no. 1" in flag.text and "other.csv no. 0" in flag.text
    assert kept.withdraw(other.seq, "it is of bolt 2 of the other flange", AUTHOR)
    assert not kept.withdraw(other.seq, "said once more", AUTHOR)
    assert matching.summary(STEEL_JOINT).conflicts == 0
    assert [r.seq for r in kept.files(STEEL_JOINT)] == [first.seq, same.seq]
    assert "bolt 2 of the other flange" in kept.files(withdrawn=True)[-1].withdrawn
    # Withdrawn, it can be taken again, for the joint that it is of.
    again = take(csv_of(simulated(["none"], seed=99), [2]), "other.csv", joint="KN-CW-008")
    assert again.joint == "KN-CW-008" and again.seq != other.seq
    assert matching.summary("KN-CW-008").elsewhere == 1, "its record says another joint"
    assert services.check_log() == [] and index_check.differences() == []


LINES = rows(simulated(["none"]), [1])
TIME, ANGLE, TORQUE, BOLT = 1, 2, 3, 5


def cell(line: str, place: int, text: str) -> str:
    cells = line.split(";")
    return ";".join([*cells[:place], text, *cells[place + 1 :]])


BAD = {
    "row 3 broken": ("\n".join([HEAD, LINES[0], LINES[1] + ";more", *LINES[2:]]), r"traces.csv, line 3: 8 cells"),
    "a word": ("\n".join([HEAD, cell(LINES[0], ANGLE, "high")]), "line 2, angle: 'high' is no"),
    "nan": ("\n".join([HEAD, cell(LINES[0], TORQUE, "nan")]), "torque: 'nan' is no number"),
    "huge": ("\n".join([HEAD, *(cell(line, ANGLE, "1e31") for line in LINES)]), "'1e31' is no number"),
    "empty": ("", "heading is missing"),
    "heading alone": (HEAD + "\n", "holds no point"),
    "another delimiter": ("\n".join([HEAD, *LINES]).replace(";", "\t"), "stands there 0 times"),
    "run not as stated": ("\n".join([HEAD, *LINES]).replace("TW-0207/A/1", "trace one"), "is not '{tool}/{epoch}"),
    "counter no number": ("\n".join([HEAD, *LINES]).replace("A/1;", "A/1x;"), "counter '1x' is no whole number"),
    "two fasteners": ("\n".join([HEAD, *LINES[:4], cell(LINES[4], BOLT, "2")]), "the fastener of run"),
    "not text": ("\x00\x01" * 50, "column|heading|CSV"),
}


@pytest.mark.parametrize("bad", BAD)
def test_what_cannot_be_taken_leaves_nothing(dossier: Path, bad: str) -> None:
    furnished()
    count, (text, why) = Fact.objects.count(), BAD[bad]
    with pytest.raises(CurveError, match=why):
        take(text.encode())
    assert Fact.objects.count() == count and not left(dossier) and not Curve.objects.exists()
    assert not CurveFile.objects.exists() and not [p for p in dossier.iterdir() if p.name.startswith(".taking")]


def test_missing_values_are_counted_and_huge_ones_harm_nothing(anywhere: Path) -> None:
    furnished()
    text = MAPPING_TEXT.replace('decimal = ","', 'decimal = ","\nmissing = ["-"]').replace(NAME, "with gaps")
    kept.add_mapping(text, "gaps.toml", AUTHOR)
    cells = [line.split(";") for line in rows(CURVES, [1, 2, 3, 4])]
    cells[5][3] = cells[9][3] = "-"
    for line in cells[200:205]:
        line[2] = "9" * 25
    row_ = take("\n".join([HEAD, *map(";".join, cells)]).encode(), mapping="with gaps")
    assert row_.odd["n_bad"] == (1, 2)
    counts = judging.counts(judging.judged(row_))
    assert sum(n for word, n in counts.items() if word in ("accepted", "not accepted", "not judged")) == 4


def test_wrong_unit_wrong_mapping_wrong_joint(anywhere: Path) -> None:
    furnished()
    with pytest.raises(MappingError, match="angle"):
        kept.add_mapping(MAPPING_TEXT.replace('torque = "Nm"', 'torque = "Nm"\nangle = "grad"'), "m.toml", AUTHOR)
    with pytest.raises(MappingError, match="said twice"):
        kept.add_mapping(MAPPING_TEXT.replace("fastener =", 'tool = "T", fastener ='), "m.toml", AUTHOR)
    with pytest.raises(MappingError, match="no sign between"):
        kept.add_mapping(MAPPING_TEXT.replace("{tool}/{epoch}", "{tool}{epoch}"), "m.toml", AUTHOR)
    with pytest.raises(MappingError, match="parsec"):
        kept.add_mapping(MAPPING_TEXT.replace('"Nm"', '"parsec"'), "m.toml", AUTHOR)
    data = csv_of(CURVES, [1, 2, 3, 4])
    with pytest.raises(services.Unknown, match="no curve mapping 'none such'"):
        take(data, mapping="none such")
    with pytest.raises(services.UnknownJoint, match="KN-GB-006"):
        take(data, joint="KN-GB-06")
    assert not left(anywhere)
    take(data)
    with pytest.raises(services.Refused, match=r"was taken before.*for joint KN-GB-006"):
        take(data, joint="KN-CW-008")
    # The unit in which it was written: the same curves in foot-pounds are the same torques.
    text = MAPPING_TEXT.replace('torque = "Nm"', 'torque = "lbf.ft"').replace(NAME, "foot-pounds")
    kept.add_mapping(text, "f.toml", AUTHOR)
    other = take(csv_of(CURVES[:1], [7]), "f.csv", mapping="foot-pounds")
    _, _, one = kept.one_curve(other, 0)
    assert float(one.torque.max()) == pytest.approx(1.3558179 * float(CURVES[:1].torque.max()), rel=1e-4)


def test_thinned_where_asked_and_the_raw_file_whole(anywhere: Path) -> None:
    furnished()
    whole = take(csv_of(CURVES, [1, 2, 3, 4]))
    data = csv_of(CURVES[:3], [11, 12, 13])
    thin = take(data, "thin.csv", thin=(0.2, 1.0))
    assert thin.points < CURVES[:3].offsets[-1] and "within 0.2 N.m and 1 deg" in thin.thinned_by
    assert not whole.thinned_by and read_raw(thin.sha256) == data
    assert matching.summary(STEEL_JOINT).curves == 7
    kept.parquet_of(thin).unlink()
    assert kept.parquet_of(thin).exists(), "made again by the same rule"
    with pytest.raises(services.Refused, match="thinned"):
        take(data, "thin.csv")
    with pytest.raises(CurveError, match="finite and greater than 0"):
        take(csv_of(CURVES[:1], [30]), thin=(float("nan"), 1.0))


def test_parquet_of_our_own_layout(anywhere: Path, tmp_path: Path) -> None:
    furnished()
    plain = write_curves(tmp_path, "any", ["a", "b", "c", "d"], CURVES)
    row_ = take(plain.read_bytes(), "plain.parquet", mapping="")
    assert row_.keyed == 0 and matching.summary(STEEL_JOINT).keyless == 4
    keys = no_keys(4)
    with KeyedWriter(tmp_path, "any") as out:
        numbers = np.arange(1, 5)
        out.add(list("abcd"), CURVES, type(keys)(["TW-0207"] * 4, ["A"] * 4, [""] * 4, numbers, numbers,
                                                np.ones(4, np.int64), keys.began_s))
        path = out.finish().path
    services.commit_file("r.csv", records(range(1, 5)), MAPPING, AUTHOR)
    assert taking.take("keyed.parquet", path, STEEL_JOINT, AUTHOR).row.matched == 4
    for change, why in ((lambda t: t.drop_columns(["step"]), "column 'step' is missing"),
                        (lambda t: t.set_column(t.schema.get_field_index("tool"), "tool", pa.array([1, 2, 3, 4])),
                         "column 'tool' is int64"),
                        (lambda t: t.slice(0, 0), "holds no curve"),
                        (lambda t: pa.concat_tables([t, t]), "is named twice")):
        pq.write_table(change(pq.read_table(path, partitioning=None)), tmp_path / "bad.parquet")
        with pytest.raises(CurveError, match=why):
            taking.take("bad.parquet", tmp_path / "bad.parquet", STEEL_JOINT, AUTHOR)
    cut = path.read_bytes()
    for data in (cut[: len(cut) // 2], b"PAR1" + bytes(100) + b"PAR1", b""):
        with pytest.raises(CurveError, match="Parquet"):
            take(data, "cut.parquet", mapping="")
    assert len(kept.files()) == 2 and not [p for p in left(anywhere) if p.name.startswith(".")]


def test_a_parquet_that_was_changed_or_lost(anywhere: Path) -> None:
    furnished()
    row_ = take(csv_of(CURVES, [1, 2, 3, 4]))
    path = kept.parquet_of(row_)
    path.unlink()
    assert kept.parquet_of(row_) == path and path.exists()
    table = pq.read_table(path, partitioning=None)
    pq.write_table(table, path, compression="none")  # other bytes, the same content
    assert kept.parquet_of(row_) == path
    other = table.set_column(table.schema.get_field_index("counter"), "counter", pa.array([5, 6, 7, 8]))
    pq.write_table(other, path)
    with pytest.raises(services.Refused, match="was changed on the disk"):
        kept.parquet_of(row_)
    (flag,) = [f for f in services.joint(STEEL_JOINT).proof.open_flags if f.code == "curve in doubt"]
    assert "cannot be judged" in flag.text
    path.unlink()
    assert kept.parquet_of(row_).exists()
    assert not [f for f in services.joint(STEEL_JOINT).proof.open_flags if "cannot be judged" in f.text]


def test_findings_that_somebody_changed_are_not_taken_for_ours(anywhere: Path) -> None:
    furnished()
    row_ = take(csv_of(simulated(SIX), range(1, 7)))
    path = judging.judged(row_)
    table = pq.read_table(path, partitioning=None)
    clean = pa.array([0] * 6, pa.uint32())
    place = table.schema.get_field_index("found")
    pq.write_table(table.set_column(place, table.schema.field(place), clean), path)
    with pytest.raises(services.Refused, match="was changed on the disk"):
        judging.judged(row_)
    path.unlink()
    assert len(list(judging.found_in(judging.judged(row_)))) >= 2
    # A row of the index that was put there by hand does not count either.
    pq.write_table(table.set_column(place, table.schema.field(place), clean), path)
    CurveFile.objects.update(found_sha256=judging.file_sha256(path))
    assert len(list(judging.found_in(judging.judged(row_)))) >= 2


def test_without_curves_nothing_of_their_compiler_is_loaded(dossier: Path) -> None:
    code = (
        "import sys, django; django.setup(); import evenpull.cli.main; from evenpull.store import services; "
        "services.prepare(); from tests.store.samples import furnish; furnish(); services.joint('KN-CW-008'); "
        "print([m for m in ('numba', 'pyarrow') if m in sys.modules])"
    )
    own = {"EVENPULL_HOME": str(dossier / "own"), "DJANGO_SETTINGS_MODULE": "evenpull.store.settings"}
    (dossier / "own").mkdir()
    root = Path(__file__).parents[2]
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=os.environ | own, cwd=root)
    assert ran.returncode == 0 and ran.stdout.strip() == "[]", ran.stdout + ran.stderr
