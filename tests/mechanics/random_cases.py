"""Joints at random, plausible ones and spoilt ones, for the tests of properties. All drawn, nobody's joint.

A joint has more numbers than one example of hypothesis may draw, so hypothesis draws the seed of a generator here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from random import Random
from typing import Any

from hypothesis import strategies

from evenpull import joint
from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import (
    METHODS,
    AviationInput,
    Bolt,
    Counterpart,
    Eccentricity,
    Embedding,
    FlangeInput,
    Friction,
    Gasket,
    JointCase,
    Layer,
    Limits,
    Loads,
    Material,
    Section,
    Service,
    SpaceInput,
    StructuralInput,
    Tightening,
)
from evenpull.joint.traced import Band

THREADS = tuple(joint.thread(name) for name in ("M6", "M12", "M16", "M20x1.5", "M36", "3/4-10 UNC", "1/2-20 UNF",
                                                "1-1/8-8 UN", "#10-24 UNC"))
MATERIALS = (
    Material("steel", 205e9, 11.5e-6, R_m=500e6, R_p02=300e6, p_G=700e6, tau_B=300e6), Material("bare", 205e9, None),
    Material("aluminium", 70e9, 23e-6, p_G=250e6, tau_B=180e6), Material("unknown", None, None),
    Material("grey iron", 110e9, 10e-6, p_G=850e6),
)
STRENGTHS = ("8.8", "10.9", "12.9", "5.6", "A2-70", "ASTM A193 B7", "SAE J429 grade 5")
JUNK = (None, 0, 0.0, -1.0, -1e-3, math.nan, math.inf, -math.inf, 1e300, 1e-300, 1e-12, 1e9, 1.0, True, "12", ())


class Drawn:
    """A value to be drawn; `a | b` is one of both, each as likely."""

    def __init__(self, draw: Callable[[Random], Any]) -> None:
        self.draw = draw

    def __or__(self, other: Drawn) -> Drawn:
        return Drawn(lambda r: (self if r.random() < 0.5 else other).draw(r))

    def map(self, change: Callable[[Any], Any]) -> Drawn:
        return Drawn(lambda r: change(self.draw(r)))


def just(value: Any) -> Drawn:
    return Drawn(lambda _: value)


def one_of(*values: Any) -> Drawn:
    return Drawn(lambda r: r.choice(values))


def between(low: float, high: float) -> Drawn:
    """Now and then one of the ends."""
    return Drawn(lambda r: r.choice((low, high)) if r.random() < 0.1 else r.uniform(low, high))


def whole(low: int, high: int) -> Drawn:
    return Drawn(lambda r: r.randint(low, high))


def seldom(drawn: Drawn, otherwise: Any = None) -> Drawn:
    return Drawn(lambda r: drawn.draw(r) if r.random() < 0.25 else otherwise)


def built(cls: Any, **parts: Any) -> Drawn:
    return Drawn(lambda r: cls(**{name: part.draw(r) for name, part in parts.items()}))


def maybe(drawn: Drawn) -> Drawn:
    return just(None) | drawn


def bands(low: float, high: float) -> Drawn:
    return Drawn(lambda r: Band(*sorted(between(low, high).draw(r) for _ in range(3))))


def strength_of(thread: Any, name: str) -> joint.Strength:
    try:
        return joint.strength(name, thread)
    except NotInCatalogue:
        return joint.Strength("stated", 830e6, 660e6, None, "stated", "stated")


def case_at(seed: int) -> JointCase:
    """A joint that hangs together as to sizes; it may lack what a rule set needs."""
    r = Random(seed)

    def draw(drawn: Drawn) -> Any:
        return drawn.draw(r)

    thread = draw(one_of(*THREADS))
    d, material = thread.d, one_of(*MATERIALS[:1] * 9, *MATERIALS)
    hole = draw(between(1.01, 1.2)) * d
    d_w = draw(between(1.3, 2.0)) * d
    tapped = draw(one_of(True, False))
    layers = tuple(
        Layer(name=f"part {number}", length=draw(between(0.1, 4)) * d, material=draw(material), d_h=hole,
              D_A=draw(maybe(between(1.3, 6).map(lambda y: y * d))), washer=draw(one_of(True, False)),
              slot_length=draw(seldom(between(1, 1.5).map(lambda y: y * hole))),
              chamfer=draw(seldom(between(1, 1.2).map(lambda y: y * hole))))
        for number in range(draw(whole(1, 3)))
    )
    l_K = sum(layer.length for layer in layers)
    bore = draw(seldom(between(0, 0.6).map(lambda y: y * thread.d3), 0.0))
    shanks = [draw(between(0.05, 0.4)) for _ in range(draw(whole(0, 2)))]
    sections = tuple(Section(share * l_K, draw(one_of(1.0, 0.9 * thread.d3 / d)) * d, bore)
                     for share in shanks)
    engaged = draw(maybe(between(0.3, 2).map(lambda y: y * d)))
    F_p = thread.A_s * 600e6
    band = just(Band(0.1, 0.12, 0.14)) | bands(0.04, 0.35)
    high = draw(just(0.0) | between(0, 1.2)) * F_p
    return JointCase(
        name="random",
        bolt=Bolt(thread=thread, strength=strength_of(thread, draw(one_of(*STRENGTHS))),
                  material=draw(material), head=draw(one_of("hexagon", "socket cap", "stud")), d_w=d_w,
                  sections=sections, d_i=bore, length=draw(just(None) | between(1, 1.6).map(lambda y: y * l_K + d))),
        counterpart=Counterpart(kind="tapped hole" if tapped else "nut", material=draw(material), engagement=engaged,
                                d_w=None if tapped else draw(just(d_w) | between(1.3, 2).map(lambda y: y * d)),
                                nut_proof_stress=draw(maybe(between(3e8, 1.2e9)))),
        layers=layers,
        friction=Friction(mu_G=draw(band), mu_K=draw(band), K=draw(just(None) | bands(0.1, 0.4))),
        tightening=Tightening(
            method=draw(one_of("torque", *METHODS)), alpha_A=draw(maybe(between(1, 4))), tool_scatter=draw(
                between(0, 0.6)), torque=draw(maybe(between(0.01, 0.4).map(lambda y: y * F_p * d))),
            preload=draw(just(None) | just(None) | between(0.1, 1.2).map(lambda y: y * F_p)),
            prevailing=draw(just(Band(0, 0, 0)) | bands(0, 0.02 * F_p * d)),
            snug_torque=draw(maybe(between(0.001, 0.1).map(lambda y: y * F_p * d))),
            angle=draw(maybe(between(0.1, 4))), angle_scatter=draw(between(0, 0.2)),
            transfer_loss=draw(maybe(between(0, 0.5))), reused=draw(one_of(True, False))),
        loads=Loads(
            F_A_max=high, F_A_min=draw(just(0.0) | between(-1, 1)) * high, F_Q=draw(just(0.0) | between(
                0, 0.3).map(lambda y: y * F_p)), M_Y=draw(just(0.0) | between(-0.1, 0.1).map(lambda y: y * F_p * d)),
            q_F=draw(whole(1, 3)), q_M=draw(whole(1, 2)), r_a=draw(maybe(between(1, 20).map(
                lambda y: y * d))), mu_T=draw(maybe(between(0.05, 0.6))), sealing_pressure=draw(between(0, 2e7)),
            sealing_area=draw(between(0, 10)) * d**2, F_Kerf=draw(just(None) | just(None) | between(0, 1).map(
                lambda y: y * F_p)), n=draw(between(0, 1)), cycles=draw(maybe(between(1, 1e8))),
            bearing_shear=draw(one_of(True, False))),
        service=draw(just(Service()) | built(
            Service, T_S=between(-100, 400), T_P=between(-100, 400), E_S_ratio=maybe(between(0.6, 1.05)),
            E_P_ratio=maybe(between(0.6, 1.05)), R_p02_ratio=maybe(between(0.4, 1.05)), relaxation=between(0, 0.5))),
        embedding=draw(built(
            Embedding, f_Z=between(0, 3e-5)) | built(Embedding, Rz=one_of("<10", "10-<40", "40-<160"),
                                                         loading=one_of("axial", "shear"))),
        limits=draw(just(Limits()) | built(
            Limits, nu=between(0.3, 1), S_e=maybe(between(5e7, 2e8)), n_d=maybe(between(1, 3)),
            required_preload=maybe(between(0.01, 1).map(lambda y: y * F_p)),
            largest_preload=maybe(between(0.1, 1.5).map(lambda y: y * F_p)))),
        gasket=draw(just(None) | just(None) | built(
            Gasket, stiffness=between(1e7, 1e10), relaxation=between(0, 0.3)) | built(
                Gasket, thickness=between(5e-4, 5e-3), E=between(1e7, 1e10), area=between(1e-5, 1e-3))),
        eccentricity=draw(just(None) | just(None) | built(
            Eccentricity, s_sym=between(-0.3, 0.3).map(lambda y: y * d), a=between(0, 3).map(lambda y: y * d),
            I_Bers=between(0.1, 10).map(lambda y: y * d**4), I_BT=between(0.1, 5).map(lambda y: y * d**4),
            A_D=between(3, 20).map(lambda y: y * d**2), u=between(1, 3).map(lambda y: y * d))),
        structural=draw(built(
            StructuralInput, bolt=one_of("A325", "A490", "A325M", "8.8", "10.9"), edition=one_of(
                "", "2014", "2020", "F_p,C*"), faces=one_of("both normal", "one sloped", "both sloped"),
            k_class=one_of(None, "K0", "K1", "K2"), k_m=maybe(between(0.08, 0.25)),
            V_k=maybe(between(0, 0.2)), method=one_of("torque", "combined", "turn of nut"),
            hole=one_of("normal", "oversize", "long slot along"), gamma_M3=maybe(between(1, 1.5)))),
        space=draw(built(
            SpaceInput, Gamma=between(0, 0.5), c_min=between(0.5, 1), c_max=between(1, 1.5), n_f=whole(1, 20),
            separation_critical=one_of(True, False), creep=between(0, 0.2 * F_p), dP_thermal_max=between(0, 0.2 * F_p),
            dP_thermal_min=between(0, 0.2 * F_p), FF=maybe(between(1, 1.2)), FS_u=maybe(between(1, 2)),
            FS_y=maybe(between(1, 2)), FS_sep=maybe(between(1, 2)))),
        flange=draw(built(
            FlangeInput, target_stress=maybe(between(5e7, 6e8)), coated=one_of(True, False), S_b_max=maybe(between(
                3e8, 7e8)), S_b_min=maybe(between(5e7, 3e8)), S_f_max=maybe(between(1e8, 7e8)),
            gasket_area=maybe(between(1e-3, 1e-1)), S_g_seat=maybe(between(1e6, 1e8)), S_g_op=maybe(between(1e6, 1e8)),
            S_g_max=maybe(between(1e7, 3e8)), S_g_target=maybe(between(1e7, 1e8)), rotation_f_max=maybe(between(
                1e-3, 2e-2)), rotation_g_max=maybe(between(1e-3, 2e-2)), pressure_area=maybe(between(1e-3, 1)),
            p_max=maybe(between(1e5, 2e7)), relaxation_share=maybe(between(0.3, 1)), bolts=maybe(whole(4, 40)))),
        aviation=draw(built(
            AviationInput, nut=one_of("tension", "shear"), drag=maybe(between(0, 5)),
            castellated=one_of(True, False), oil_free_cadmium=one_of(True, False))),
        elastic_interaction=draw(just(0.0) | between(0, 0.4)),
    )


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every field of the case, as the names and indices that lead to it."""
    found = []
    if isinstance(value, tuple):
        for index, part in enumerate(value):
            found += places(part, (*path, index))
    elif is_dataclass(value):
        for field in fields(value):
            if path or field.name not in ("name", "sources"):
                found.append((*path, field.name))
                found += places(getattr(value, field.name), (*path, field.name))
    return found


def put(value: Any, path: tuple[Any, ...], new: Any) -> Any:
    """The case with one field changed."""
    first, rest = path[0], path[1:]
    if isinstance(first, int):
        return (*value[:first], put(value[first], rest, new) if rest else new, *value[first + 1:])
    return replace(value, **{first: put(getattr(value, first), rest, new) if rest else new})


def spoilt_at(seed: int, most: int = 2) -> JointCase:
    """A joint with up to `most` of its fields replaced by what makes no sense there."""
    case, r = case_at(seed), Random(seed + 1)
    for _ in range(r.randint(1, most)):
        path = r.choice(places(case))
        try:
            case = put(case, path, r.choice(JUNK))
        except (ValueError, TypeError):  # a band refuses by itself
            continue
    return case


SEEDS = strategies.integers(0, 2**32)
CASES = SEEDS.map(case_at)
SPOILT = SEEDS.map(spoilt_at)
