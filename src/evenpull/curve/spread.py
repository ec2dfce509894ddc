"""Judging many files of curves, spread over threads of this machine or over a cluster: one function for both.

    with ThreadPoolExecutor(2) as pool:                                # or: client.get_executor(), Dask
        for own in judged(pool, curve_files(folder), expectations):    # in the order of the files, whoever judged them
            own.error or own.judged.mechanics.first()

A part is a row group of one file. `judge_part` reads and judges one, knows of no other and keeps nothing, so a part may
be judged anywhere, and again where a machine was lost. What it gives hangs on the part alone: not on the number of
workers, nor on who came first. Parts are handed out as their results are fetched, so the memory is that of the parts
under way.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path

from evenpull.curve.columns import CurveError
from evenpull.curve.expectation import Expectation, repeated
from evenpull.curve.judge import Judged, judge
from evenpull.curve.learned import Learned
from evenpull.curve.parquet import count_groups, read_group

AHEAD = 8  # parts handed out before the first result is fetched: enough that nobody waits on a few processors


@dataclass(frozen=True, slots=True)
class Part:
    """One row group (from 0) of one file of curves of one joint."""

    joint: str
    path: Path
    group: int


@dataclass(frozen=True, slots=True, eq=False)
class JudgedPart:
    """What came of one part: its runs and their verdicts; or `error`, which names the file, and nothing else."""

    part: Part
    runs: list[str]
    judged: Judged | None
    error: str = ""


def judge_part(part: Part, expectation: Expectation, learned: Learned | None = None) -> JudgedPart:
    """Reads and judges one row group; `expectation` is that of one curve of its joint. A file that cannot be read is an
    error of this part, not of the work: the others go on."""
    try:
        runs, curves = read_group(part.path, part.group, threads=False)
    except CurveError as error:
        return JudgedPart(part, [], None, str(error))
    return JudgedPart(part, runs, judge(curves, repeated(expectation, len(curves)), learned))


def judged(
    pool: Executor, files: Iterable[tuple[str, Path]], expectations: Mapping[str, Expectation],
    learned: Mapping[str, Learned] | None = None, *, ahead: int = AHEAD,
) -> Iterator[JudgedPart]:
    """All parts of the files (joint, path), in order. `expectations`: by joint, that of one curve; `learned`: by joint,
    where there is any. The pool is of threads, or what a Dask client gives as its executor; its workers have to see the
    files under the same path. At most `ahead` parts are under way.

    A file that cannot be read, or whose worker was lost more often than the pool tries again, comes as a part with its
    error; the results of all others come all the same. CurveError, before anything is judged, for a joint without an
    expectation and for `ahead` below 1.
    """
    given = list(files)
    if ahead < 1:
        raise CurveError(f"ahead: at least 1 part has to be under way, not {ahead}")
    if missing := sorted({joint for joint, _ in given} - set(expectations)):
        raise CurveError(f"expectations: none for {', '.join(missing)}; state what is expected of one curve of each "
                         "joint")
    return _in_order(pool, given, expectations, learned or {}, ahead)


def _in_order(
    pool: Executor, files: list[tuple[str, Path]], expectations: Mapping[str, Expectation],
    learned: Mapping[str, Learned], ahead: int,
) -> Iterator[JudgedPart]:
    under_way: deque[tuple[Part, Future[JudgedPart] | JudgedPart]] = deque()
    try:
        for part in _parts(files):
            if isinstance(part, JudgedPart):
                under_way.append((part.part, part))
            else:
                own = (expectations[part.joint], learned.get(part.joint))
                under_way.append((part, pool.submit(judge_part, part, *own)))
            if len(under_way) >= ahead:
                yield _fetched(*under_way.popleft())
        while under_way:
            yield _fetched(*under_way.popleft())
    finally:
        for _, waiting in under_way:
            if isinstance(waiting, Future):
                waiting.cancel()


def _parts(files: list[tuple[str, Path]]) -> Iterator[Part | JudgedPart]:
    """The row groups of each file, as its end tells; one part with the error where it tells nothing."""
    for joint, path in files:
        try:
            many = count_groups(path)
        except CurveError as error:
            yield JudgedPart(Part(joint, path, 0), [], None, str(error))
            continue
        for group in range(many):
            yield Part(joint, path, group)


def _fetched(part: Part, waiting: Future[JudgedPart] | JudgedPart) -> JudgedPart:
    if isinstance(waiting, JudgedPart):
        return waiting
    lost = waiting.exception()
    if lost is None:
        return waiting.result()
    return JudgedPart(part, [], None, f"{part.path}, row group {part.group}: was not judged ({type(lost).__name__}: "
                                      f"{lost}); judge this file again")
