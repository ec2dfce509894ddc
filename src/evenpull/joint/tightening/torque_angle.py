"""Torque and angle for one joint: load and final torque to expect after a turn from snug, with their window."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.tightening.torque import D_Km, torque_lever
from evenpull.joint.tightening.turning import angle_from_snug, load_per_angle
from evenpull.joint.tightening.yielding import yield_load_tightening
from evenpull.joint.traced import Band, Traced

SOURCE = "snug load by VDI 2230-1 R13, then turn over pitch and resilience (from memory)"


@dataclass(frozen=True, slots=True)
class AngleWindow:
    """Snug load, load and final torque after the turn as low, nominal, high (N, N.m), each at one friction and tool:
    the low load belongs to high friction, the low torque to low friction. The line is elastic; `notes` says where it
    passes the yield point. `gradient` in N/rad.
    """

    snug_load: Band
    load: Band
    torque: Band
    gradient: float
    steps: tuple[Traced, ...]
    notes: tuple[str, ...]


def _need(value: float | None, field: str) -> float:
    if value is None:
        raise CaseError(f"{field}: is needed for tightening by torque and angle")
    if not 0 < value < math.inf:
        raise CaseError(f"{field}: has to be finite and greater than 0, not {value}")
    return value


def angle_window(case: JointCase) -> AngleWindow:
    """The window of a joint tightened to a snug torque and on by an angle. CaseError names what is missing.

    Chamfer before hole for the bearing face; drag of a self-locking nut comes off the snug torque.
    """
    refuse_senseless(case, pushed=True)
    snug, angle = _need(case.tightening.snug_torque, "tightening.snug_torque"), _need(
        case.tightening.angle, "tightening.angle")
    s, dphi = case.tightening.tool_scatter, case.tightening.angle_scatter
    if not 0 <= s < 1:
        raise CaseError(f"tightening.tool_scatter: a share of the torque from 0 to below 1, not {s}")
    if not 0 <= dphi < angle:
        raise CaseError(f"tightening.angle_scatter: from 0 to below the angle of {angle} rad, not {dphi}")
    drag = case.tightening.prevailing
    if not (drag.low >= 0 and drag.high < snug * (1 - s)):
        raise CaseError(f"tightening.prevailing: the drag up to {drag.high} N.m leaves nothing of the snug torque "
                        f"{snug} N.m")
    chain = Chain(case.sources)
    _start(chain, case, snug, angle)
    loads, torques, snugs = _ends(chain, s, dphi)
    notes = _against_yield(chain, case, loads)
    return AngleWindow(snugs, loads, torques, chain["c_F"], tuple(chain.steps), notes)


def _start(chain: Chain, case: JointCase, snug: float, angle: float) -> None:
    thread, layer, drag = case.bolt.thread, case.layers[0], case.tightening.prevailing
    S, P_ = bolt_resilience(case).total, clamped_resilience(case).total
    hole = max(layer.d_h, layer.chamfer or 0.0)
    for symbol, name, value, unit, field in (
        ("T_s", "snug torque", snug, "N.m", "tightening.snug_torque"),
        ("phi", "turn from snug", angle, "rad", "tightening.angle"),
        ("P", "pitch", thread.P, "m", "bolt.thread"), ("d_2", "pitch diameter", thread.d2, "m", "bolt.thread"),
        ("d_w", "bearing face", case.bolt.d_w, "m", "bolt.d_w"), ("d_h", "hole or chamfer", hole, "m", "layers[1]"),
    ):
        chain.add(symbol, name, value, unit, "stated", chain.said(field))
    for symbol, end, mu_G, mu_K, T_P in (
        ("low", "low friction", case.friction.mu_G.low, case.friction.mu_K.low, drag.low),
        ("nom", "nominal friction", case.friction.mu_G.nominal, case.friction.mu_K.nominal, drag.nominal),
        ("high", "high friction", case.friction.mu_G.high, case.friction.mu_K.high, drag.high),
    ):
        for part, mu in (("G", mu_G), ("K", mu_K)):
            if not 0 < mu < 1:
                raise CaseError(f"friction.mu_{part}: a coefficient of friction lies between 0 and 1, not {mu}")
            chain.add(f"mu_{part}_{symbol}", f"{end}, {'thread' if part == 'G' else 'bearing face'}", mu, "1", "stated",
                      chain.said(f"friction.mu_{part}"))
        chain.add(f"T_P_{symbol}", "drag of the nut", T_P, "N.m", "stated", chain.said("tightening.prevailing"))
    mean = chain.add("D_Km", "mean friction diameter", D_Km(case.bolt.d_w, hole), "m", "D_Km = (d_w + d_h) / 2",
                     "VDI 2230-1 R13 (from memory)", inputs=chain.get("d_w", "d_h"))
    for symbol in ("low", "nom", "high"):
        mu_G, mu_K = chain[f"mu_G_{symbol}"], chain[f"mu_K_{symbol}"]
        chain.add(
            f"L_{symbol}", "torque per load", torque_lever(thread, mu_G, mu_K, mean), "m",
            f"L_{symbol} = 0.16 P + 0.58 d_2 mu_G_{symbol} + D_Km mu_K_{symbol} / 2", "VDI 2230-1 R13 (from memory)",
            inputs=chain.get("P", "d_2", f"mu_G_{symbol}", f"mu_K_{symbol}", "D_Km"),
        )
    chain.add("delta_S", "resilience of the bolt", S, "m/N", "sum of the pieces of the bolt", "VDI 2230-1 R3")
    chain.add("delta_P", "resilience of the clamped parts", P_, "m/N", "deformation cones in layers", "VDI 2230-1 R3")
    chain.add("c_F", "load per angle", load_per_angle(thread.P, S, P_), "N/rad",
              "c_F = P / (2 pi (delta_S + delta_P))", "lead of the thread and resiliences",
              inputs=chain.get("P", "delta_S", "delta_P"))


def _ends(chain: Chain, s: float, dphi: float) -> tuple[Band, Band, Band]:
    chain.add("s_T", "scatter of the snug torque", s, "1", "stated", chain.said("tightening.tool_scatter"))
    chain.add("dphi", "scatter of the angle", dphi, "rad", "stated", chain.said("tightening.angle_scatter"))
    T_s, phi, c = chain["T_s"], chain["phi"], chain["c_F"]
    loads, torques, snugs = [], [], []
    # load: low with high friction, drag and a low tool; torque: low with low friction
    for name, sign, friction in (("low", "-", "high"), ("nom", "", "nom"), ("high", "+", "low")):
        scatter = {"-": -1.0, "": 0.0, "+": 1.0}[sign]
        torque_text = f"T_s (1 {sign} s_T)" if sign else "T_s"
        angle_text = f"(phi {sign} dphi)" if sign else "phi"
        inputs = chain.get("T_s", f"T_P_{friction}", f"L_{friction}") | ({"s_T": s} if sign else {})
        F_s = chain.add(
            f"F_s_{name}", "snug load", (T_s * (1 + scatter * s) - chain[f"T_P_{friction}"]) / chain[f"L_{friction}"],
            "N", f"F_s_{name} = ({torque_text} - T_P_{friction}) / L_{friction}", SOURCE, inputs=inputs,
        )
        snugs.append(F_s)
        turn = chain.get("phi", "c_F") | ({"dphi": dphi} if sign else {})
        loads.append(chain.add(
            f"F_{name}", "load after the turn", F_s + c * (phi + scatter * dphi), "N",
            f"F_{name} = F_s_{name} + c_F {angle_text}", SOURCE, inputs={f"F_s_{name}": F_s, **turn},
        ))
        torques.append(chain.add(
            f"T_{name}", "final torque", T_s * (1 + scatter * s) + c * (phi + scatter * dphi) * chain[f"L_{name}"],
            "N.m", f"T_{name} = {torque_text} + c_F {angle_text} L_{name}", SOURCE,
            inputs=chain.get("T_s", f"L_{name}") | turn | ({"s_T": s} if sign else {}),
        ))
    return Band(*loads), Band(*torques), Band(*snugs)


def _against_yield(chain: Chain, case: JointCase, load: Band) -> tuple[str, ...]:
    notes = ["the steps are turned one after the other and not merged; seating, bending and the twist of the bolt "
             "add to the angle read and are not in it"]
    strength = case.bolt.strength
    for symbol, mu, F in (("low", case.friction.mu_G.low, load.high), ("high", case.friction.mu_G.high, load.low)):
        F_y = yield_load_tightening(case.bolt.thread, strength.R_p02, mu)
        chain.add(f"F_y_{symbol}", f"yield load under the wrench, {symbol} friction", F_y, "N",
                  "VDI 2230-1 R7, the whole yield strength used", strength.source, strength.status)
        if F_y < F:
            notes.append(f"at {symbol} friction the elastic line passes the yield load of {F_y / 1e3:.4g} kN: the "
                         "real load stays near it, found with a stated law of hardening")
    return tuple(notes)


def angle_to_load(case: JointCase, F: float) -> Band:
    """Turn in rad from snug to the load F (N) at low, nominal and high: the high turn belongs to high friction.

    CaseError when the snug load alone may exceed F.
    """
    window = angle_window(case)
    S, P_ = bolt_resilience(case).total, clamped_resilience(case).total
    P = case.bolt.thread.P
    snug = window.snug_load
    try:
        return Band(*(angle_from_snug(F, F_s, P, S, P_) for F_s in (snug.high, snug.nominal, snug.low)))
    except ValueError as error:
        raise CaseError(f"tightening.snug_torque: {error}") from error
