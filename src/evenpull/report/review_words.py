"""What a review says, as lines of text: the same on the page, on paper and from the command."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from evenpull.equipment import Calibration, Holdings
from evenpull.instrument.review import Verdict
from evenpull.quantities import show
from evenpull.report.words import moment
from evenpull.review import MODELS, Lot, Outcome, Suspect
from evenpull.review.considered import FormLine, forms
from evenpull.review.found import Found


def at(seconds: float | None) -> str:
    """A moment in UTC; "not known" for none and for the beginning of all time."""
    if seconds is None or not math.isfinite(seconds):
        return "not known"
    return moment(datetime.fromtimestamp(seconds, UTC).replace(microsecond=0))


def found_rows(found: Found, held: Holdings) -> list[tuple[str, str]]:
    """What was found, name and words."""
    rows = [
        ("Item", f"{found.serial} {held.name(found.serial)}".strip()), ("What was found", found.kind),
        ("In words", found.words), ("Found on", at(found.at)),
    ]
    if found.certificate:
        rows.append(("By certificate", f"{found.certificate}, as found"))
    if found.withdrawn:
        rows.append(("Withdrawn certificate", found.withdrawn))
    if found.event is not None:
        rows.append(("Known event", at(found.event)))
    if found.deviation is not None:
        a, w = found.deviation
        rows.append(("Ratio", f"stated {100 * a:+.2f} % against the true one, +- {200 * w:.2g} % (k = 2)"))
    for assembly in held.used_in(found.serial):
        rows.append(("Part of", f"{assembly}: {' + '.join(held.part_serials(assembly))}"))
    u = f"repeatability {100 * found.w_repeat:g} %, operator {100 * found.w_operator:g} %"
    rows.append(("Uncertainty added", f"{u} (relative standard uncertainties), step of the scale, certificate points"))
    if found.kept != 1:
        rows.append(("Load left", f"{100 * found.kept:g} % after settling and relaxation"))
    return rows


def calibration_of(found: Found, held: Holdings) -> Calibration | None:
    """The calibration by which it was found out; None where it was none."""
    if not found.certificate:
        return None
    return next((c for c in held.calibrations_of(found.serial) if c.number == found.certificate), None)


def as_found_rows(found: Found, held: Holdings) -> list[tuple[str, ...]]:
    """Stage, direction, nominal, indicated, reference, deviation, uncertainty of each point."""
    calibration = calibration_of(found, held)
    if calibration is None:
        return [("measured", "", "", f"{p.X:.4g}", f"{p.X / (1 + p.a):.4g}", f"{100 * p.a:+.2f} %",
                 f"{200 * p.w:.2g} %") for p in found.points]
    unit = calibration.unit
    return [
        (p.stage, p.direction, show(p.nominal, unit), show(p.indicated, unit), show(p.reference, unit),
         f"{100 * p.a:+.2f} %", f"{100 * p.W:.2g} % (k = {p.k:g})") for p in calibration.certificate.points
    ]


def form_lines(found: Found, held: Holdings) -> tuple[FormLine, ...]:
    return forms(calibration_of(found, held))


def suspect_rows(outcome: Outcome) -> list[tuple[str, ...]]:
    """Instrument, direction, from, to, why, curve found, curve before."""
    return [
        (one.serial, one.direction, "every use" if math.isinf(one.period.start) else at(one.period.start),
         at(one.period.end), one.period.reason, one.found_by or f"none: {one.unknown}", one.last_by or "not known")
        for one in outcome.suspects
    ]


def model_rows(outcome: Outcome) -> list[tuple[str, ...]]:
    """Model, share delivered, then how many of each verdict; a model left out with its reason."""
    rows = []
    for name in MODELS:
        one = outcome.model(name)
        if one is None:
            why = "; ".join(dict.fromkeys(why for _, left, why in outcome.left_out if left == name))
            rows.append((name, f"not set up: {why or 'nothing was tightened'}", *[""] * len(Verdict)))
            continue
        delivered = one.delivered
        share = "nothing judged" if delivered is None else (
            f"{100 * delivered[0]:.1f} % of what was indicated" if math.isclose(*delivered, rel_tol=5e-4) else
            f"{100 * delivered[0]:.1f} to {100 * delivered[1]:.1f} % of what was indicated")
        rows.append((name, share, *(f"{n:,}" for n in one.counts().values())))
    return rows




def lot_words(lot: Lot) -> str:
    """What a lot is, and what is proposed."""
    name = f"class {lot.joint_class}" if lot.joint_class else "joints that are not described"
    text = f"{name}: {lot.fasteners:,} fasteners not surely in"
    if lot.surely_out:
        text += f", {lot.surely_out:,} of them surely out: each of these is to be dealt with, no sample speaks for it"
    if not lot.open:
        return text
    if lot.proposed is None:
        return text + f"; proposed: look at all {lot.open:,} others"
    p = lot.proposed
    return text + (f"; proposed: {p.n:,} of {p.lot:,} drawn at random; if {p.bad:,} of them were bad, the sample would "
                   f"show one with {100 * p.detection:.1f} %")


def suspect_words(one: Suspect) -> str:
    begin = "every use" if math.isinf(one.period.start) else f"{at(one.period.start)}"
    return f"{one.serial} turned {one.direction}: {begin} to {at(one.period.end)} ({one.period.reason})"
