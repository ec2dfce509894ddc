"""One joint in tension as a textbook row states it: each quantity found from whichever inputs the row gives.

Everything that a row states is read at the start, so that what contradicts itself is refused whatever is asked.
"""

from __future__ import annotations

import math
import re
from functools import cached_property

from evenpull import joint
from evenpull.joint.springs import frusta as book
from evenpull.joint.tightening.turning import load_after_angle
from evenpull.quantities import to_si
from tests.reference import grades, stiffness
from tests.reference.given import AREA_AS_PRINTED, INCH, Given, agree
from tests.reference.sizes import inches, thread_size
from tests.reference.textbook_parts import is_inch

_SHARES = {"0.75": True, "75 %": True, "75%": True, "0.90": False, "0.9": False, "90 %": False, "90%": False}
_MEMBER_KEYS = re.compile(r"frusta$|washer_|h_|tw_|t\d_|t_[a-z]+\d?_|E_(?!b)")


def _count_of_bolts(given: Given) -> None:
    """A row that names its thread may write the number of bolts as n: it has a load or a pressure for all of them."""
    shared = any(re.match(r"P_?total_|(?:p|pressure)_(?!mm|in|m$)", str(key)) for key in given.inputs)
    counted = {"n_bolts", "N_bolts", "N"} & set(given.inputs)
    if shared and not counted and "thread" in given.inputs and "n" in given.inputs:
        given.inputs = {("n_bolts" if key == "n" else key): value for key, value in given.inputs.items()}


