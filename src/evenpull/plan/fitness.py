"""What a person must know about a plan before anyone works: target, parts, passes, tools, revision.

Every text says what is wrong with its numbers and the way out. Severity: stop = no work to this plan, warning = a
person decides, note = to be known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date

from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.parts.strengths import nut_proof_load, proof_load, strength, yield_load
from evenpull.joint.parts.threads import thread
from evenpull.joint.target import Target
from evenpull.plan.model import Pass, Plan, Problem, Severity, Specification, Tool
from evenpull.plan.peak import Peak, settings_problems
from evenpull.plan.prechecks import own_problems
from evenpull.plan.settings import certificate_problem
from evenpull.quantities import Measured, show

# Least thread engagement in diameters, common practice, no source.
ENGAGEMENT = (
    (re.compile(r"alumin|EN A[WC]|AlMg|AlSi|magnesium", re.IGNORECASE), 2.0, "aluminium or magnesium"),
    (re.compile(r"cast iron|EN-?GJ|GJ[LS]|grey iron|ductile iron", re.IGNORECASE), 1.5, "cast iron"),
    (re.compile(r"brass|bronze|copper", re.IGNORECASE), 1.5, "copper alloys"),
    (re.compile(r"steel|S235|S275|S355|C45|42CrMo", re.IGNORECASE), 1.0, "steel"),
)
NUT_HIGHEST, WASHER = 0.9, 0.17  # of d: ISO 4032 and ISO 7089, about; from memory, not re-read
RANK: dict[Severity, int] = {"stop": 0, "warning": 1, "note": 2}


def plan_problems(
    spec: Specification, target: Target, passes: Sequence[Pass], tools: Sequence[Tool], on: date,
    peak: Peak | None = None,
) -> tuple[Problem, ...]:
    """All problems, worst first, in a fixed order. `peak`: the highest setting of single fasteners, if any."""
    highest = peak.target if peak is not None and peak.target is not None else target
    found = [
        *_revision(spec, on),
        *(Problem(p.code, p.severity, p.text) for p in target.problems),
        *([*_nut(spec, highest), *_engagement(spec), *_protrusion(spec)] if spec.fasteners.thread_stated else
          _fastener_unknown(spec)),
        *_friction(spec),
        *own_problems(spec, target),
        *settings_problems(spec, peak),
        *_tools(spec, passes, tools, on),
        *_drag(spec, passes),
        *_checks(spec),
    ]
    return tuple(sorted(found, key=lambda problem: RANK[problem.severity]))


def stops(plan: Plan) -> tuple[Problem, ...]:
    """The problems that forbid work to this plan."""
    return tuple(problem for problem in plan.problems if problem.severity == "stop")


def _revision(spec: Specification, on: date) -> Iterator[Problem]:
    s = spec.source
    if on < s.in_force_from:
        yield Problem("revision not in force", "stop", f"{s.document} revision {s.revision} is in force from "
                      f"{s.in_force_from}; the plan is for {on}. Use the revision in force that day or wait.")


def _fastener_unknown(spec: Specification) -> Iterator[Problem]:
    yield Problem("fastener not judged", "note", f"Whether {spec.target.torque} loads the fastener enough, too much or "
                  "strips its thread is not judged, nor which cautions its class asks for: name those that apply in "
                  f"notes.cautions. Who approved the torque ({spec.source.approved_by}) has to answer for it.")


def _nut(spec: Specification, target: Target) -> Iterator[Problem]:
    f = spec.fasteners
    if not f.nut_class or target.load is None:
        return
    size = thread(f.thread)
    bolt = strength(f.strength_class, size)
    try:
        nut = nut_proof_load(size, f.nut_class)
    except NotInCatalogue as error:
        yield Problem("nut not judged", "note", f"Whether a nut {f.nut_class} is strong enough for {f.thread} of class "
                      f"{f.strength_class} is not judged: {error}. Compare its proof load with the bolt by hand.")
        return
    proof = proof_load(size, bolt)
    what, needed = ("proof load", proof) if proof is not None else ("load at yield", yield_load(size, bolt))
    if nut >= needed * (1 - 1e-9):
        return
    stop = target.load.high > nut
    reaches = (f"The target may reach {show(target.load.high, 'kN')}, so the nut thread can strip" if stop else
               f"The target stays below ({show(target.load.high, 'kN')} at most), but an overload would strip the nut "
               "before it breaks the bolt, unseen")
    yield Problem("nut weaker than bolt", "stop" if stop else "warning", f"A nut of class {f.nut_class} has a proof "
                  f"load of {show(nut, 'kN')}, the bolt of class {f.strength_class} a {what} of {show(needed, 'kN')}. "
                  f"{reaches}. Take a nut of the class that belongs to the bolt.")


def _engagement(spec: Specification) -> Iterator[Problem]:
    f = spec.fasteners
    if f.counterpart != "tapped hole" or not isinstance(f.engagement, Measured):
        return
    size = thread(f.thread)
    ratio = f.engagement.si / size.d
    rule = next(((least, words) for pattern, least, words in ENGAGEMENT if pattern.search(f.tapped_material)), None)
    if rule is None:
        yield Problem("engagement not judged", "note", f"The thread engagement {f.engagement.text} ({ratio:.2g} d) in "
                      f"{f.tapped_material} is not judged: no common rule is known for this material. The designer "
                      "has to confirm it.")
        return
    least, words = rule
    if ratio < least * (1 - 1e-6):
        yield Problem("engagement short", "warning", f"The thread engagement {f.engagement.text} is {ratio:.2g} d; in "
                      f"{words} at least {least:g} d = {show(least * size.d, 'mm')} is usual (common practice, no "
                      "source). Take a longer fastener or have the designer prove the thread against stripping.")


def _protrusion(spec: Specification) -> Iterator[Problem]:
    f = spec.fasteners
    parts = [part.thickness.si for part in spec.clamped if isinstance(part.thickness, Measured)]
    if f.counterpart != "nut" or not isinstance(f.length, Measured) or len(parts) < len(spec.clamped):
        return
    size = thread(f.thread)
    nuts = 2 if f.head == "stud" else 1
    stack = sum(parts) + nuts * NUT_HIGHEST * size.d
    stack += WASHER * size.d * ((f.washer_under_head is True) + (f.washer_under_nut is True))
    out = (f.length.si - stack) / nuts
    if out < size.P:
        yield Problem("fastener may be short", "warning", f"A length of {f.length.text} may leave less than one thread "
                      f"outside the nut: parts, washers and a nut of full height need about {show(stack, 'mm', 3)} "
                      "(nut 0.9 d, washer 0.17 d, from memory; one thread outside is common practice, no source). "
                      "Measure one, or take the next length.")


def _friction(spec: Specification) -> Iterator[Problem]:
    if spec.fasteners.condition == "used" and "catalogue" in spec.friction.basis:
        yield Problem("friction of used fasteners", "warning", "The fasteners are used, but the friction comes from "
                      "the catalogue, which is for new ones. Test the torque against the load on some of them, or take "
                      "new fasteners (common practice, no source).")


def _tools(spec: Specification, passes: Sequence[Pass], tools: Sequence[Tool], on: date) -> Iterator[Problem]:
    here = {tool.serial for tool in tools}
    missing = [serial for serial in spec.tools_allowed if serial not in here]
    if not tools:
        yield Problem("no tool in register", "stop", f"None of the allowed tools ({', '.join(spec.tools_allowed)}) is "
                      "in the tool register, so no setting is known. Enter the tools with their certificates, or have "
                      "the specification allow tools that are there.")
        return
    if missing:
        yield Problem("tool not in register", "warning", f"Allowed but not in the tool register: {', '.join(missing)}. "
                      "Records made with such a tool cannot be judged; enter it with its certificate.")
    for tool in tools:
        if text := certificate_problem(tool, on):
            yield Problem("certificate not valid", "warning", f"{tool.serial} may not be used on {on}: {text}. Have it "
                          "calibrated and enter the new certificate, or use another allowed tool.")
        if tool.uncertainty >= spec.target.tolerance:
            yield Problem("uncertainty too large", "warning", f"{tool.serial} has an uncertainty of "
                          f"{100 * tool.uncertainty:.3g} %, the tolerance is only {100 * spec.target.tolerance:.3g} %: "
                          "a reading inside the window proves little. Use a better tool or a wider tolerance.")
    if all(certificate_problem(tool, on) for tool in tools):
        yield Problem("no valid certificate", "stop", f"No allowed tool in the register has a certificate for {on}. "
                      "Have one calibrated, or allow another tool.")
    else:
        yield from _pass_tools(passes, tools, on)
    unfit = {setting.tool for one in passes for setting in one.every_setting if setting.problems}
    fit = [tool for tool in tools if tool.serial not in unfit]
    if fit and len(fit) < spec.procedure.tools_at_once:
        yield Problem("too few tools", "warning", f"{spec.procedure.tools_at_once} tools are to pull at the same time, "
                      f"but only {len(fit)} fit for every pass ({', '.join(tool.serial for tool in fit)}). Allow more "
                      "tools or plan with fewer at once.")


def _pass_tools(passes: Sequence[Pass], tools: Sequence[Tool], on: date) -> Iterator[Problem]:
    """Each pass needs a tool that can do it, the smallest torque as much as the largest."""
    for one in passes:
        unfit = _unfit(one)
        if unfit and len(unfit) == len(tools):
            reasons = "; ".join(f"{tool}: {', '.join(problems)}" for tool, problems in unfit.items())
            yield Problem("no tool for pass", "stop", f"No allowed tool can do {one.name} at {_torques(one)} "
                          f"({reasons}). Allow a tool that reaches this torque; a pass that no tool can do gets "
                          "skipped.")
    for tool in tools:
        expired = certificate_problem(tool, on)
        for one in passes:
            unfit = _unfit(one)
            problems = [text for text in unfit.get(tool.serial, ()) if text != expired]
            if problems and len(unfit) < len(tools):
                yield Problem("tool unfit for pass", "warning", f"{tool.serial} cannot do {one.name} at "
                              f"{_torques(one)}: {'; '.join(problems)}. Use another allowed tool for it.")


def _unfit(one: Pass) -> dict[str, tuple[str, ...]]:
    """The tools that cannot do a pass on every fastener, with the reasons, each once."""
    found: dict[str, dict[str, None]] = {}
    for setting in one.every_setting:
        if setting.problems:
            found.setdefault(setting.tool, {}).update(dict.fromkeys(setting.problems))
    return {tool: tuple(reasons) for tool, reasons in found.items()}


def _torques(one: Pass) -> str:
    """The torque of a pass, or the least and the greatest of the settings of its fasteners."""
    if not one.own:
        return show(one.torque, "N.m")
    torques = [own.torque for own in one.own]
    return f"{show(min(torques), 'N.m')} to {show(max(torques), 'N.m')}"


def _drag(spec: Specification, passes: Sequence[Pass]) -> Iterator[Problem]:
    drag = spec.target.prevailing_torque
    if drag is None:
        return
    for one in passes:
        torque = min((own.torque for own in one.own), default=one.torque)
        if torque <= drag.si:
            yield Problem("pass below drag", "stop", f"{one.name} at {show(torque, 'N.m')} does not overcome the "
                          f"drag of {drag.text}: nothing would be clamped. Raise the first pass.")
        elif torque < 2 * drag.si:
            yield Problem("pass mostly drag", "warning", f"In {one.name} {drag.text} of {show(torque, 'N.m')} is "
                          "drag, so less than half clamps. Raise the pass if even loads matter there.")


def _checks(spec: Specification) -> Iterator[Problem]:
    p, f = spec.procedure, spec.fasteners
    if p.check_passes == 0 and f.count > 2 and spec.kind in ("gasketed flange", "bolted ring"):
        yield Problem("no check pass", "note", f"There is no check pass: with {f.count} fasteners each one loses load "
                      "when its neighbours are tightened, and nothing shows how much. A pass at 100 % until nothing "
                      "moves is common practice, no source.")
    if p.check_passes and p.movement_limit is None:
        yield Problem("no movement limit", "note", "There is a check pass but no movement limit: any movement counts "
                      "as moved.")
