"""The target of one fastener with its load window, every number with its formula and source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from evenpull.joint.case import CaseError
from evenpull.joint.chain import Chain
from evenpull.joint.parts.strengths import proof_load, yield_load
from evenpull.joint.parts.threads import stress_diameter
from evenpull.joint.problems import problems_of
from evenpull.joint.target import NO_LOAD, FastenerCase, Target, TargetProblem, TorqueCase
from evenpull.joint.tightening import torque as tq
from evenpull.joint.traced import Band

R7 = "VDI 2230-1 R7"
R13 = "VDI 2230-1 R13"
SHORT = "T = K d F, short form (ASME PCC-1, Shigley eq. 8-27)"
_MU_G: dict[str, Callable[[Band], float]] = {
    "_min": lambda band: band.low, "": lambda band: band.nominal, "_max": lambda band: band.high,
}
CORNER = "corner case of friction and tool: all at their worst at once, no statistics"
TOOL_CORNER = "corner case of the tool, no statistics"


@dataclass(frozen=True, slots=True)
class _Levers:
    """Torque per load (m) at low, nominal and high friction, and the thread friction that goes with each."""

    at: Band
    mu_G: Band


def _check(case: FastenerCase) -> None:
    given = [name for name in ("torque", "preload", "utilisation") if getattr(case, name) is not None]
    if len(given) != 1:
        raise CaseError(f"exactly one of torque, preload and utilisation is needed, not {len(given)}: {given}")
    value = getattr(case, given[0])
    if not value > 0:
        raise CaseError(f"{given[0]} must be greater than zero, not {value}")
    _check_tool_and_drag(case)
    if not 0 < case.utilisation_limit <= 1:
        raise CaseError(f"utilisation_limit is a share above 0 and at most 1, not {case.utilisation_limit}")
    if case.required_preload is not None and not case.required_preload > 0:
        raise CaseError(f"required_preload must be greater than zero, not {case.required_preload}")
    for name in ("mu_G", "mu_K", "K"):
        low = getattr(case, name).low
        if not (low > 0 if name == "K" else low >= 0):
            raise CaseError(f"{name} must be positive, not {low}")


def _check_tool_and_drag(case: FastenerCase | TorqueCase) -> None:
    if not 0 <= case.tool_scatter < 1:
        raise CaseError(f"tool_scatter is a share of the torque from 0 to below 1, not {case.tool_scatter}")
    if case.prevailing_torque < 0:
        raise CaseError(f"prevailing_torque cannot be negative: {case.prevailing_torque}")


def torque_target(case: TorqueCase) -> Target:
    """The target of a fastener whose thread is not stated (SI): torque and its band, no load and no use of strength.

    The chain holds the steps of the torque alone. CaseError for impossible input.
    """
    if not case.torque > 0:
        raise CaseError(f"torque must be greater than zero, not {case.torque}")
    _check_tool_and_drag(case)
    chain = Chain(case.sources)
    _add_stated_torque(chain, case.torque)
    band = _torque_band(chain, case, case.torque, TOOL_CORNER)
    problem = TargetProblem("load not computable", "warning",
                            f"The load {NO_LOAD}. Verdicts rest on torque, end and tool alone.")
    return Target(band.nominal, band, None, None, None, tuple(chain.steps), (problem,))


def compute_target(case: FastenerCase) -> Target:
    """Torque, load band, utilisation and problems of one fastener (SI).

    The load band is the corner case: F_min at the lowest torque and the highest friction, F_max at the highest torque
    and the lowest friction. Prevailing torque is added to the target and taken off again before the load is computed.
    `utilisation` as a wish is reached at nominal friction. CaseError for impossible input; ValueError from D_Km when
    the hole is not smaller than the bearing face.
    """
    _check(case)
    chain = Chain(case.sources)
    mean = tq.D_Km(case.d_w, case.d_h)
    _given(chain, case, mean)
    levers = _levers(chain, case, mean)

    if case.torque is not None:
        wanted = case.torque
        _add_stated_torque(chain, wanted)
    else:
        wanted = _torque_for_load(chain, case, levers)
    load = wanted / levers.at.nominal if case.preload is None else case.preload
    if case.preload is None:
        way, names, source = ("m_A", ("m_A",), R13) if case.rule == "friction" else ("(K d)", ("K", "d"), SHORT)
        chain.add("F_M", "nominal preload", load, "N", f"F_M = M_A / {way}", source,
                  inputs={"M_A": wanted, **{name: chain[name] for name in names}})

    band, drag = _torque_band(chain, case, wanted, CORNER), case.prevailing_torque
    loads = _rising(max(band.low - drag, 0.0) / levers.at.high, load, (band.high - drag) / levers.at.low)
    _add_window(chain, case, band, loads)

    nu = _utilisation(chain, case, levers, band, loads)
    proof = proof_load(case.thread, case.strength)
    nu_p = None
    if proof is not None:
        nu_p = Band(loads.low / proof, loads.nominal / proof, loads.high / proof)
        for name, words, value, of in (
            ("nu_p_min", "lowest", nu_p.low, "F_min"), ("nu_p", "nominal", nu_p.nominal, "F_M"),
            ("nu_p_max", "highest", nu_p.high, "F_max"),
        ):
            chain.add(name, f"{words} load over proof load", value, "1", f"{name} = {of} / F_p", "definition",
                      inputs={of: chain[of], "F_p": proof})
    low, within, high = _torque_window(chain, case, levers)
    problems = problems_of(case, loads, nu, proof, low, within, high)
    return Target(band.nominal, band, loads, nu, nu_p, tuple(chain.steps), problems)


def _add_stated_torque(chain: Chain, wanted: float) -> None:
    chain.add("M_A", "tightening torque without drag", wanted, "N.m", "stated", chain.said("torque"))


def _torque_band(chain: Chain, case: FastenerCase | TorqueCase, wanted: float, corner: str) -> Band:
    """The wanted torque with the drag added, and what the tool may make of it (N.m)."""
    drag, s = case.prevailing_torque, case.tool_scatter
    total = wanted + drag
    chain.add("M_P", "prevailing torque (drag)", drag, "N.m", "stated", chain.said("prevailing_torque"))
    chain.add("M", "target torque at the fastener", total, "N.m", "M = M_A + M_P",
              "FAA AC 43.13-1B par. 7-40: final torque is the torque plus the friction drag",
              inputs={"M_A": wanted, "M_P": drag})
    chain.add("s", "tool scatter, share of the torque", s, "1", "stated", chain.said("tool_scatter"))
    band = Band(total * (1 - s), total, total * (1 + s))
    for name, words, value, sign in (("M_min", "lowest", band.low, "-"), ("M_max", "highest", band.high, "+")):
        chain.add(name, f"{words} torque", value, "N.m", f"{name} = M (1 {sign} s)", corner,
                  inputs={"M": total, "s": s})
    return band


def _rising(low: float, nominal: float, high: float) -> Band:
    """The band, with rounding in the last places levelled; anything worse than that is an error of the computation."""
    if low > nominal * (1 + 1e-9) or high < nominal * (1 - 1e-9):
        raise ArithmeticError(f"a band came out falling: {low}, {nominal}, {high}")
    return Band(min(low, nominal), nominal, max(high, nominal))


def _given(chain: Chain, case: FastenerCase, mean: float) -> None:
    t, st = case.thread, case.strength
    profile = "ISO 68-1 / ISO 724 basic profile" if t.system == "metric" else "ASME B1.1 basic profile"
    third = "d_2 = d - 0.649519 P"
    add = chain.add
    add("d", "nominal diameter", t.d, "m", f"{t.designation}", profile, "memory")
    add("P", "pitch", t.P, "m", f"{t.designation}", profile, "memory")
    add("d_2", "pitch diameter", t.d2, "m", third, profile, inputs={"d": t.d, "P": t.P})
    if t.system == "metric":
        add("d_3", "minor diameter at the rounded root", t.d3, "m", "d_3 = d - 1.226869 P", profile,
            inputs={"d": t.d, "P": t.P})
        add("A_s", "stress area", t.A_s, "m2", "A_s = pi/4 ((d_2 + d_3)/2)^2", "ISO 898-1",
            inputs={"d_2": t.d2, "d_3": t.d3})
    else:
        add("A_s", "tensile stress area", t.A_s, "m2", "A_s = pi/4 (d - 0.9743 P)^2", "ASME B1.1",
            inputs={"d": t.d, "P": t.P})
    add("d_0", "diameter of the stress area", stress_diameter(t), "m", "d_0 = sqrt(4 A_s / pi)", R7,
        inputs={"A_s": t.A_s})
    add("R_p02", "yield strength, lowest allowed", st.R_p02, "Pa", st.designation, st.source, st.status)
    add("R_m", "tensile strength, lowest allowed", st.R_m, "Pa", st.designation, st.source, st.status)
    add("F_02", "load at yield in pure tension", yield_load(t, st), "N", "F_02 = A_s R_p02", "VDI 2230-1",
        inputs={"A_s": t.A_s, "R_p02": st.R_p02})
    proof = proof_load(t, st)
    if proof is not None and st.S_p is not None:
        add("S_p", "stress under proof load", st.S_p, "Pa", st.designation, st.source, st.status)
        add("F_p", "proof load", proof, "N", "F_p = A_s S_p", "ISO 898-1 Table 5 (definition)",
            inputs={"A_s": t.A_s, "S_p": st.S_p})
    add("d_w", "outside diameter of the bearing face", case.d_w, "m", "stated", chain.said("d_w"))
    add("d_h", "hole", case.d_h, "m", "stated", chain.said("d_h"))
    add("D_Km", "mean friction diameter under head or nut", mean, "m", "D_Km = (d_w + d_h)/2", R13,
        inputs={"d_w": case.d_w, "d_h": case.d_h})
    for symbol, words in (("mu_G", "thread friction"), ("mu_K", "friction under head or nut")):
        band: Band = getattr(case, symbol)
        for suffix, kind, value in (("_min", "lowest", band.low), ("", "nominal", band.nominal),
                                    ("_max", "highest", band.high)):
            add(symbol + suffix, f"{words}, {kind}", value, "1", "stated", chain.said(symbol))


def _levers(chain: Chain, case: FastenerCase, mean: float) -> _Levers:
    t, mu_G, mu_K = case.thread, case.mu_G, case.mu_K
    if case.rule == "nut factor":
        for suffix, kind, value in (("_min", "lowest", case.K.low), ("", "nominal", case.K.nominal),
                                    ("_max", "highest", case.K.high)):
            chain.add("K" + suffix, f"nut factor, {kind}", value, "1", "stated", chain.said("K"))
        # With a stated K the torsion is taken at nominal thread friction throughout: K does not tell how it divides.
        nominal = Band(mu_G.nominal, mu_G.nominal, mu_G.nominal)
        return _Levers(Band(case.K.low * t.d, case.K.nominal * t.d, case.K.high * t.d), nominal)
    levers = Band(*(tq.torque_lever(t, g, k, mean) for g, k in (
        (mu_G.low, mu_K.low), (mu_G.nominal, mu_K.nominal), (mu_G.high, mu_K.high))))
    for suffix, kind, value, g, k in (
        ("_min", "lowest", levers.low, mu_G.low, mu_K.low), ("", "nominal", levers.nominal, mu_G.nominal, mu_K.nominal),
        ("_max", "highest", levers.high, mu_G.high, mu_K.high),
    ):
        inputs = {"P": t.P, "d_2": t.d2, f"mu_G{suffix}": g, f"mu_K{suffix}": k, "D_Km": mean}
        chain.add(f"m_A{suffix}", f"torque per load, {kind} friction", value, "m",
                  f"m_A{suffix} = 0.16 P + 0.58 d_2 mu_G{suffix} + (D_Km/2) mu_K{suffix}", R13, inputs=inputs)
        chain.add(f"K{suffix}", f"nut factor that this implies, {kind}", value / t.d, "1",
                  f"K{suffix} = m_A{suffix} / d", R13,
                  inputs={f"m_A{suffix}": value, "d": t.d})
    return _Levers(levers, mu_G)


def _torque_for_load(chain: Chain, case: FastenerCase, levers: _Levers) -> float:
    """Torque without drag that gives the wished preload or utilisation at nominal friction; adds the steps."""
    if case.preload is not None:
        load = case.preload
        chain.add("F_M", "nominal preload", load, "N", "stated", chain.said("preload"))
        load_symbol = "F_M"
    else:
        assert case.utilisation is not None  # _check
        load = tq.F_M_zul(case.thread, case.strength, levers.mu_G.nominal, case.utilisation)
        chain.add("nu_wanted", "utilisation of R_p02 wished", case.utilisation, "1", "stated",
                  chain.said("utilisation"))
        chain.add("F_wanted", "preload at the wished utilisation, nominal friction", load, "N",
                  "F_wanted = A_s nu_wanted R_p02 / sqrt(1 + 3 [(3/2)(d_2/d_0)(P/(pi d_2) + 1.155 mu_G)]^2)", R7,
                  inputs={"nu_wanted": case.utilisation, **_r7_inputs(chain), "mu_G": levers.mu_G.nominal})
        load_symbol = "F_wanted"
    wanted = load * levers.at.nominal
    if case.rule == "friction":
        chain.add("M_A", "tightening torque without drag", wanted, "N.m", f"M_A = {load_symbol} m_A", R13,
                  inputs={load_symbol: load, "m_A": levers.at.nominal})
    else:
        chain.add("M_A", "tightening torque without drag", wanted, "N.m", f"M_A = K d {load_symbol}", SHORT,
                  inputs={load_symbol: load, "K": case.K.nominal, "d": case.thread.d})
    return wanted


def _r7_inputs(chain: Chain) -> dict[str, float]:
    return {name: chain[name] for name in ("A_s", "R_p02", "d_2", "d_0", "P")}


def _add_window(chain: Chain, case: FastenerCase, torque: Band, loads: Band) -> None:
    for name, words, value, end, acts, suffix in (
        ("F_min", "lowest", loads.low, "M_min", torque.low, "_max"),
        ("F_max", "highest", loads.high, "M_max", torque.high, "_min"),
    ):
        friction = case.rule == "friction"
        below, names = (f"m_A{suffix}", (f"m_A{suffix}",)) if friction else (f"(K{suffix} d)", (f"K{suffix}", "d"))
        chain.add(name, f"{words} preload that friction and tool leave", value, "N",
                  f"{name} = max(0, {end} - M_P) / {below}", CORNER,
                  inputs={end: acts, "M_P": case.prevailing_torque, **{of: chain[of] for of in names}})
    if loads.low > 0:
        chain.add("alpha_A", "tightening factor", loads.high / loads.low, "1", "alpha_A = F_max / F_min",
                  "VDI 2230-1 (definition of the tightening factor)", inputs={"F_max": loads.high, "F_min": loads.low})


def _corner(case: FastenerCase, mu_K: float, choose: Callable[..., str]) -> str:
    """Which thread friction, with this friction under the head, is worst (max) or best (min) for the utilisation.

    Less thread friction gives more load, more thread friction more torsion; which of them wins depends on the case.
    """
    t, mean = case.thread, tq.D_Km(case.d_w, case.d_h)

    def per_torque(suffix: str) -> float:
        mu = _MU_G[suffix](case.mu_G)
        return float(tq.utilisation(1 / tq.torque_lever(t, mu, mu_K, mean), t, case.strength, mu))

    return choose(_MU_G, key=per_torque)


def _utilisation(chain: Chain, case: FastenerCase, levers: _Levers, torque: Band, loads: Band) -> Band:
    values = []
    for name, of, load, mu_K, at_torque, choose, usual in (
        ("nu_min", "F_min", loads.low, case.mu_K.high, torque.low, min, "_max"),
        ("nu", "F_M", loads.nominal, case.mu_K.nominal, torque.nominal, None, ""),
        ("nu_max", "F_max", loads.high, case.mu_K.low, torque.high, max, "_min"),
    ):
        suffix = "" if case.rule == "nut factor" or choose is None else _corner(case, mu_K, choose)
        mu = _MU_G[suffix](case.mu_G)
        if case.rule == "friction" and suffix != usual:  # not the corner of the lowest or highest load
            lever = tq.torque_lever(case.thread, mu, mu_K, chain["D_Km"])
            load = max(at_torque - case.prevailing_torque, 0.0) / lever
            ends = ("M_min", "mu_K_max") if choose is min else ("M_max", "mu_K_min")
            of = of.replace("F_", "F_nu_")
            chain.add(of, f"preload in the corner of {name}", load, "N",
                      f"{of} = max(0, {ends[0]} - M_P) / (0.16 P + 0.58 d_2 mu_G{suffix} + (D_Km/2) {ends[1]})", R13,
                      inputs={symbol: chain[symbol] for symbol in
                              (ends[0], "M_P", "P", "d_2", f"mu_G{suffix}", "D_Km", ends[1])})
        value = tq.utilisation(load, case.thread, case.strength, mu)
        values.append(value)
        at = f"mu_G{suffix}"
        chain.add(name, f"utilisation of R_p02 in tension with torsion at {of}", value, "1",
                  f"{name} = ({of}/A_s) sqrt(1 + 3 [(3/2)(d_2/d_0)(P/(pi d_2) + 1.155 {at})]^2) / R_p02", R7,
                  inputs={of: load, **_r7_inputs(chain), at: mu})
    chain.add("nu_limit", "utilisation limit", case.utilisation_limit, "1", "stated", chain.said("utilisation_limit"))
    chain.add("F_Mzul", "permissible preload at the utilisation limit, nominal friction",
              tq.F_M_zul(case.thread, case.strength, levers.mu_G.nominal, case.utilisation_limit), "N",
              "F_Mzul = A_s nu_limit R_p02 / sqrt(1 + 3 [(3/2)(d_2/d_0)(P/(pi d_2) + 1.155 mu_G)]^2)", R7,
              inputs={"nu_limit": case.utilisation_limit, **_r7_inputs(chain), "mu_G": levers.mu_G.nominal})
    return _rising(*values)


def _torque_window(chain: Chain, case: FastenerCase, levers: _Levers) -> tuple[float | None, float, float]:
    """The least target that keeps the required preload, the largest that keeps the utilisation limit, and the largest
    that keeps R_p02, each in its worst corner (N.m)."""
    drag, s = case.prevailing_torque, case.tool_scatter
    friction = case.rule == "friction"
    suffix = _corner(case, case.mu_K.low, max) if friction else ""
    mu = _MU_G[suffix](case.mu_G)
    yield_at = tq.F_M_zul(case.thread, case.strength, mu, 1.0)
    lever = tq.torque_lever(case.thread, mu, case.mu_K.low, chain["D_Km"]) if friction else levers.at.low
    largest = (yield_at * lever + drag) / (1 + s)
    within = (case.utilisation_limit * yield_at * lever + drag) / (1 + s)
    chain.add("F_yield", "preload that reaches R_p02 in tension with torsion, worst corner", yield_at, "N",
              f"F_yield = A_s R_p02 / sqrt(1 + 3 [(3/2)(d_2/d_0)(P/(pi d_2) + 1.155 mu_G{suffix})]^2)", R7,
              inputs={**_r7_inputs(chain), f"mu_G{suffix}": mu})
    way = f"0.16 P + 0.58 d_2 mu_G{suffix} + (D_Km/2) mu_K_min" if friction else "K_min d"
    names = ("P", "d_2", f"mu_G{suffix}", "D_Km", "mu_K_min") if friction else ("K_min", "d")
    chain.add("M_largest", "largest target that stays below R_p02 in the worst corner", largest, "N.m",
              f"M_largest = (F_yield ({way}) + M_P) / (1 + s)", CORNER,
              inputs={"F_yield": yield_at, **{name: chain[name] for name in names}, "M_P": drag, "s": s})
    chain.add("M_limit", "largest target that stays within the utilisation limit in the worst corner", within, "N.m",
              f"M_limit = (nu_limit F_yield ({way}) + M_P) / (1 + s)", CORNER,
              inputs={"nu_limit": case.utilisation_limit, "F_yield": yield_at,
                      **{name: chain[name] for name in names}, "M_P": drag, "s": s})
    if case.required_preload is None:
        return None, within, largest
    need = case.required_preload
    least = (need * levers.at.high + drag) / (1 - s)
    chain.add("F_req", "least load that must be kept", need, "N", "stated", chain.said("required_preload"))
    per, parts = ("m_A_max", ("m_A_max",)) if friction else ("K_max d", ("K_max", "d"))
    chain.add("M_least", "least target that keeps F_req in the worst corner", least, "N.m",
              f"M_least = (F_req {per} + M_P) / (1 - s)", CORNER,
              inputs={"F_req": need, **{name: chain[name] for name in parts}, "M_P": drag, "s": s})
    return least, within, largest
