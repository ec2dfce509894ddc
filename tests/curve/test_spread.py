"""Judging spread over threads and over a cluster of processes: the same to the bit, whoever judged or was lost."""

from __future__ import annotations

import hashlib
import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from distributed import Client, LocalCluster

from evenpull.curve import CurveError, parquet
from evenpull.curve.expectation import Expectation, repeated
from evenpull.curve.parquet import curve_files, write_curves
from evenpull.curve.simulate import FAULTS, simulate
from evenpull.curve.simulated_joints import random_joint
from evenpull.curve.spread import JudgedPart, Part, judge_part, judged

JOINTS = ("KN-CW-014", "KN-TG-002", "KN-TG-003")
PER_GROUP = 12
OWN = {joint: random_joint(np.random.default_rng(seed)) for seed, joint in enumerate(JOINTS)}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Three joints, one file each, three row groups a file, all faults."""
    place = tmp_path_factory.mktemp("curves")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(parquet, "GROUP", PER_GROUP)
        for seed, joint in enumerate(JOINTS):
            made = simulate(seed, [fault if "gasket" not in fault else "none" for fault in FAULTS] * 2 + ["none"] * 8,
                            joint=OWN[joint])
            write_curves(place, joint, [f"run {i}" for i in range(len(made.curves))], made.curves)
    yield place


@pytest.fixture(scope="module")
def expectations() -> dict[str, Expectation]:
    return {joint: own.expectation for joint, own in OWN.items()}


def digest(parts: list[JudgedPart]) -> str:
    """Of every number, in the order of the parts."""
    own = hashlib.sha256()
    for part in parts:
        assert part.judged is not None, part.error
        own.update(repr((part.part.joint, part.part.path.name, part.part.group, part.runs)).encode())
        verdicts = part.judged.mechanics
        for values in (part.judged.features.values, verdicts.found, verdicts.applied, verdicts.answer):
            own.update(np.ascontiguousarray(values).tobytes())
    return own.hexdigest()


def one_by_one(folder: Path, expectations: dict[str, Expectation]) -> list[JudgedPart]:
    return [judge_part(Part(joint, path, group), expectations[joint])
            for joint, path in curve_files(folder) for group in range(parquet.count_groups(path))]


def test_threads_give_what_one_gives(folder: Path, expectations: dict[str, Expectation]) -> None:
    alone = one_by_one(folder, expectations)
    assert len(alone) == 9 and sum(len(part.runs) for part in alone) == 3 * 36
    found = np.concatenate([part.judged.mechanics.found for part in alone if part.judged])
    assert 0.2 < found.any(axis=1).mean() < 1  # there is something to differ in
    for threads, ahead in ((1, 1), (3, 2), (4, 100)):
        with ThreadPoolExecutor(threads) as pool:
            assert digest(list(judged(pool, curve_files(folder), expectations, ahead=ahead))) == digest(alone)


class Dying(Executor):
    """A cluster's executor whose worker kills itself in the middle of one part, once."""

    def __init__(self, own: Executor, mark: Path) -> None:
        self.own, self.mark = own, mark

    def submit(self, function: Any, /, part: Part, *rest: Any, **_: Any) -> Future[Any]:
        mark = str(self.mark)

        def dying(part: Part, *rest: Any) -> Any:
            if part.group == 1 and part.joint == "KN-TG-002":
                try:
                    os.close(os.open(mark, os.O_CREAT | os.O_EXCL))
                except FileExistsError:
                    return function(part, *rest)
                os.kill(os.getpid(), signal.SIGKILL)
            return function(part, *rest)

        return self.own.submit(dying, part, *rest)


