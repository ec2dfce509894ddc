"""Friction bands of a joint: stated ones first, else those of the catalogue; the nut factor they imply."""

from __future__ import annotations

from evenpull.catalogue.friction import Lubricant, lubricant, lubricants
from evenpull.joint.parts.threads import thread
from evenpull.joint.tightening.torque import D_Km, nut_factor
from evenpull.joint.traced import Band
from evenpull.plan.bearing import bearing_face, hole_diameter
from evenpull.plan.model import NOT_STATED, Friction
from evenpull.plan.schema import FastenersTable, FrictionTable


def lubricant_names() -> tuple[str, ...]:
    """Names of the friction states that the catalogue knows."""
    return tuple(found.name for found in lubricants())


def friction_of(read: FrictionTable, f: FastenersTable) -> Friction:
    """Bands of mu_G, mu_K and K with the basis they rest on.

    Without a thread there are none: no load is computed with them. mu_G and mu_K that are not stated come from the
    catalogue entry of the lubricant. K that is not stated comes from stated mu_G and mu_K by the geometry of VDI 2230-1
    R13; with nothing stated from the catalogue where a source gives one, else by that geometry.
    """
    if f.thread == NOT_STATED.text:
        return Friction(read.lubricant, None, None, None, False, NOT_STATED.text)
    if read.mu_G is not None and read.mu_K is not None:
        mu_G, mu_K, tabled = read.mu_G, read.mu_K, None
        basis = read.basis or ""
    else:
        found = lubricant(read.lubricant)
        mu_G, mu_K = Band(*found.mu_G), Band(*found.mu_K)
        tabled = Band(*found.K) if found.K is not None else None
        basis = _catalogue(found)
        if read.K is not None:
            basis = f"K: {read.basis or ''}; mu_G and mu_K: {basis}"
    K = read.K or tabled
    return Friction(read.lubricant, mu_G, mu_K, K or _implied(mu_G, mu_K, f), K is not None, basis)


def _catalogue(found: Lubricant) -> str:
    origin = {"memory": "from memory", "read": "read", "computed": "computed"}.get(found.status, found.status)
    return f"catalogue, {found.source} ({origin})" + (f"; {found.note}" if found.note else "")


def _implied(mu_G: Band, mu_K: Band, f: FastenersTable) -> Band:
    size = thread(f.thread)
    face = bearing_face(f.head, f.turned, size, f.bearing_face).value
    mean = D_Km(face, hole_diameter(f.hole, size).value)
    low, nominal, high = (
        nut_factor(size, g, k, mean)
        for g, k in ((mu_G.low, mu_K.low), (mu_G.nominal, mu_K.nominal), (mu_G.high, mu_K.high))
    )
    return Band(low, nominal, high)