class Row:
    """One joint in tension. SI inside."""

    def __init__(self, given: Given) -> None:
        self.given, self.inch = given, is_inch(given)
        _count_of_bolts(given)
        self.L: float | None = None
        for key in ("thread", "size"):
            text = given.inputs.get(key)
            with_length = re.compile(r"(.+?)\s+[xX]\s+(\d[\d\-/.]*)(?:\s*(?:in|mm))?")
            if isinstance(text, str) and (match := with_length.fullmatch(text)):
                given.inputs = {**given.inputs, key: match[1].strip()}
                inch = not match[1].strip().startswith("M")
                self.L = inches(match[2]) * 0.0254 if inch else float(match[2]) * 1e-3
        size = thread_size(given, None)
        self.size, self.d = size, given.si("length", "d", "D") if size is None else size.d
        si, number = given.si, given.number
        area = si("area", "At", "A_t", "As", "A_s")
        if size is not None and area is not None and not agree(area, size.A_s, AREA_AS_PRINTED):
            raise given.error(f"the stress area is not that of {size.designation}")
        self.stated_area = area is not None
        self.area = area if area is not None or size is None else size.A_s
        L = si("length", "L")
        if L is not None and self.L is not None and not agree(L, self.L):
            raise given.error("the length of the bolt is stated in two ways")
        self.L = L if self.L is None else self.L
        self.grade = given.text("grade", "cls", "class")
        self.stated_P = si("force", "P", "Pmax", "P_max", "P_bolt")
        low = given.measure("force", "Pmin", "P_min", positive=False)
        self.P_min = 0.0 if low is None else low.si
        self.P_total = si("force", "P_total", "Ptotal")
        self.stated_F_i = si("force", "Fi", "F_i", "preload")
        self.remaining = given.measure("force", "clamp_remaining", "F_clamp", "clamp", positive=False)
        pressure = given.measure("stress", "p", "pressure")
        self.p = None if pressure is None else pressure.si
        self.p_unit = None if pressure is None else pressure.unit
        self.seal = si("length", "seal_diameter", "sealing_diameter", "D_seal", "d_seal", "seal_dia", "seal", "Ds")
        self.stated_sigma_i, self.stated_sigma_a = si("stress", "sigma_i"), si("stress", "sigma_a")
        self.stated_sigma_m = si("stress", "sigma_m")
        self.S_e = si("stress", "Se", "S_e")
        self.K, self.f, self.f_c = number("K", below=1), number("f", below=1), number("fc", "f_c", below=1)
        self.factor = number("design_factor", "n_d", "nd", "load_factor")
        self.reused = given.flag("reused")
        if (permanent := given.flag("permanent")) is not None:
            self.reused = not permanent
        self.strengths = si("stress", "Sp", "S_p"), si("stress", "Sut", "S_ut"), si("stress", "Sy", "S_y")
        self._bolts = number("n_bolts", "N_bolts", "N")
        self.ratio = number("kb_over_kc", "kb_over_km")
        self.stated_C = number("C", below=1)
        self.turn = self._turn()
        self.k_b, self.k_m = self._bolt(), self._members()
        self.check()

    # readings ----------------------------------------------------------------------------------------------------

    def need(self, value: float | None, what: str) -> float:
        return self.given.need(value, what)

    def _bare(self, name: str) -> float | None:
        raw = self.given.raw(name)
        if raw is None:
            return None
        if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not 0 < raw < math.inf:
            raise self.given.error(f"input {name!r} has to be a number greater than zero, not {raw!r}")
        return float(raw)

    def _agreed(self, stated: float | None, found: float | None, what: str) -> float | None:
        if stated is not None and found is not None and not agree(stated, found, 0.01):
            raise self.given.error(f"{what} is stated in two ways that do not agree")
        return found if stated is None else stated

    @property
    def pitch(self) -> float:
        """From the thread, or from the threads per inch alone."""
        found = None if self.size is None else self.size.P
        per_inch = self.given.number("threads_per_in", "N_per_in", "N_t", "Nt")
        if per_inch is None and self.size is None and self.inch and self.P_total is None and self.p is None:
            per_inch = self._bolts  # N of the textbook's equation for the turn of the nut
        stated = None if per_inch is None else INCH / per_inch
        return self.need(self._agreed(found, stated, "the pitch"), "the thread, or threads_per_in,")

    def _turn(self) -> float | None:
        """Turn of the nut from snug in rad: "nut_turn_deg", or "turn" as a part of one turn, a number or "1/3"."""
        found, whole = self.given.si("angle", "nut_turn", "turn", "theta"), None
        for key in ("turn", "nut_turn", "turn_of_nut"):
            raw = self.given.raw(key)
            if isinstance(raw, str) and (fraction := re.fullmatch(r"(\d+)/([1-9]\d*)", raw.strip())):
                raw = int(fraction[1]) / int(fraction[2])
            if raw is None:
                continue
            if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not 0 < raw < 5:
                raise self.given.error(f"input {key!r} has to be a part of one turn, not {raw!r}")
            whole = self._agreed(whole, 2 * math.pi * raw, "the turn of the nut")
        return self._agreed(found, whole, "the turn of the nut")

    def _bolt(self) -> float | None:
        stated = stiffness.stiffness(self.given, "kb", "k_b")
        bare = self._bare("kb")
        geometry = self._by_parts or any(re.match(r"(?:l|ld|lt|l_d|l_t|grip)_(?:in|mm|m)$", str(key))
                                         for key in self.given.inputs)
        found = None
        if geometry and self.d is not None and self.area is not None:
            if "shank area" in self.given.q or "full area" in self.given.q:
                grip = self.need(self.given.si("length", "l", "grip"), "the grip l")
                E = stiffness.modulus(self.given, "E_bolt", "E_b") or stiffness.STEEL["inch" if self.inch else "metric"]
                found = math.pi / 4 * self.d**2 * E / grip
            else:
                found = self._eq_8_17()
        return self._agreed(stated if bare is None else bare, found, "the stiffness of the bolt")

    @property
    def _by_parts(self) -> bool:
        """Whether the grip is the sum of the parts: a bolt of known length, so not the screw of a tapped part."""
        title = str(self.given.inputs.get("example", "")).casefold()
        return self.L is not None and stiffness.has_parts(self.given) and not re.search("cap screw|tapped", title)

    def _eq_8_17(self) -> float:
        given, d, A_t = self.given, self.need(self.d, "the diameter"), self.need(self.area, "the stress area")
        l_d, l_t = given.si("length", "ld", "l_d"), given.si("length", "lt", "l_t")
        grip = given.si("length", "l", "grip")
        stated_A_d = given.si("area", "Ad", "A_d")
        E = stiffness.modulus(given, "E_bolt", "E_b") or stiffness.STEEL["inch" if self.inch else "metric"]
        if grip is None and self._by_parts:
            grip = sum(t for t, _ in stiffness.layers(given, d, self.inch))
        if l_d is None and l_t is None and self.L is None and stated_A_d is not None and not self.stated_area:
            A_d, grip = stated_A_d, self.need(grip, "the grip l")  # taken as a plain rod: A E/l
            return float(joint.bolt_stiffness(A_d, A_d, grip, 0.0, E))
        if l_d is None and l_t is None and self.L is not None and grip is not None and grip < self.L:
            L_T = float(joint.thread_length(d, self.L, "inch" if self.inch else "metric"))
            l_d = float(joint.shank_in_grip(self.L, L_T, grip))
            A_d = stated_A_d or math.pi / 4 * d**2
            return float(joint.bolt_stiffness(A_d, A_t, l_d, grip - l_d, E))
        return stiffness.bolt_stiffness(given, d, A_t, self.inch)

    @cached_property
    def frusta(self) -> tuple[book.Frustum, ...]:
        return stiffness.frusta(self.given, self.need(self.d, "the diameter"), self.inch)

    def _members(self) -> float | None:
        stated, bare = stiffness.stiffness(self.given, "km", "k_m", "kc", "k_c"), self._bare("km")
        if not isinstance(self.given.inputs.get("frusta", []), (list, tuple)):
            raise self.given.error("the frusta are a list")
        found = stiffness.tube(self.given)
        if found is None and self.d is not None and any(_MEMBER_KEYS.match(str(key)) for key in self.given.inputs):
            found = stiffness.members(self.frusta)
        return self._agreed(stated if bare is None else bare, found, "the stiffness of the members")

    def check(self) -> None:
        """Everything that a row may state twice, read for all quantities alike."""
        if self.grade is not None:
            grades.name(self.given, self.grade)
            for name in grades.WHICH:
                if self.strengths[grades.WHICH.index(name)] is not None:
                    self._strength(name)
        if self.stated_sigma_i is not None and self.stated_F_i is not None and self.area is not None and not agree(
                self.stated_sigma_i, self.stated_F_i / self.area, 0.01):
            raise self.given.error("sigma_i is not F_i/A_t")
        if self.stated_P is not None and self.P_min > self.stated_P:
            raise self.given.error("the least load is greater than the greatest")
        if self._bolts is not None and self._bolts % 1:
            raise self.given.error(f"the number of bolts is whole, not {self._bolts:g}")
        A_d = self.given.si("area", "Ad", "A_d")
        if A_d is not None and self.d is not None and A_d > math.pi / 4 * self.d**2 * (1 + AREA_AS_PRINTED):
            raise self.given.error("the shank area is greater than that of the thread's diameter")
        if self.p is not None and self.seal is None:
            raise self.given.error("the diameter of the seal is missing")

    # strengths ---------------------------------------------------------------------------------------------------

    def _strength(self, which: str) -> float | None:
        if self.grade is None:
            return self.strengths[grades.WHICH.index(which)]
        return grades.strength(self.given, self.grade, self.d, self.strengths, which)

    @property
    def S_p(self) -> float:
        said = re.search(r"proof strength \(([\d.]+) (ksi|MPa)\)", self.given.quantity)
        value = self._strength("Sp")
        if said is not None:
            value = self._agreed(value, to_si(float(said[1]), said[2], "stress"), "the proof strength")
        return self.need(value, "the proof strength Sp")

    @property
    def S_ut(self) -> float:
        return self.need(self._strength("Sut"), "the strength Sut")

    @property
    def endurance(self) -> float:
        if self.S_e is not None:
            return self.S_e
        return joint.endurance_strength(grades.name(self.given, self.grade), self.need(self.d, "the diameter")).S_e

    # the joint ---------------------------------------------------------------------------------------------------

    @property
    def A_t(self) -> float:
        return self.need(self.area, "the stress area")

    @property
    def C(self) -> float:
        found = None if self.ratio is None else self.ratio / (1 + self.ratio)
        if self.k_b is not None and self.k_m is not None:
            found = self._agreed(found, float(joint.joint_constant(self.k_b, self.k_m)), "the joint constant")
        return self.need(self._agreed(self.stated_C, found, "the joint constant"), "kb and km, or C,")

    @property
    def bolts(self) -> float | None:
        said = re.search(r"with (\d+) bolts", self.given.quantity)
        if said is None:
            return self._bolts
        if self._bolts is not None and self._bolts != float(said[1]):
            raise self.given.error("the number of bolts is stated in two ways")
        return float(said[1])

    @property
    def F_i(self) -> float:
        turned = None
        if self.turn is not None and self.k_b is not None and self.k_m is not None:
            turned = float(load_after_angle(0.0, self.turn, self.pitch, 1 / self.k_b, 1 / self.k_m))
        if (found := self._agreed(self.stated_F_i, turned, "the preload")) is not None:
            return found
        if self.stated_sigma_i is not None and self.area is not None:
            return self.stated_sigma_i * self.area
        return self._recommended(self.A_t)

    def _recommended(self, area: float) -> float:
        """The textbook's share of the proof load, 0.75 where nothing says that the joint is permanent."""
        reused = {value for text, value in _SHARES.items()
                  if re.search(rf"(?<![\d.]){re.escape(text)}(?![\d])", self.given.quantity)}
        reused |= {value for word, value in (("permanent", False), ("reused", True)) if self.given.says(word)}
        if self.reused is not None:
            reused.add(self.reused)
        if len(reused) > 1:
            raise self.given.error("the share of the proof load is stated in two ways")
        return float(joint.recommended_preload(self.S_p, area, reused.pop() if reused else True))

    @property
    def sigma_i(self) -> float:
        if self.stated_sigma_i is not None:
            return self.stated_sigma_i
        if self.area is None and self.stated_F_i is None and self.turn is None:
            return self._recommended(1.0)  # a share of the proof strength, whatever the area
        return self.F_i / self.A_t

    @property
    def P(self) -> float:
        found = self.stated_P
        if found is None and self.remaining is not None:
            return float(joint.external_load(self.F_i, self.C, self.remaining.si))
        if self.P_total is not None:
            found = self._agreed(found, self.P_total / self.need(self.bolts, "the number of bolts"), "the load")
        if self.p is not None:
            share = joint.pressure_load(self.p, self.need(self.seal, "the seal"), self.need(self.bolts, "n_bolts"))
            found = self._agreed(found, float(share), "the load")
        return self.need(found, "the external load")

    @property
    def sigma_a(self) -> float:
        if self.stated_sigma_a is not None:
            return self.stated_sigma_a
        return float(joint.stress_amplitude(self.C, self.P, self.P_min, self.A_t))

    @property
    def sigma_m(self) -> float:
        if self.stated_sigma_m is not None:
            return self.stated_sigma_m
        if self.stated_sigma_a is not None:
            return self.sigma_i + self.stated_sigma_a  # load from zero
        return float(joint.mean_stress(self.C, self.P, self.P_min, self.F_i, self.A_t))

    @property
    def slope(self) -> float:
        return float(joint.load_line(self.stated_P, self.P_min)) if self.P_min and self.stated_P else 1.0
