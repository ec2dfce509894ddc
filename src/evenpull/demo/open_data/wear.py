"""A score for worn threads from the features of a curve, and how well a score tells: area under the curve (AUC).

The score is logistic regression with a ridge on features brought to one scale by median and quartiles: few numbers,
written down in wear.toml, the same for every run judged later.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

from evenpull.curve.features import FeatureTable

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
WEAR = (
    "T_run", "T_run_max", "run_noise", "run_slope", "T_run_2", "T_run_3", "T_run_4", "W_run", "seat", "k_low", "k_el",
    "angle_rise", "angle_origin", "yield_ratio", "T_waver", "drop", "rate_50_100", "W_total", "W_clamp", "angle_off",
    "T_first",
)  # fmt: skip
RIDGE = 1.0
FOLDS = 10
DRAWS = 2000
SEED = 20_260


def wear_table(features: FeatureTable) -> Floats:
    """Runs x `WEAR`; nan where a feature cannot be found."""
    return np.stack([features[name] for name in WEAR], axis=1)


def auc(score: Floats, worn: Bools) -> float:
    """Chance that a worn thread scores above a new one, ties half (Mann and Whitney; from memory). nan where one kind
    is missing. A score that cannot be found ranks in the middle."""
    m, n = int(worn.sum()), int((~worn).sum())
    if not m or not n:
        return float("nan")
    known = np.where(np.isnan(score), np.nanmedian(score), score)
    return float((rankdata(known)[worn].sum() - m * (m + 1) / 2) / (m * n))


def auc_interval(score: Floats, worn: Bools, group: NDArray[np.str_]) -> tuple[float, float]:
    """95 % percentile interval by drawing whole workpieces (runs of one are no independent witnesses); same seed."""
    dice = np.random.default_rng(SEED)
    names = np.unique(group)
    places = [np.flatnonzero(group == name) for name in names]
    found = []
    for _ in range(DRAWS):
        rows = np.concatenate([places[i] for i in dice.integers(len(names), size=len(names))])
        found.append(auc(score[rows], worn[rows]))
    low, high = np.nanquantile(found, [0.025, 0.975])
    return float(low), float(high)


def folds(group: NDArray[np.str_]) -> Iterator[Bools]:
    """Which rows are tested, for each of ten parts of the workpieces, drawn by one seed."""
    names = np.random.default_rng(SEED).permutation(np.unique(group))
    for part in np.array_split(names, min(FOLDS, len(names))):
        yield np.isin(group, part)


@dataclass(frozen=True, slots=True, eq=False)
class Score:
    """weight . clip((x - centre)/width, -4, 4) + offset; missing values count as the centre."""

    centre: Floats
    width: Floats
    weight: Floats
    offset: float

    def of(self, x: Floats) -> Floats:
        return np.asarray(self._scaled(x) @ self.weight + self.offset, np.float64)

    def _scaled(self, x: Floats) -> Floats:
        scaled = np.clip((x - self.centre) / self.width, -4, 4)
        return np.where(np.isnan(scaled), 0.0, scaled)

    def as_toml(self, fixed_on: str) -> str:
        lines = ["# Written by `python -m evenpull.demo.open_data.curves --fix`; then left alone.",
                 f'fixed_on = "{fixed_on}"',
                 f"offset = {self.offset:.6g}", ""]
        for name, centre, width, weight in zip(WEAR, self.centre, self.width, self.weight, strict=True):
            lines += [f"[{name}]", f"centre = {centre:.6g}", f"width = {width:.6g}", f"weight = {weight:.6g}"]
        return "\n".join(lines) + "\n"

    @staticmethod
    def of_file() -> Score:
        text = tomllib.loads(files("evenpull.demo.open_data").joinpath("wear.toml").read_text("utf-8"))
        centre, width, weight = (np.array([text[name][key] for name in WEAR], np.float64)
                                 for key in ("centre", "width", "weight"))
        return Score(centre, width, weight, float(text["offset"]))


def fit_score(x: Floats, worn: Bools) -> Score:
    """Newton's steps for logistic regression with a ridge of 1 on the weights (textbook). ValueError where one kind is
    missing."""
    if worn.all() or not worn.any():
        raise ValueError("a score needs both worn and new threads to be learned from")
    centre = np.nanmedian(x, axis=0)
    width = (np.nanquantile(x, 0.75, axis=0) - np.nanquantile(x, 0.25, axis=0)) / 1.349
    width = np.where(width > 0, width, 1.0)
    scaled = Score(centre, width, np.zeros(x.shape[1]), 0.0)._scaled(x)
    rows = np.column_stack([scaled, np.ones(len(x))])
    ridge = np.diag(np.append(np.full(x.shape[1], RIDGE), 0.0))
    beta = np.zeros(rows.shape[1])
    for _ in range(50):
        p = 1 / (1 + np.exp(-np.clip(rows @ beta, -30, 30)))
        gradient = rows.T @ (worn - p) - ridge @ beta
        step = np.linalg.solve((rows * (p * (1 - p))[:, None]).T @ rows + ridge, gradient)
        beta += step
        if np.abs(step).max() < 1e-8:
            break
    else:
        raise ValueError("the score did not settle within 50 steps: look for features that are the same in all runs")
    return Score(centre, width, beta[:-1], float(beta[-1]))
