"""Analysis of variance: one-way, and two-way crossed with repeats. Sums of squares, mean squares, F.

Any unit; squares carry it squared. Values are shifted by one of them first, so that a large constant costs no digits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from evenpull.statistics.sane import Floats, readings

SMALLEST_SHARE = 1e-28  # of a sum of squares: what is less is what computing in doubles leaves of zero


@dataclass(frozen=True, slots=True)
class Source:
    """One line of the table: degrees of freedom and sum of squares."""

    name: str
    df: int
    SS: float

    @property
    def MS(self) -> float:
        return self.SS / self.df


def F_test(above: Source, below: Source) -> tuple[float, float]:
    """(F, p): ratio of two mean squares and the chance of one at least as large when both estimate one variance."""
    F = above.MS / below.MS
    return F, float(stats.f.sf(F, above.df, below.df))


@dataclass(frozen=True, slots=True)
class OneWay:
    """`between` groups and `within` them; `n_0` values per group, the mean of sorts that unequal groups ask for."""

    mean: float
    between: Source
    within: Source
    n_0: float

    @property
    def components(self) -> tuple[float, float]:
        """(sigma^2 between, sigma^2 within), random effects; the first may come out negative and is given so."""
        return (self.between.MS - self.within.MS) / self.n_0, self.within.MS


def one_way(groups: Sequence[Iterable[float]]) -> OneWay:
    """One-way table of at least two groups, one of them with two values or more. ValueError for less, and where
    nothing scatters within the groups."""
    if len(groups) < 2:
        raise ValueError(f"{len(groups)} groups: at least 2 are needed to compare")
    found = [readings(group, 1, f"values in group {place}") for place, group in enumerate(groups, 1)]
    n = np.array([len(group) for group in found])
    if n.sum() == len(found):
        raise ValueError("every group has one value: at least one group needs two to show the scatter within")
    start = float(found[0][0])
    moved = [group - start for group in found]
    grand = float(np.concatenate(moved).mean())
    between = float((n * (np.array([group.mean() for group in moved]) - grand) ** 2).sum())
    within = float(sum(((group - group.mean()) ** 2).sum() for group in moved))
    if within <= SMALLEST_SHARE * float(sum((group**2).sum() for group in moved)):
        raise ValueError("no group scatters: read with a finer resolution, or look whether values were copied")
    k, N = len(found), int(n.sum())
    return OneWay(start + grand, Source("between", k - 1, between), Source("within", N - k, within),
                  float((N - (n**2).sum() / N) / (k - 1)))


@dataclass(frozen=True, slots=True)
class Crossed:
    """A balanced crossed study: `y` (parts, operators, repeats), with the names of parts and operators."""

    parts: tuple[str, ...]
    operators: tuple[str, ...]
    y: Floats


def crossed(rows: Iterable[tuple[str, str, float]]) -> Crossed:
    """Rows (part, operator, value) in any order to a balanced study; repeats stand in the order of the rows.

    ValueError names the cell that is missing or has another number of repeats than the others, fewer than two parts,
    operators or repeats, and a value that is not finite.
    """
    cells: dict[tuple[str, str], list[float]] = {}
    for part, operator, value in rows:
        cells.setdefault((part, operator), []).append(float(value))
    parts = tuple(dict.fromkeys(part for part, _ in cells))
    operators = tuple(dict.fromkeys(operator for _, operator in cells))
    for names, what in ((parts, "part"), (operators, "operator")):
        if len(names) < 2:
            raise ValueError(f"{len(names)} {what}s: a study needs at least 2 {what}s" + (
                "; with one operator take a one-way study of repeatability" if what == "operator" else ""))
    most = max(len(values) for values in cells.values())
    if most < 2:
        raise ValueError("every operator measured every part once: at least 2 repeats are needed to tell repeatability "
                         "from interaction")
    for part in parts:
        for operator in operators:
            values = cells.get((part, operator), [])
            if len(values) != most:
                raise ValueError(f"part {part}, operator {operator}: {len(values)} repeats where others have {most}; "
                                 "measure what is missing, or leave that part or operator out everywhere")
            readings(values, 1, f"part {part}, operator {operator}: values")
    y = np.array([[cells[part, operator] for operator in operators] for part in parts])
    return Crossed(parts, operators, y)


@dataclass(frozen=True, slots=True)
class TwoWay:
    """Table of a crossed study of p parts, o operators, r repeats."""

    p: int
    o: int
    r: int
    mean: float
    part: Source
    operator: Source
    interaction: Source
    error: Source

    @property
    def pooled(self) -> Source:
        """Interaction and error as one line, for the model without interaction."""
        interaction, error = self.interaction, self.error
        return Source("error, interaction in it", interaction.df + error.df, interaction.SS + error.SS)


def two_way(study: Crossed) -> TwoWay:
    """Sums of squares of the balanced two-way table with interaction (Montgomery, Design and Analysis of Experiments,
    chapter on random factors). ValueError where nothing scatters within the cells."""
    start = float(study.y[0, 0, 0])
    y = study.y - start
    p, o, r = y.shape
    grand, of_part, of_operator, of_cell = y.mean(), y.mean(axis=(1, 2)), y.mean(axis=(0, 2)), y.mean(axis=2)
    both = of_cell - of_part[:, None] - of_operator[None, :] + grand
    error = float(((y - of_cell[:, :, None]) ** 2).sum())
    if error <= SMALLEST_SHARE * float((y**2).sum()):
        raise ValueError("all repeats are alike in every cell: the resolution hides the repeatability; read finer")
    return TwoWay(
        p, o, r, start + float(grand),
        Source("part", p - 1, float(o * r * ((of_part - grand) ** 2).sum())),
        Source("operator", o - 1, float(p * r * ((of_operator - grand) ** 2).sum())),
        Source("part x operator", (p - 1) * (o - 1), float(r * (both**2).sum())),
        Source("error", p * o * (r - 1), error),
    )
