"""From a specification and the tool register to a plan: target, passes, pulls, settings, and what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from evenpull.joint.compute import compute_target, torque_target
from evenpull.joint.parts.strengths import strength
from evenpull.joint.parts.threads import thread
from evenpull.joint.target import FastenerCase, Target, TorqueCase
from evenpull.plan.bearing import bearing_face, hole_diameter
from evenpull.plan.fitness import plan_problems
from evenpull.plan.model import Order, OwnSetting, Pass, Plan, Pull, Specification, Tool
from evenpull.plan.orders import Steps, order_steps
from evenpull.plan.peak import Peak
from evenpull.plan.settings import largest_uncertainty, setting_for

SCATTER = ("s = sqrt(t^2 + U^2): t = tolerance of the specification, U = largest expanded uncertainty (k = 2) of the "
           "allowed tools, both as share of the torque; root sum of squares of independent parts (GUM, JCGM 100 5.1.2)")


def make_plan(spec: Specification, tools: Sequence[Tool], on: date) -> Plan:
    """The plan of one joint with the tools of the register, for work on the day `on`.

    Every weakness becomes a `Problem`; a plan with a problem of severity "stop" is a finding, not something to work
    by. The target is computed with the tools that are allowed and in the register.
    """
    register = {tool.serial: tool for tool in tools}
    allowed = tuple(register[serial] for serial in spec.tools_allowed if serial in register)
    if spec.fasteners.thread_stated:
        target = compute_target(fastener_case(spec, allowed))
    else:
        target = target_without_load(spec, allowed)
    passes = _passes(spec, target, allowed, on)
    steps = [(one, step) for one in passes for step in one.order]
    pulls = tuple(_pull(place, one, step) for place, (one, step) in enumerate(steps, start=1))
    peak = _peak(spec, passes, allowed)
    return Plan(spec, target, passes, pulls, allowed, plan_problems(spec, target, passes, allowed, on, peak))


def _pull(place: int, one: Pass, step: tuple[int, ...]) -> Pull:
    if not one.own:
        return Pull(place, one.number, step, one.torque)
    torques = tuple(one.torque_of(fastener) for fastener in step)
    return Pull(place, one.number, step, max(torques), torques)


def _peak(spec: Specification, passes: Sequence[Pass], tools: Sequence[Tool]) -> Peak | None:
    """The highest setting of single fasteners over all passes; None where there is none above the target."""
    own = [(setting, one) for one in passes for setting in one.own if setting.percent > 100]
    if not own:
        return None
    highest, one = max(own, key=lambda item: item[0].torque)
    if not spec.fasteners.thread_stated:
        return Peak(one, highest, None)
    drag = spec.target.prevailing_torque.si if spec.target.prevailing_torque else 0.0
    case = replace(fastener_case(spec, tools), torque=highest.torque - drag, preload=None, utilisation=None,
                   required_preload=None)
    return Peak(one, highest, compute_target(case))


def tool_scatter(tolerance: float, uncertainty: float) -> float:
    """s = sqrt(t^2 + U^2): tolerance of the specification and expanded uncertainty of the tool, shares of the torque.

    Root sum of squares of independent parts (GUM, JCGM 100:2008, 5.1.2).
    """
    return math.hypot(tolerance, uncertainty)


def target_without_load(spec: Specification, tools: Sequence[Tool]) -> Target:
    """The stated torque with its scatter and nothing else: the thread is not stated, so no load can be computed."""
    if spec.target.torque is None:
        raise ValueError(f"{spec.id}: without a thread the target must be a torque")
    return torque_target(TorqueCase(
        torque=spec.target.torque.si,
        tool_scatter=tool_scatter(spec.target.tolerance, largest_uncertainty(tools)),
        prevailing_torque=spec.target.prevailing_torque.si if spec.target.prevailing_torque else 0.0,
        sources={**dict.fromkeys(("torque", "prevailing_torque"), _document(spec)), "tool_scatter": SCATTER},
    ))


def torque_without_drag(spec: Specification) -> float:
    """The target torque in N.m without drag, computed where the specification asks for a load. CaseError as
    compute_target."""
    if spec.target.torque is not None:
        return spec.target.torque.si
    return compute_target(replace(fastener_case(spec, ()), prevailing_torque=0.0)).torque


def fastener_case(spec: Specification, tools: Sequence[Tool]) -> FastenerCase:
    """All that the target depends on, in SI, with the source of each input beside it. ValueError without a thread."""
    f, t, k = spec.fasteners, spec.target, spec.friction
    if k.mu_G is None or k.mu_K is None or k.K is None or t.rule == "not stated":
        raise ValueError(f"{spec.id}: no load can be computed, the thread is not stated")
    size = thread(f.thread)
    said = dict.fromkeys(("torque", "preload", "utilisation", "prevailing_torque", "required_preload"), _document(spec))
    face, hole = bearing_face(f.head, f.turned, size, f.bearing_face), hole_diameter(f.hole, size)
    return FastenerCase(
        thread=size, strength=strength(f.strength_class, size), d_w=face.value,
        d_h=hole.value, mu_G=k.mu_G, mu_K=k.mu_K, K=k.K, rule=t.rule,
        torque=t.torque.si if t.torque else None, preload=t.preload.si if t.preload else None,
        utilisation=t.utilisation, tool_scatter=tool_scatter(t.tolerance, largest_uncertainty(tools)),
        required_preload=t.required_preload.si if t.required_preload else None,
        utilisation_limit=t.utilisation_limit,
        prevailing_torque=t.prevailing_torque.si if t.prevailing_torque else 0.0,
        sources={**said, "mu_G": k.basis, "mu_K": k.basis, "K": k.basis, "tool_scatter": SCATTER,
                 "d_w": f"{face.source} ({face.status})", "d_h": f"{hole.source} ({hole.status})"},
    )


def _document(spec: Specification) -> str:
    return f"{spec.source.document} revision {spec.source.revision}, {spec.source.place}"


def _passes(spec: Specification, target: Target, tools: Sequence[Tool], on: date) -> tuple[Pass, ...]:
    p = spec.procedure
    main, again = _order(spec, p.order), _order(spec, p.check_order)
    torque_passes = len(p.passes)
    planned: list[tuple[str, float, bool, Steps]] = [
        (f"pass {number} of {torque_passes} ({percent:g} %)", percent, False, main)
        for number, percent in enumerate(p.passes, start=1)
    ]
    for number in range(1, p.check_passes + 1):
        planned.append((f"check pass {number} of {p.check_passes}" if p.check_passes > 1 else "check pass", 100.0, True,
                        again))
    passes = []
    for number, (name, percent, check, order) in enumerate(planned, start=1):
        percents = () if check else p.settings_of(number)
        if percents:
            passes.append(_own_pass(spec, target, number, (percent, percents), order, tools, on))
            continue
        torque, lower, upper = _window(spec, target, percent)
        settings = tuple(setting_for(tool, number, torque, (lower, upper), on) for tool in tools)
        passes.append(Pass(number, name, percent, check, torque, lower, upper, order, settings))
    return tuple(passes)


def _window(spec: Specification, target: Target, percent: float) -> tuple[float, float, float]:
    """Torque at this share of the target, and the window round it (N.m)."""
    torque = _clean(target.torque * percent / 100)
    return torque, _clean(torque * (1 - spec.target.tolerance)), _clean(torque * (1 + spec.target.tolerance))


def _own_pass(
    spec: Specification, target: Target, number: int, percents: tuple[float, tuple[float, ...]], order: Steps,
    tools: Sequence[Tool], on: date,
) -> Pass:
    """A pass in which each fastener has its setting; `percents`: the stage of the pass, then that of each fastener."""
    stage, by_fastener = percents
    own = []
    for fastener, percent in enumerate(by_fastener, start=1):
        torque, lower, upper = _window(spec, target, percent)
        settings = tuple(setting_for(tool, number, torque, (lower, upper), on) for tool in tools)
        own.append(OwnSetting(fastener, percent, torque, lower, upper, settings))
    name = f"pass {number} of {len(spec.procedure.passes)} (own settings)"
    return Pass(number, name, stage, False, _window(spec, target, stage)[0], min(one.lower for one in own),
                max(one.upper for one in own), order, (), tuple(own))


def _order(spec: Specification, order: Order) -> Steps:
    p, f = spec.procedure, spec.fasteners
    return order_steps(order, f.count, tools_at_once=p.tools_at_once, grid=f.grid, groups=p.groups, listed=p.listed)


def _clean(value: float) -> float:
    """Twelve significant figures, so that a window said as 1.2 to 1.6 N.m ends there and not at 1.5999999999999999."""
    return float(f"{value:.12g}")
