"""Text and data of `ring --scatter`: tightening by torque on many assemblies, apart from the interaction results."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from evenpull.cli.errors import RefusalError
from evenpull.cli.show import wrap
from evenpull.prediction import Prediction, RingResult
from evenpull.prediction.notes import FLOOR, TORQUE_CONTROL, notes
from evenpull.prediction.scatter import TorqueOutcome, by_torque_control
from evenpull.quantities import show
from evenpull.ring.stepping import SteppingError


def scattered(result: RingResult) -> tuple[TorqueOutcome, ...]:
    """The procedures of the result by torque control. RefusalError when the file states no scatter."""
    prediction = result.prediction
    if prediction.scatter is None:
        raise RefusalError(f"{prediction.file}: there is no [scatter] in the file, so nothing scatters; "
                           "evenpull ring --new shows its keys")  # fmt: skip
    try:
        return tuple(by_torque_control(result, one.procedure) for one in result.outcomes)
    except SteppingError as error:
        raise RefusalError(f"{prediction.file}: no prediction: {error}") from error


def heading(prediction: Prediction) -> Iterator[str]:
    """Id, name, basis, bolts and target."""
    bolts = prediction.case.bolts
    yield f"{prediction.id}  {prediction.name}"
    yield wrap(f"basis: {prediction.basis}", 2)
    torque = "" if prediction.torque is None else f", {show(prediction.torque, 'N.m')} with K = {prediction.K:g}"
    yield wrap(f"{bolts.count} bolts on {show(bolts.bolt_circle, 'mm')}, target {show(bolts.target, 'kN')}{torque}", 2)


def scatter_text(result: RingResult, outcomes: Sequence[TorqueOutcome]) -> Iterator[str]:
    """Each procedure with its intervals, the chance of the wanted evenness, and the floor that friction sets."""
    prediction = result.prediction
    assert prediction.scatter  # checked by `scattered`
    yield from heading(prediction)
    yield wrap(f"all figures: {TORQUE_CONTROL}; {prediction.scatter.assemblies} assemblies", 2)
    for one in outcomes:
        yield ""
        yield from _outcome_text(prediction, one)
    yield ""
    for note in notes(torque=True):
        yield wrap(note, 0, 2)


def _outcome_text(prediction: Prediction, one: TorqueOutcome) -> Iterator[str]:
    assert prediction.scatter
    p, found = prediction.scatter.probability, one.intervals
    yield f"{one.procedure.name}"
    yield wrap(one.procedure.words, 2)
    yield wrap(f"least load of an assembly / target: {_range(found.least, p)}", 2, 4)
    yield wrap(f"spread of an assembly: {_range(found.spread, p)}", 2, 4)
    yield wrap(f"deviation in an assembly: {_range(found.deviation, p)}", 2, 4)
    yield wrap(f"{FLOOR}: deviation {one.floor.last_pull:.1%}, of which {one.floor.nut:.1%} stay with each nut", 2, 4)
    if one.chance is not None and prediction.evenness is not None:
        wanted = f"least {prediction.evenness.least:.0%}, spread {prediction.evenness.spread:.0%}"
        yield wrap(f"wanted evenness ({wanted}) reached in {one.chance.share:.1%} of the assemblies, 95 % confidence "
                   f"{one.chance.low:.1%} to {one.chance.high:.1%}", 2, 4)  # fmt: skip
    if prediction.case.bolts.limit is not None:
        worst, limit = int(one.above.argmax()), show(prediction.case.bolts.limit, "kN")
        said = f"most often bolt {worst + 1}, in {one.above[worst]:.1%} of the assemblies"
        said = said if one.above.any() else "no bolt in any assembly"
        yield wrap(f"above the limit of {limit} on the way: {said}", 2, 4)
    low, middle, high = found.quantiles
    yield f"  load at the end, kN: {p:.0%} of the assemblies lie between the outer figures"
    yield "  bolt     low  middle    high  (standard error of low and high)"
    for bolt in range(len(low.value)):
        figures = "".join(f"{value.value[bolt] / 1e3:8.1f}" for value in (low, middle, high))
        yield f"  {bolt + 1:4}{figures}  ({low.error[bolt] / 1e3:.1f}, {high.error[bolt] / 1e3:.1f})"


def _range(values: np.ndarray, p: float) -> str:
    low, middle, high = np.quantile(values, [(1 - p) / 2, 0.5, (1 + p) / 2])
    return f"{low:.1%} to {high:.1%} with {p:.0%} probability, middle {middle:.1%}"


def scatter_data(result: RingResult, outcomes: Sequence[TorqueOutcome]) -> dict[str, Any]:
    """The same as data in SI, for --json; nothing of the interaction results is in it."""
    prediction = result.prediction
    return {
        "ring": prediction.id,
        "sha256": prediction.digest,
        "kind": TORQUE_CONTROL,
        "notes": list(notes(torque=True)),
        "procedures": [
            {
                "name": one.procedure.name,
                "torques_N_m": [list(pull.torques) for pull in one.pulls],
                "quantiles": [
                    {
                        "q": quantile.q,
                        "loads_N": [float(value) for value in quantile.value],
                        "standard_error_N": [float(value) for value in quantile.error],
                    }
                    for quantile in one.intervals.quantiles
                ],
                "least": float(np.median(one.intervals.least)),
                "spread": float(np.median(one.intervals.spread)),
                "deviation": float(np.median(one.intervals.deviation)),
                "above_limit": [float(share) for share in one.above],
                "chance": None if one.chance is None else [one.chance.low, one.chance.share, one.chance.high],
                "floor": {"nut": one.floor.nut, "last_pull": one.floor.last_pull, "level": one.floor.level},
            }
            for one in outcomes
        ],
    }
