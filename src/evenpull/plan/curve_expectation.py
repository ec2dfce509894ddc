"""What the plan of a joint lets one expect of the curve of one tightening: torque window, slope, elastic angle, drag.

What the plan does not state is not guessed: the rules that need it are then not applied, and `Stated.without` says why.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from evenpull.catalogue.heads import bearing_diameter
from evenpull.catalogue.materials import materials_named
from evenpull.catalogue.sizes import washer
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.curve.expectation import Expectation, expected, nothing_expected
from evenpull.joint.case import (
    Bolt,
    CaseError,
    Counterpart,
    Friction,
    JointCase,
    Layer,
    Material,
    Tightening,
)
from evenpull.joint.target import FastenerCase, ThreadSize
from evenpull.joint.traced import Band
from evenpull.plan.bearing import NUT_OF_HEAD, hole_diameter
from evenpull.plan.make import fastener_case
from evenpull.plan.model import NotStated, Pass, Plan, Specification

T = TypeVar("T")
STEEL = "bolt steel"  # property classes of ISO 898-1 and SAE J429 are of steel; E by the handbook
THREADED = "the shank is not stated: thread over the whole grip"
LOOSE = "the turn to the seat is not stated in a plan"
TIGHT = "a later pass begins tight: re-hit, slip and all that is seen from the seat on are not applied"


@dataclass(frozen=True, slots=True, eq=False)
class Stated:
    """Expectation of one curve (a column of one), the words for its basis, and what could not be expected and why."""

    expectation: Expectation
    basis: str
    without: tuple[str, ...]


def nothing_of(basis: str, why: str) -> Stated:
    """No window and no mechanics: the curve is not judged but for its own sensors and steps."""
    return Stated(nothing_expected(1, fresh=math.nan), basis, (why,))


def expectation_of(plan: Plan, one: Pass, fastener: int) -> Stated:
    """Expectation of a tightening of this fastener in this pass. A number beyond the count, or 0, is taken as not
    known: then a pass with settings of its own gives no window."""
    spec = plan.spec
    basis = f"{spec.source.document} revision {spec.source.revision}, {one.name}"
    known = 1 <= fastener <= spec.fasteners.count
    if one.own and not known:
        return nothing_of(basis, "each fastener has a setting of its own in this pass, and the fastener is not known")
    low, high = one.window(fastener if known else 1)
    target = one.torque_of(fastener if known else 1)
    window = nothing_expected(1, target=target, T_low=low, T_high=high, fresh=1.0 if one.number == 1 else 0.0)
    if one.number != 1:
        return Stated(window, basis, (TIGHT,))
    try:
        case, without = joint_case(spec)
        made = expected(case, target)
    except (CaseError, NotInCatalogue, NotStatedError) as error:
        own = replace(
            window, drag_high=np.full(1, _drag(spec).high),
            gasket=np.full(1, float(spec.kind == "gasketed flange")),
        )
        return Stated(own, basis, (LOOSE, f"slope and elastic angle: {str(error).partition('; known:')[0]}"))
    made = replace(made, T_low=window.T_low, T_high=window.T_high)
    return Stated(made, basis, (LOOSE, *without))


class NotStatedError(ValueError):
    """Something the mechanics need that the plan does not state."""


def joint_case(spec: Specification) -> tuple[JointCase, tuple[str, ...]]:
    """The joint as its curve sees it, and what was taken where the plan says nothing. NotStatedError, CaseError or
    NotInCatalogue name what is missing."""
    try:
        f = fastener_case(spec, ())
    except ValueError as error:
        raise NotStatedError(str(error)) from error
    size, fasteners = f.thread, spec.fasteners
    if spec.kind == "gasketed flange":
        raise NotStatedError("the joint has a gasket, and its stiffness is not stated in a plan")
    bolt, layers = _bolt_material(f), _layers(spec, f)
    kind = NUT_OF_HEAD.get(fasteners.head, "hexagon nut")
    nut = fasteners.counterpart == "nut"
    face = bearing_diameter(kind, size.d, size.system).value if nut else None
    turned_head = fasteners.turned == "head"
    d_w = f.d_w if turned_head or not nut else bearing_diameter(fasteners.head, size.d, size.system).value
    mate = bolt if nut else _material(fasteners.tapped_material)
    case = JointCase(
        name=spec.id,
        bolt=Bolt(thread=size, strength=f.strength, material=bolt, head=fasteners.head, d_w=d_w),
        counterpart=Counterpart(kind=fasteners.counterpart, material=mate, d_w=face),
        layers=layers, friction=Friction(mu_G=f.mu_G, mu_K=f.mu_K),
        tightening=Tightening(prevailing=_drag(spec)),
    )  # fmt: skip
    return case, (THREADED,)


def _drag(spec: Specification) -> Band:
    """The drag that the target counts with: none where none is stated."""
    drag = 0.0 if spec.target.prevailing_torque is None else spec.target.prevailing_torque.si
    return Band(0.0, drag, drag)


def _bolt_material(f: FastenerCase) -> Material:
    name = f.strength.designation
    if name[:1].isdigit() or name.upper().startswith("SAE"):
        return _material(STEEL)
    if name.upper().startswith(("A2", "A4")):
        return _material("304" if name.upper().startswith("A2") else "316")
    raise NotStatedError(f"the modulus of bolts of {name} is not in the tables")


def _material(name: str) -> Material:
    rows = materials_named(name)
    if len({row.E for row in rows}) != 1:
        raise NotStatedError(f"{name!r} names materials of different modulus: {', '.join(r.name for r in rows)}")
    return Material(rows[0].name, rows[0].E, rows[0].alpha, source=rows[0].source)


def _layers(spec: Specification, f: FastenerCase) -> tuple[Layer, ...]:
    fasteners, size = spec.fasteners, f.thread
    parts: list[Layer] = []
    if _stated(fasteners.washer_under_head, "washer under the head"):
        parts.append(_washer(size))
    hole = hole_diameter(fasteners.hole, size).value
    for one in spec.clamped:
        thickness = _stated(one.thickness, f"thickness of {one.part}")
        parts.append(Layer(name=one.part, length=thickness.si, material=_material(one.material), d_h=hole))
    if fasteners.counterpart == "nut" and _stated(fasteners.washer_under_nut, "washer under the nut"):
        parts.append(_washer(size))
    if not parts:
        raise NotStatedError("no clamped part is stated")
    return tuple(parts)


def _washer(size: ThreadSize) -> Layer:
    one = washer(size.d)
    return Layer(name="washer", length=one.h, material=_material("steel"), d_h=one.d_h, D_A=one.d_outer, washer=True)


def _stated(value: T | NotStated, what: str) -> T:
    if isinstance(value, NotStated):
        raise NotStatedError(f"{what} is not stated")
    return value
