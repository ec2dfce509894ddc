"""Is an instrument fit for the pulls of a plan? Every reason in words with its numbers, nothing decided by a sum.

Torques in N.m at the fastener.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from evenpull.instrument.assembly import Instrument, beyond_parts, budget_of, setting_of
from evenpull.instrument.candidate import Candidate, Fitness, JointClass, PassFitness, PassValue, Reason, UseLimit
from evenpull.instrument.certificate import Certificate, Direction
from evenpull.instrument.chain import ToolSetting
from evenpull.instrument.conformity import SIMPLE, DecisionRule, outside_probability
from evenpull.instrument.deviation import CLOSE, DeviationCurve, true_value
from evenpull.instrument.parts import Adapter, Driver, Pump, name_of
from evenpull.instrument.risk import rule_risks
from evenpull.instrument.validity import in_force, last_day
from evenpull.quantities import from_si, show, unit_shown

ALLOWED_RISK = 0.05  # of a wrong acceptance at the setting: conformity at 95 %, as ISO 14253-1 defaults (from memory)


def fitness(
    candidate: Candidate, values: Sequence[PassValue], day: date, joint_class: JointClass | None,
    allowed_risk: float = ALLOWED_RISK, scatter: float | None = None, rule: DecisionRule = SIMPLE,
) -> Fitness:
    """Judge a candidate for all pass values on the day of use.

    With `scatter`, the relative standard deviation of the true torque from pull to pull, each pass also says how many
    records the `rule` would accept or refuse wrongly when their readings have the uncertainty of the instrument.

    ValueError for no pass values, a window that does not hold its torque, an allowed risk outside 0 to 1, and for
    certificates that overlap.
    """
    if not values:
        raise ValueError("there are no pass values to be fit for")
    if not 0 < allowed_risk < 1:
        raise ValueError(f"the allowed risk lies between 0 and 1: {allowed_risk}")
    for value in values:
        if not 0 < value.lower <= value.torque <= value.upper or value.lower == value.upper:
            raise ValueError(f"{value.name}: the window {value.lower} to {value.upper} N.m does not hold its torque "
                             f"{value.torque} N.m")
    certificate = in_force(candidate.certificates, day).certificate
    validity, left = _validity(candidate, day)
    reasons = (*_chain(candidate), *validity, *_general(candidate, joint_class))
    passes = tuple(
        _with_records(_one_pass(candidate, certificate, value, allowed_risk), scatter, rule) for value in values
    )
    return Fitness(candidate, reasons, passes, left)


def _chain(candidate: Candidate) -> Iterator[Reason]:
    if candidate.missing:
        yield Reason("chain", False, f"the chain is not complete: {'; '.join(candidate.missing)}")
    else:
        yield Reason("chain", True, f"complete: {', '.join(name_of(part) for part in candidate.instrument.parts)}")


def _validity(candidate: Candidate, day: date) -> tuple[list[Reason], int | None]:
    """A reason for each part that needs a certificate, and the days left of the one that ends first."""
    reasons: list[Reason] = []
    left: list[int] = []
    for part in candidate.instrument.parts:
        own = candidate.certificates if isinstance(part, Driver) else candidate.part_certificates.get(part.serial, ())
        if not own and isinstance(part, Pump | Adapter):
            continue
        found = in_force(own, day)
        if found.certificate is None:
            reasons.append(Reason("validity", False, f"{name_of(part)}: {found.reason}"))
        else:
            last = last_day(found.certificate, own)
            left.append((last - day).days)
            reasons.append(Reason("validity", True, f"{name_of(part)}: certificate {found.certificate.id} is in force "
                                  f"on {day}, until {last}"))
    return reasons, min(left) if all(reason.fit for reason in reasons) else None


def _general(candidate: Candidate, joint_class: JointClass | None) -> Iterator[Reason]:
    if candidate.cycles_allowed is not None:
        yield cycles_reason(candidate.cycles, candidate.cycles_allowed)
    for event in candidate.events:
        yield Reason("event", False, f"{event}; not settled by a check since")
    if joint_class is not None:
        if candidate.serves is None:
            yield Reason("class", False, f"the joint is of class {joint_class}; which class the tool may serve is not "
                         "stated")
        else:
            yield Reason("class", candidate.serves <= joint_class, f"the joint is of class {joint_class}, the tool may "
                         f"serve class {candidate.serves}{'' if candidate.serves == 'C' else ' and below'}")


def cycles_reason(cycles: int | None, allowed: int) -> Reason:
    """Cycles since the calibration against those it was calibrated for; a count that is not known ends it."""
    if cycles is None:
        return Reason("cycles", False, f"calibrated for {allowed} cycles, and how many it has made is not known: read "
                      "its counter")
    return Reason("cycles", cycles <= allowed, f"{cycles} of {allowed} cycles since its calibration")


def _one_pass(
    candidate: Candidate, certificate: Certificate | None, value: PassValue, allowed_risk: float,
) -> PassFitness:
    one = candidate.instrument
    reasons: list[Reason] = [Reason(
        "direction", value.direction in candidate.directions, f"to be turned {value.direction}, the tool turns "
        f"{' and '.join(candidate.directions)}",
    )]
    try:
        setting = setting_of(one, value.torque)
    except ValueError as error:  # less than half a step of the scale
        reasons.append(Reason("setting", False, f"no setting: {error}"))
        return PassFitness(value, None, None, None, None, tuple(reasons))
    reasons += _range(one, candidate.limits, setting)
    reasons.append(_setting(one, setting, value))
    curve, basis = _curve(candidate, certificate, value.direction)
    expected, u, risk, why = _risk(one, curve, basis, setting, value, allowed_risk)
    if why is not None:
        reasons.append(why)
    elif certificate is not None:
        reasons.append(Reason("certificate", False, f"certificate {certificate.id} has no points turned "
                              f"{value.direction}: cannot be judged"))
    return PassFitness(value, setting, expected, u, risk, tuple(reasons))


def _with_records(one: PassFitness, scatter: float | None, rule: DecisionRule) -> PassFitness:
    if scatter is None or one.expected is None or one.u is None:
        return one
    value = one.value
    try:
        risks = rule_risks(one.expected, scatter * one.expected, one.u, value.lower, value.upper, rule)
    except ValueError as error:  # no acceptance interval is left, or the measurement is too coarse for the rule
        return replace(one, reasons=(*one.reasons, Reason("records", False, str(error))))
    words = (f"records judged by {rule.name}, pulls scattering by {100 * scatter:.3g} %: {percent(risks.consumer)} "
             f"accepted although outside the window, {percent(risks.producer)} refused although within")
    return replace(one, records=risks, reasons=(*one.reasons, Reason("records", True, words)))


def _range(one: Instrument, limits: Sequence[UseLimit], setting: ToolSetting) -> Iterator[Reason]:
    beyond = beyond_parts(one, setting.torque)
    yield from (Reason("range", False, text) for text in beyond)
    if not beyond:
        yield Reason("range", True, f"{setting.digits} {unit_shown(setting.unit)} is on the scale and within what all "
                     "parts bear")
    at_driver = setting.torque / one.ratio
    for limit in limits:
        inside = limit.lower * (1 - CLOSE) <= at_driver <= limit.upper * (1 + CLOSE)
        unit = one.driver.unit
        yield Reason("limit on use", inside, f"limited to {show(limit.lower, unit)} to {show(limit.upper, unit)} "
                     f"({limit.reason}); here {show(at_driver, unit)} at the drive")


def _setting(one: Instrument, setting: ToolSetting, value: PassValue) -> Reason:
    """The rounded setting gives a torque within the window."""
    inside = value.lower * (1 - CLOSE) <= setting.torque <= value.upper * (1 + CLOSE)
    unit = unit_shown(setting.unit)
    step = from_si(one.driver.resolution if one.gauge is None else one.gauge.resolution, setting.unit)
    words = (f"set {setting.digits} {unit} for {show(value.torque, 'N.m')}; in steps of {step:.4g} {unit} that gives "
             f"{show(setting.torque, 'N.m')} ({100 * (setting.torque / value.torque - 1):+.2f} %)")
    if not inside:
        words += f", outside the window {show(value.lower, 'N.m')} to {show(value.upper, 'N.m')}"
    if setting.hand_sensitivity:
        words += f"; the hand 10 mm from its mark changes it by {100 * setting.hand_sensitivity:.2g} %"
    return Reason("setting", inside, words)


def _curve(
    candidate: Candidate, certificate: Certificate | None, direction: Direction,
) -> tuple[DeviationCurve | None, str]:
    """What the certificate says of a direction; without any points the stated uncertainty of the whole scale, and a
    deviation of zero that nobody measured: the words say so."""
    if certificate is None:
        return None, ""
    if certificate.points or candidate.stated_W is None:
        return certificate.curve("as left", direction), f"points of certificate {certificate.id}"
    driver = candidate.instrument.driver
    stated = DeviationCurve.constant(0.0, candidate.stated_W / 2, driver.lower, driver.upper)
    return stated, f"uncertainty {100 * candidate.stated_W:.3g} % as stated for the whole scale; no points are known"


def _risk(
    one: Instrument, curve: DeviationCurve | None, basis: str, setting: ToolSetting, value: PassValue, allowed: float,
) -> tuple[float | None, float | None, float | None, Reason | None]:
    """Expected torque, its u, the risk, and the reason; all None without points for the direction."""
    if curve is None:
        return None, None, None, None
    at, certified = curve.at(setting.torque / one.ratio), basis.startswith("points")
    if not at.judged:
        unit = one.driver.unit
        what = "the points of the certificate" if certified else "the scale that the stated uncertainty is for"
        words = (f"{show(setting.torque / one.ratio, unit)} is outside {what}, "
                 f"{show(curve.lowest, unit)} to {show(curve.highest, unit)}: cannot be judged")
        return None, None, None, Reason("certificate", False, words)
    expected = float(true_value(setting.torque, float(at.a)))
    found = budget_of(one, setting.torque, float(at.w))
    u = found.u * expected
    risk = float(outside_probability(expected, u, value.lower, value.upper, found.degrees))
    words = (f"at this setting {show(expected, 'N.m')} +- {show(2 * u, 'N.m')} (k = 2, deviation "
             f"{100 * float(at.a):+.2f} %) in the window {show(value.lower, 'N.m')} to {show(value.upper, 'N.m')}: "
             f"probability of a false acceptance {percent(risk)}, {percent(allowed)} allowed ({basis})")
    return expected, u, risk, Reason("uncertainty", risk <= allowed, words)


def percent(p: float) -> str:
    """A probability for reading: "2.3 %", "below 0.01 %"."""
    return "below 0.01 %" if p < 1e-4 else f"{100 * p:.2g} %" if p < 0.995 else f"{100 * p:.4g} %"