def test_a_cluster_gives_what_one_gives(folder: Path, expectations: dict[str, Expectation], tmp_path: Path) -> None:
    """By processes: one worker, three workers, and three of which one is killed while it judges."""
    alone, files = digest(one_by_one(folder, expectations)), curve_files(folder)
    with LocalCluster(n_workers=3, threads_per_worker=1, processes=True, dashboard_address=None,
                      local_directory=str(tmp_path)) as cluster, Client(cluster) as client:
        workers = client.run(os.getpid)
        before = set(workers.values())
        assert len(before) == 3 and os.getpid() not in before
        assert digest(list(judged(client.get_executor(workers=[next(iter(workers))]), files, expectations))) == alone
        assert digest(list(judged(client.get_executor(), files, expectations, ahead=9))) == alone
        dying = Dying(client.get_executor(), tmp_path / "died")
        assert digest(list(judged(dying, files, expectations, ahead=9))) == alone
        assert (tmp_path / "died").exists()
        assert len(before & set(client.run(os.getpid).values())) == 2  # one process is gone


def damaged(folder: Path, to: Path, joint: str) -> Path:
    """All files anew in `to`; in that of one joint the middle of its torques is overwritten. Returns that file."""
    for name, path in curve_files(folder):
        own = to / path.relative_to(folder)
        own.parent.mkdir(parents=True)
        data = bytearray(path.read_bytes())
        if name == joint:
            column = parquet.pq.ParquetFile(path).metadata.row_group(1).column(3)
            assert column.path_in_schema.startswith("torque_Nm")
            at = column.data_page_offset + column.total_compressed_size // 2
            data[at] ^= 1
            broken = own
        own.write_bytes(data)
    return broken


def test_a_damaged_file_is_named_and_nothing_else_is_lost(
    folder: Path, expectations: dict[str, Expectation], tmp_path: Path,
) -> None:
    broken = damaged(folder, tmp_path, "KN-TG-002")  # one bit
    half = curve_files(tmp_path, "KN-TG-003")[0][1]
    half.write_bytes(half.read_bytes()[:-100])
    with ThreadPoolExecutor(2) as pool:
        parts = list(judged(pool, curve_files(tmp_path), expectations))
    assert [part.part.path.parent.name for part in parts if part.error] == ["joint=KN-TG-002", "joint=KN-TG-003"]
    first, second = (part for part in parts if part.error)
    assert str(broken) in first.error and "take it again from its source" in first.error
    assert str(half) in second.error and first.judged is None and first.part.group == 1
    whole = [part for part in parts if not part.error]
    alone = one_by_one(folder, expectations)
    assert digest(whole) == digest([part for part in alone if (part.part.joint, part.part.group) in {
        ("KN-CW-014", 0), ("KN-CW-014", 1), ("KN-CW-014", 2), ("KN-TG-002", 0), ("KN-TG-002", 2)}])


class Lost(Executor):
    """Loses every second part, as a cluster does that has no worker left to try again."""

    def __init__(self) -> None:
        self.handed = 0

    def submit(self, function: Any, /, *rest: Any, **_: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.handed += 1
        if self.handed % 2:
            future.set_result(function(*rest))
        else:
            future.set_exception(ConnectionError("worker gone"))
        return future


def test_a_part_that_was_lost_for_good_is_told(folder: Path, expectations: dict[str, Expectation]) -> None:
    parts = list(judged(Lost(), curve_files(folder), expectations))
    told = [part.error for part in parts if part.error]
    assert len(parts) == 9 and len(told) == 4
    assert told[0].startswith(str(curve_files(folder)[0][1])) and "row group 1: was not judged" in told[0]
    assert "ConnectionError: worker gone" in told[0] and "judge this file again" in told[0]


def test_no_more_parts_are_under_way_than_stated(folder: Path, expectations: dict[str, Expectation]) -> None:
    pool = Lost()
    own = judged(pool, curve_files(folder), expectations, ahead=3)
    next(own)
    assert pool.handed == 3
    own.close()
    assert pool.handed == 3


def test_what_is_not_begun(folder: Path, expectations: dict[str, Expectation]) -> None:
    pool = Lost()
    with pytest.raises(CurveError, match="none for KN-TG-002"):
        judged(pool, curve_files(folder), {joint: expectations[joint] for joint in ("KN-CW-014", "KN-TG-003")})
    with pytest.raises(CurveError, match="at least 1 part"):
        judged(pool, curve_files(folder), expectations, ahead=0)
    assert pool.handed == 0
    with pytest.raises(CurveError, match="expectation of 2 curves"):
        repeated(repeated(expectations["KN-CW-014"], 2), 5)
