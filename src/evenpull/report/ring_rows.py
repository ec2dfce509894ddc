"""Tables and lists of a prediction in words, the same for the page and the paper.

Interaction only and torque control have tables of their own; no function here puts both into one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpull.catalogue.cautions import cautions_for
from evenpull.prediction import Prediction, ProcedureOutcome, RingProcedure
from evenpull.prediction.notes import NO_LIMIT
from evenpull.prediction.predict import Judged
from evenpull.prediction.scatter import TorqueOutcome
from evenpull.quantities import show

COLUMNS = ("procedure", "pulls", "walk", "least", "spread", "deviation", "highest bolt load on the way",
           "gasket stress", "flanges out of parallel", "demands")  # fmt: skip
TORQUE_COLUMNS = ("procedure", "pulls", "evenness reached", "least", "spread", "deviation", "floor of friction")
WALK = "walk: of all tools together along the bolt circle; the way to the first bolt is not counted"


def show_share(value: float) -> str:
    return f"{100 * value:.1f}\u00a0%"  # never parted at the end of a line


def row_of(outcome: ProcedureOutcome) -> tuple[str, ...]:
    """Columns of one procedure after its name, interaction only; the last one is the verdict."""
    return (
        str(len(outcome.loads)), f"{outcome.walk:.0f}\u00a0m", show_share(outcome.least), show_share(outcome.spread),
        show_share(outcome.deviation), f"{show(outcome.load.value, 'kN')} (bolt {outcome.load.bolt}, pull "
        f"{outcome.load.pull})", f"{show(outcome.seating, 'MPa')} to {show(outcome.pressure.value, 'MPa')}",
        _angle(outcome.tilt.value), outcome.verdict,
    )  # fmt: skip


def torque_row(one: TorqueOutcome) -> tuple[str, ...]:
    """Columns of one procedure after its name, torque control with scatter."""
    found, reached = one.intervals, "none wanted in the file"
    if one.chance is not None:
        reached = f"{100 * one.chance.share:.1f} % ({100 * one.chance.low:.1f} to {100 * one.chance.high:.1f}\u00a0%)"
    levels = tuple(quantile.q for quantile in found.quantiles)
    return (
        str(len(one.procedure.pulls)), reached, _range(found.least, levels), _range(found.spread, levels),
        _range(found.deviation, levels),
        f"{show_share(one.floor.last_pull)}, of which {show_share(one.floor.nut)} stay with each nut",
    )  # fmt: skip


def _range(values: NDArray[np.float64], levels: tuple[float, ...]) -> str:
    low, middle, high = np.quantile(values, levels)
    return f"{100 * low:.1f} / {100 * middle:.1f} / {100 * high:.1f}\u00a0%"


def _angle(value: float) -> str:
    return show(value if abs(value) > 1e-9 else 0.0, "deg")


@dataclass(frozen=True, slots=True)
class Demand:
    name: str
    value: str
    limit: str
    where: str
    verdict: str


def demands(outcome: ProcedureOutcome) -> tuple[Demand, ...]:
    """Every demand of the file on one procedure, also those that are not judged."""
    return tuple(_demand(one, outcome) for one in outcome.judged)


def _demand(one: Judged, outcome: ProcedureOutcome) -> Demand:
    at = {"load": outcome.load, "pressure": outcome.pressure, "tilt": outcome.tilt, "rotation": outcome.rotation}
    where = ""
    if one.key in at and at[one.key].pull:
        where = f"pull {at[one.key].pull}" + (f", bolt {at[one.key].bolt}" if at[one.key].bolt else "")
    limit = NO_LIMIT if one.limit is None else f"{'≤' if one.most else '≥'} {_shown(one.limit, one.unit)}"
    return Demand(one.name, _shown(one.value, one.unit), limit, where, one.verdict)


def _shown(value: float, unit: str) -> str:
    return show_share(value) if unit == "%" else _angle(value) if unit == "deg" else show(value, unit)


def _torque(value: float) -> str:
    return show(value, "N.m", 3)


@dataclass(frozen=True, slots=True)
class CrewPass:
    """One pass as a crew follows it: `setting` in words ("" when each pull has its own), `pulls` in order, those made
    at the same time joined by +."""

    name: str
    setting: str
    pulls: tuple[str, ...]


def crew_passes(prediction: Prediction, procedure: RingProcedure) -> tuple[CrewPass, ...]:
    target, torque = prediction.case.bolts.target, prediction.torque

    def setting(share: float) -> str:
        load = f"{100 * share:.4g} % of the target = {show(share * target, 'kN')}"
        return load if torque is None else f"{load}, by the stated K {_torque(share * torque)}"

    def own(share: float) -> str:
        return show(share * target, "kN") if torque is None else _torque(share * torque)

    made = []
    for one in procedure.passes:
        shares = {share for pull in one.pulls for share in pull.shares}
        if len(shares) == 1:
            pulls = tuple(" + ".join(map(str, pull.bolts)) for pull in one.pulls)
            made.append(CrewPass(one.name, setting(shares.pop()), pulls))
        else:
            pulls = tuple(
                " + ".join(f"{bolt} to {own(share)}" for bolt, share in zip(pull.bolts, pull.shares, strict=True))
                for pull in one.pulls
            )
            made.append(CrewPass(one.name, "", pulls))
    return tuple(made)


def facts(prediction: Prediction, named: str) -> list[tuple[str, str]]:
    """What was asked, in words; `named` says how the bolts are numbered."""
    bolts, facing = prediction.case.bolts, prediction.case.facing
    torque = "" if prediction.torque is None else f" ({_torque(prediction.torque)} with K = {prediction.K:g})"
    between = "metal to metal" if facing.metal else "gasket"
    wanted = prediction.evenness
    aim = "none stated" if wanted is None else (f"least load {show_share(wanted.least)} of the target, spread at most "
                                                f"{show_share(wanted.spread)}")  # fmt: skip
    return [
        ("Joint", prediction.joint or "none of the dossier"), ("Basis", prediction.basis),
        ("Bolts", f"{bolts.count} on a circle of {show(bolts.bolt_circle, 'mm')}, {numbering_free(named)}"),
        ("Target", f"{show(bolts.target, 'kN')} in each bolt{torque}"),
        ("Between the flanges", f"{between}, {show(facing.inside_diameter, 'mm')} to "
                                f"{show(facing.outside_diameter, 'mm')} in diameter"),
        ("Evenness wanted", aim), ("File", prediction.file),
    ]  # fmt: skip


def numbering_free(words: str) -> str:
    return words[:1].lower() + words[1:].rstrip(".")


def cautions(prediction: Prediction) -> list[str]:
    """Cautions of tightening this ring, one or two sentences each. They never allow."""
    stated = {row.field: row.written for row in prediction.inputs}
    tapped = stated.get("counterpart.material", "") if re.search("tapped", stated.get("counterpart.kind", "")) else ""
    kind = "" if prediction.case.facing.metal else "gasketed flange"
    found = cautions_for(kind, (), stated.get("bolt.class", ""), tapped, "plan")
    return [f"{one.task}: {one.hazard} {one.stop} Who decides: {one.who_decides}" for one in found]

