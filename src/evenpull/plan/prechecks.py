"""Is it the right target? The specification against the usual friction, its siblings, its second source, its model.

What the joint file alone shows becomes a problem of its plan; what needs the other joints is checked where they are
known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from evenpull.catalogue.friction import lubricant
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint import prechecks
from evenpull.joint.parts.strengths import proof_load, strength, yield_load
from evenpull.joint.parts.threads import thread
from evenpull.joint.prechecks import Concern
from evenpull.joint.target import Target, ThreadSize
from evenpull.joint.tightening.torque import D_Km, nut_factor
from evenpull.joint.traced import Band
from evenpull.plan.bearing import bearing_face, hole_diameter
from evenpull.plan.model import Problem, Severity, Specification
from evenpull.quantities import show


def own_problems(spec: Specification, target: Target) -> Iterator[Problem]:
    """What the joint's own file shows: friction stated narrower than usual, a unit, a second source that disagrees."""
    torque = target.torque - (spec.target.prevailing_torque.si if spec.target.prevailing_torque else 0.0)
    if spec.fasteners.thread_stated and torque > 0:
        size = thread(spec.fasteners.thread)
        bolt = strength(spec.fasteners.strength_class, size)
        proved = proof_load(size, bolt) or yield_load(size, bolt)
        usual, whose = usual_nut_factors(spec, size)
        required = spec.target.required_preload.si if spec.target.required_preload else None
        if usual is not None and spec.friction.K is not None and _narrower(spec.friction.K, usual):
            note = f"; the joint counts on {spec.friction.basis}"
            for concern in prechecks.k_band(torque, usual, size.d, proved, required, whose):
                yield _problem(concern, "note", note)
        if spec.target.torque is not None:
            wide = Band(0.08, 0.2, 0.35)
            for concern in prechecks.wrong_unit(torque, size.d, proved, wide, spec.target.torque.unit):
                yield _problem(concern, "warning")
    if spec.second_sources:
        said = {f"{spec.source.document} revision {spec.source.revision}": torque}
        said |= {f"{other.document} revision {other.revision}, {other.place}": other.torque.si
                 for other in spec.second_sources}
        for concern in prechecks.sources_disagree(said, 0.0):
            yield _problem(concern, "stop")


def _narrower(stated: Band, usual: Band) -> bool:
    return stated.low > usual.low * (1 + 1e-6) or stated.high < usual.high * (1 - 1e-6)


def usual_nut_factors(spec: Specification, size: ThreadSize) -> tuple[Band | None, str]:
    """Band of K that the catalogue knows for the lubricant: printed, or by its friction at this geometry; None for one
    that no table knows.
    """
    try:
        found = lubricant(spec.friction.lubricant)
    except NotInCatalogue:
        return None, ""
    if found.K is not None:
        return Band(*found.K), found.name
    f = spec.fasteners
    mean = D_Km(bearing_face(f.head, f.turned, size, f.bearing_face).value, hole_diameter(f.hole, size).value)
    return Band(*(float(nut_factor(size, g, k, mean)) for g, k in zip(found.mu_G, found.mu_K, strict=True))), found.name


def family(spec: Specification) -> tuple[str, str, str]:
    """Joints with the same family are siblings: class, lubricant, and way of tightening."""
    return (spec.fasteners.strength_class, spec.friction.lubricant.casefold(), spec.target.method)


def alike(spec: Specification) -> str:
    """The family as one text; "" without a thread, for then nothing can be compared."""
    return "|".join(family(spec)) if spec.fasteners.thread_stated else ""


def ratio(spec: Specification, torque: float) -> float:
    """M/d^3 of a joint with a stated thread; `torque` in N.m without drag."""
    return float(prechecks.torque_ratio(torque, thread(spec.fasteners.thread).d))


def compare(
    spec: Specification, torque: float, siblings: Mapping[str, float], model: tuple[Specification, float] | None
) -> tuple[Problem, ...]:
    """The joint against the others of the dossier: its siblings (id -> M/d^3, the same `alike`), and the joint that
    its file says it was copied from with its torque, None when that one is not known. Torques in N.m without drag.
    """
    found: list[Problem] = []
    if spec.fasteners.thread_stated:
        mine = ratio(spec, torque)
        found += [_problem(concern, "warning") for concern in prechecks.unlike_siblings(spec.id, mine, siblings)]
    if spec.copied_from:
        found += _copied(spec, torque, model)
    return tuple(found)


def _problem(concern: Concern, severity: Severity, more: str = "") -> Problem:
    text = f"{concern.text[0].upper()}{concern.text[1:]}{more}. {concern.way_out[0].upper()}{concern.way_out[1:]}."
    return Problem(concern.code, severity, text)


def _copied(spec: Specification, torque: float, model: tuple[Specification, float] | None) -> list[Problem]:
    if model is None:
        return [Problem("copied from an unknown joint", "warning", f"The file says that it was copied from "
                        f"{spec.copied_from}, which is not described here: the two cannot be compared.")]
    other, value = model
    changed = differences(other, spec)
    words = "; ".join(f"{name}: {before} there, {after} here" for name, before, after in changed)
    text = f"Copied from {other.id}. What differs: {words or 'nothing that decides the target'}."
    decisive = [name for name, _, _ in changed if name in DECISIVE]
    if decisive and abs(torque - value) <= prechecks.ALIKE * value:
        return [Problem("copied target", "warning", f"{text} The torque is the same ({show(torque, 'N.m')}) although "
                        f"{', '.join(decisive)} differ: it may have been left over from the copy. Compute it anew.")]
    return [Problem("copied from", "note", text)]


DECISIVE = ("thread", "class", "lubricant", "nut factor", "hole", "bearing face", "nut class")


def differences(one: Specification, other: Specification) -> list[tuple[str, str, str]]:
    """What decides a target and differs between two joints: name, value in the first, value in the second."""
    def said(spec: Specification) -> dict[str, str]:
        f, t, K = spec.fasteners, spec.target, spec.friction.K
        parts = " + ".join(f"{part.material} {part.thickness}" for part in spec.clamped)
        wish = t.torque or t.preload or f"utilisation {t.utilisation}"
        return {
            "thread": f.thread, "class": f.strength_class, "count": str(f.count), "head": f.head, "hole": f.hole,
            "bearing face": str(f.bearing_face or "of the standard"), "counterpart": f.counterpart,
            "nut class": f.nut_class or "none", "length": str(f.length), "condition": f.condition,
            "clamped parts": parts, "lubricant": spec.friction.lubricant,
            "nut factor": "not known" if K is None else f"{K.low:.3g} to {K.high:.3g}", "target": str(wish),
            "required preload": str(t.required_preload or "not stated"), "tolerance": f"{t.tolerance:.3g}",
        }
    first, second = said(one), said(other)
    return [(name, first[name], second[name]) for name in first if first[name] != second[name]]
