"""Procedures found by search for the evenness that a ring file wants, under the limits that it states."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.prediction.model import Prediction
from evenpull.prediction.predict import ProcedureOutcome, RingResult, predict
from evenpull.prediction.procedures import RingPull, free_procedure
from evenpull.ring.search.fewest import BUDGET, Fewest, fewest_pulls
from evenpull.ring.search.goal import Goal
from evenpull.ring.search.limits import Limits

WAYS = (
    ("fewest pulls, a setting for each pull", True),
    ("fewest pulls, one setting in each pass", False),
)


@dataclass(frozen=True, slots=True, eq=False)
class FoundProcedure:
    """`reached`: evenness and the limits of the file are kept, without scatter; `words`: what the search says of it."""

    outcome: ProcedureOutcome
    reached: bool
    words: tuple[str, ...]


def find_procedures(result: RingResult, budget: int = BUDGET) -> tuple[FoundProcedure, ...]:
    """The fewest pulls with own settings and with one setting a pass, interaction only, with as many tools at once as
    the procedures of the file use at most. None when the file wants no evenness. The same file gives the same ones.

    ValueError for limits that exclude the evenness; SteppingError as `predict`.
    """
    prediction = result.prediction
    wanted, bolts = prediction.evenness, prediction.case.bolts
    if wanted is None:
        return ()
    tools = max((one.tools_at_once for one in prediction.procedures), default=1)
    stated = prediction.limits
    # The least pressure of a ring file is a mean over the gasket's width, that of the search one of a single patch:
    # it is left to the demands of the outcome, which have the last word.
    limits = Limits(bolt=bolts.limit, gasket_most=stated.largest_pressure, tilt=stated.tilt)
    goal = Goal(least=wanted.least, spread=wanted.spread)
    made = []
    for name, individual in WAYS:
        found = fewest_pulls(
            result.model, result.condensed.patches, bolts.target, goal, limits, tools=tuple({1, tools}),
            individual=individual, budget=budget,
        )  # fmt: skip
        made.append(_taken(result, found, name))
    return tuple(made)


def _taken(result: RingResult, found: Fewest, name: str) -> FoundProcedure:
    prediction: Prediction = result.prediction
    target = prediction.case.bolts.target
    pulls = [
        RingPull(tuple(bolt + 1 for bolt in pull.bolts), tuple(round(load / target, 4) for load in pull.loads))
        for pull in found.pulls
    ]
    procedure = free_procedure(f"found: {name}", pulls, prediction.case.bolts.count)
    words = [f"order: {found.name}"]
    words.append(f"no procedure has fewer than {found.bound.pulls} pulls: {found.bound.why}")
    if found.gap:
        words.append(f"{found.gap} more than that bound; fewer may be possible")
    if not found.reached:
        missed = [breach.text for breach in found.breaches]
        words.append("evenness and limits are not reached; the nearest found" + (f": {'; '.join(missed)}" if missed
                                                                                 else ""))  # fmt: skip
    if found.cut_short:
        words.append(f"the search ended at its budget of {BUDGET} procedures")
    words.append("settings are rounded to 0.01 % of the target")
    outcome = predict(prediction, (procedure,), result.condensed).outcomes[0]
    return FoundProcedure(outcome, found.reached and outcome.verdict != "not accepted", tuple(words))
