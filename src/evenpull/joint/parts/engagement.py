"""Which gives way first under overload: the bolt, its thread, or the thread that it goes into (VDI 2230-1 R11).

The bolt is taken as strong as it may be delivered, because a strong bolt is what strips a thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.parts import stripping
from evenpull.joint.parts.thread_limits import loosest_pair
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.service.shear import shear_ratio
from evenpull.joint.traced import Traced

R11 = "VDI 2230-1 R11"
ALEXANDER = f"{R11}; Alexander 1977"
OVERSTRENGTH = 1.2  # greatest over least tensile strength of a lot of bolts; from memory of VDI 2230-1 R11, not re-read
FLANK_SHARE = 0.95  # bearing diameter of a hexagon nut over its width across flats, at least (ISO 4032, ASME B18.2.2)
BOLT = "the bolt breaks"
BOLT_THREAD = "the thread of the bolt strips"
COUNTER_THREADS = {"nut": "the thread of the nut strips", "tapped hole": "the thread of the tapped hole strips"}


@dataclass(frozen=True, slots=True)
class Engagement:
    """Forces in N, lengths in m. `first` names what gives way first, None: not judged, and `why_not` says why.

    `margins`: stripping load of each thread over the breaking load of the bolt, less 1. `required`: engaged length at
    which the bolt breaks before either thread strips. What cannot be computed is None.
    """

    steps: tuple[Traced, ...]
    breaking_load: float
    bolt_thread: float | None
    counter_thread: float | None
    engaged: float | None
    required: float | None
    first: str | None
    why_not: str
    margins: Mapping[str, float]
    notes: tuple[str, ...]

    @property
    def bolt_breaks_first(self) -> bool | None:
        """What R11 asks for; None where it is not judged."""
        return None if self.first is None else self.first == BOLT

    def by_symbol(self, symbol: str) -> Traced:
        for step in self.steps:
            if step.symbol == symbol:
                return step
        raise KeyError(symbol)


def engagement(case: JointCase, *, overstrength: float = OVERSTRENGTH) -> Engagement:
    """Breaking load of the bolt, stripping loads of both threads, required length of engagement, with every step.

    CaseError names the field when a value makes no sense; a shear strength, an engaged length or a width of the nut
    that is not stated is not judged.
    """
    refuse_senseless(case, pushed=True)
    if not 1 <= overstrength < math.inf:
        raise CaseError(f"overstrength is the greatest over the least tensile strength, at least 1, not {overstrength}")
    chain, notes = Chain(case.sources), list[str]()
    F = _breaking(chain, case, overstrength)
    missing = [*_shear_strengths(chain, case, overstrength), *_dilation(chain, case, notes)]
    _per_length(chain, case)
    if missing:
        return Engagement(tuple(chain.steps), F, None, None, case.counterpart.engagement, None, None,
                          "; ".join(missing), {}, tuple(notes))
    _factors(chain, notes)
    required = _required(chain, case)
    m = case.counterpart.engagement
    if m is None:
        return Engagement(tuple(chain.steps), F, None, None, None, required, None,
                          "counterpart.engagement, the length of thread engaged, is not stated", {}, tuple(notes))
    bolt_thread, counter = _loads(chain, case, m)
    threads = {BOLT_THREAD: bolt_thread, COUNTER_THREADS[case.counterpart.kind]: counter}
    weaker = min(threads, key=lambda name: threads[name])
    return Engagement(tuple(chain.steps), F, bolt_thread, counter, m, required,
                      BOLT if threads[weaker] >= F * (1 - 1e-9) else weaker, "",
                      {name: load / F - 1 for name, load in threads.items()}, tuple(notes))


def _breaking(chain: Chain, case: JointCase, overstrength: float) -> float:
    bolt = case.bolt
    if not 0 <= bolt.d_i < bolt.thread.d3:
        raise CaseError(f"bolt.d_i: the bore has to be less than the minor diameter, not {bolt.d_i} m")
    sections = [(bolt.thread.A_s - math.pi / 4 * bolt.d_i**2, "stress area of the thread, less the bore")]
    sections += [(math.pi / 4 * (one.d**2 - one.d_i**2), f"section of {one.d * 1e3:g} mm") for one in bolt.sections]
    A, words = min(sections)
    if not A > 0:
        raise CaseError(f"bolt: the {words} leaves no area")
    chain.add("A_br", "least area of the bolt", A, "m2", words, "ISO 898-1; bolt.sections", "computed")
    chain.add("R_m_max", "greatest tensile strength of the bolt", overstrength * bolt.strength.R_m, "Pa",
              "R_m_max = k_R R_m", f"{R11}: a lot may be stronger than its class", "memory",
              inputs={"k_R": overstrength, "R_m": bolt.strength.R_m})
    return chain.add("F_mS", "breaking load of the bolt", chain["A_br"] * chain["R_m_max"], "N", "F_mS = A_br R_m_max",
                     R11, inputs=chain.get("A_br", "R_m_max"))


def _shear_strengths(chain: Chain, case: JointCase, overstrength: float) -> list[str]:
    """Adds both shear strengths; what is missing comes back in words."""
    missing, bolt, counter = [], case.bolt, case.counterpart
    known = shear_ratio(bolt.strength.designation)
    for name, stated in (("bolt.material", bolt.material.tau_B), ("counterpart.material", counter.material.tau_B)):
        if stated is not None and not 0 < stated < math.inf:
            raise CaseError(f"{name}.tau_B: a shear strength is finite and greater than zero, not {stated} Pa")
    if known is not None:
        ratio, source = known
        chain.add("tau_BB", "shear strength of the bolt", ratio * chain["R_m_max"], "Pa", "tau_BB = r_tau R_m_max",
                  source, "memory", inputs={"r_tau": ratio, **chain.get("R_m_max")})
    elif bolt.material.tau_B is not None:
        chain.add("tau_BB", "shear strength of the bolt", overstrength * bolt.material.tau_B, "Pa",
                  "tau_BB = k_R tau_B", bolt.material.source, bolt.material.status,
                  inputs={"k_R": overstrength, "tau_B": bolt.material.tau_B})
    else:
        missing.append(f"no shear strength is known for {bolt.strength.designation}: state tau_B of the bolt's "
                       f"material ({bolt.material.name})")
    if counter.material.tau_B is None:
        missing.append(f"{counter.material.name} of the {counter.kind} states no shear strength tau_B, and none is "
                       "assumed")
    else:
        chain.add("tau_BM", f"shear strength of the {counter.kind}", counter.material.tau_B, "Pa",
                  counter.material.name, counter.material.source, counter.material.status)
    return missing


def _dilation(chain: Chain, case: JointCase, notes: list[str]) -> list[str]:
    d = case.bolt.thread.d
    if case.counterpart.kind == "tapped hole":
        notes.append("the tapped part is taken as wide enough not to dilate: 1.9 d or more around the thread")
        chain.add("C_1", "dilation", 1.0, "1", "none: wide tapped part", R11, "memory")
        return []
    if case.counterpart.d_w is None:
        return ["counterpart.d_w, the bearing face of the nut, is not stated: its dilation is not known"]
    s = case.counterpart.d_w / FLANK_SHARE
    if not 1.4 * d <= s < math.inf:
        return [f"the wall of the nut is thinner than the formula of its dilation covers: {s / d:.3g} d, least 1.4 d"]
    # a flange is wider than the hexagon that resists: hexagon nuts have 1.5 d at least, from M16 up hardly more
    held = min(s, 1.5 * d)
    chain.add("s", "width across flats of the nut, on the safe side", held, "m", "s = min(d_w / 0.95, 1.5 d)",
              "ISO 4032: flats of 1.5 d or more, bearing face of at most 0.95 of them", "memory",
              inputs={"d_w": case.counterpart.d_w, "d": d})
    chain.add("C_1", "dilation of the nut", stripping.C_1(held, d), "1", "C_1 = 3.8 s / d - (s / d)^2 - 2.61",
              ALEXANDER, "memory", inputs={**chain.get("s"), "d": d})
    return []


def _per_length(chain: Chain, case: JointCase) -> None:
    thread = case.bolt.thread
    limits = loosest_pair(thread)
    for symbol, words, value in (
        ("d_min", "least major diameter of the bolt", limits.d_min),
        ("d_2_min", "least pitch diameter of the bolt", limits.d_2_min),
        ("D_2_max", "greatest pitch diameter of the internal thread", limits.D_2_max),
        ("D_1_max", "greatest minor diameter of the internal thread", limits.D_1_max),
    ):
        chain.add(symbol, words, value, "m", thread.designation, limits.source, limits.status)
    chain.add("a_B", "sheared area of the bolt thread by length",
              stripping.bolt_thread_area(1.0, thread.P, limits.D_1_max, limits.d_2_min), "m",
              "a_B = pi / P D_1_max (P / 2 + (d_2_min - D_1_max) tan(pi / 6))", R11, "memory",
              inputs={"P": thread.P, **chain.get("D_1_max", "d_2_min")})
    chain.add("a_M", "sheared area of the internal thread by length",
              stripping.nut_thread_area(1.0, thread.P, limits.d_min, limits.D_2_max), "m",
              "a_M = pi / P d_min (P / 2 + (d_min - D_2_max) tan(pi / 6))", R11, "memory",
              inputs={"P": thread.P, **chain.get("d_min", "D_2_max")})


def _factors(chain: Chain, notes: list[str]) -> None:
    R = stripping.strength_ratio(chain["tau_BM"], chain["a_M"], chain["tau_BB"], chain["a_B"])
    chain.add("R_S", "strength ratio of the threads", R, "1", "R_S = tau_BM a_M / (tau_BB a_B)", ALEXANDER, "memory",
              inputs=chain.get("tau_BM", "a_M", "tau_BB", "a_B"))
    if stripping.R_S_3[0] > R:
        notes.append(f"the strength ratio {R:.2g} is below 0.4, where C_3 is not given: its end value stands")
    chain.add("R_2", "strength ratio within the range of C_2", min(max(R, 1.0), 2.2), "1",
              "R_2 = min(max(R_S, 1), 2.2)", ALEXANDER, "memory", inputs=chain.get("R_S"))
    chain.add("C_2", "bending of the bolt thread", stripping.C_2(R), "1",
              "C_2 = 5.594 - 13.682 R_2 + 14.107 R_2^2 - 6.057 R_2^3 + 0.9353 R_2^4", ALEXANDER, "memory",
              inputs=chain.get("R_2"))
    chain.add("R_3", "strength ratio within the range of C_3", min(max(R, 0.4), 1.0), "1",
              "R_3 = min(max(R_S, 0.4), 1)", ALEXANDER, "memory", inputs=chain.get("R_S"))
    chain.add("C_3", "bending of the internal thread", stripping.C_3(R), "1",
              "C_3 = 0.728 + 1.769 R_3 - 2.896 R_3^2 + 1.296 R_3^3", ALEXANDER, "memory", inputs=chain.get("R_3"))


def _required(chain: Chain, case: JointCase) -> float:
    P, lengths = case.bolt.thread.P, []
    for key, area, tau, bending, words in (
        ("B", "a_B", "tau_BB", "C_2", "bolt"), ("M", "a_M", "tau_BM", "C_3", case.counterpart.kind),
    ):
        value = stripping.required_length(chain["F_mS"], chain[area], chain[tau], chain["C_1"], chain[bending], P)
        lengths.append(chain.add(
            f"m_{key}", f"engagement at which the thread of the {words} holds until the bolt breaks", value, "m",
            f"m_{key} = F_mS / ({area} {tau} C_1 {bending}) + 0.8 P", R11, "memory",
            inputs={**chain.get("F_mS", area, tau, "C_1", bending), "P": P}))
    return chain.add("m_req", "required length of engagement", max(lengths), "m", "m_req = max(m_B, m_M)", R11,
                     inputs=chain.get("m_B", "m_M"))


def _loads(chain: Chain, case: JointCase, m: float) -> tuple[float, float]:
    P = case.bolt.thread.P
    try:
        carrying = stripping.carrying_length(m, P)
    except ValueError as error:
        raise CaseError(f"counterpart.engagement: {error}") from error
    chain.add("m_tot", "length of engagement", m, "m", "stated", chain.said("counterpart.engagement"))
    chain.add("m_eff", "carrying length", carrying, "m", "m_eff = m_tot - 0.8 P", R11, "memory",
              inputs={**chain.get("m_tot"), "P": P})
    found = []
    for key, area, tau, bending, words in (
        ("B", "a_B", "tau_BB", "C_2", "bolt"), ("M", "a_M", "tau_BM", "C_3", case.counterpart.kind),
    ):
        load = stripping.stripping_load(carrying * chain[area], chain[tau], chain["C_1"], chain[bending])
        found.append(chain.add(
            f"F_mG{key}", f"stripping load of the thread of the {words}", load, "N",
            f"F_mG{key} = m_eff {area} {tau} C_1 {bending}", R11, "memory",
            inputs=chain.get("m_eff", area, tau, "C_1", bending)))
    return found[0], found[1]
