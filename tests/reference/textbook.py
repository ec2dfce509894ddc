"""Reference rows on textbook joints: named quantities, each found from whichever inputs the row gives.

Everything that a row states is read at the start, so that what contradicts itself is refused whatever is asked.
"""

from __future__ import annotations

import math
import re
from functools import cached_property

from evenpull import joint
from evenpull.catalogue.strengths import strength_rows
from evenpull.catalogue.textbook import textbook_strengths
from evenpull.joint import frusta as book
from evenpull.quantities import from_si, to_si
from tests.reference import stiffness
from tests.reference.given import AREA_AS_PRINTED, Given, NotEvaluatedError, agree
from tests.reference.sizes import inches, thread_size
from tests.reference.textbook_parts import circle, fits, grips, is_inch, screws

GRADE_AS_ROUNDED = 0.007
_SHARES = {"0.75": True, "75 %": True, "75%": True, "0.90": False, "0.9": False, "90 %": False, "90%": False}
_MEMBER_KEYS = re.compile(r"frusta$|washer_|tw_|t\d_|t_(?:w|each|washer|steel|iron|ci|al|aluminum)_|E_(?!b)")


def textbook(given: Given) -> float:
    """Value of one row of the topic joint_example_textbook."""
    given.text("example")
    if "cases" in given.inputs:
        return grips(given)
    if any(re.match(r"(?:lead|pitch|dm|d_m|dc)(?:_|$)", str(key)) for key in given.inputs):
        return screws(given)
    if {"R_in", "R_mm", "R_m"} & set(given.inputs):
        return circle(given)
    if any(str(key).startswith("A_B") for key in given.inputs):
        return fits(given)
    return Row(given).value()


class Row:
    """One joint in tension. SI inside."""

    def __init__(self, given: Given) -> None:
        self.given, self.inch = given, is_inch(given)
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
        self.p, self.seal = si("stress", "p", "pressure"), si("length", "seal_diameter", "D_seal", "seal")
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

    def _bolt(self) -> float | None:
        stated = stiffness.stiffness(self.given, "kb", "k_b")
        bare = self._bare("kb")
        geometry = any(re.match(r"(?:l|ld|lt|grip)_(?:in|mm|m)$", str(key)) for key in self.given.inputs)
        found = None
        if geometry and self.d is not None and self.area is not None:
            if "shank area" in self.given.q or "full area" in self.given.q:
                grip = self.need(self.given.si("length", "l", "grip"), "the grip l")
                E = stiffness.modulus(self.given, "E_bolt", "E_b") or stiffness.STEEL["inch" if self.inch else "metric"]
                found = math.pi / 4 * self.d**2 * E / grip
            else:
                found = self._eq_8_17()
        return self._agreed(stated if bare is None else bare, found, "the stiffness of the bolt")

    def _eq_8_17(self) -> float:
        given, d, A_t = self.given, self.need(self.d, "the diameter"), self.need(self.area, "the stress area")
        l_d, l_t = given.si("length", "ld"), given.si("length", "lt")
        grip = given.si("length", "l", "grip")
        if l_d is None and l_t is None and self.L is not None and grip is not None and grip < self.L:
            L_T = float(joint.thread_length(d, self.L, "inch" if self.inch else "metric"))
            l_d = float(joint.shank_in_grip(self.L, L_T, grip))
            A_d = given.si("area", "Ad") or math.pi / 4 * d**2
            E = stiffness.modulus(given, "E_bolt", "E_b") or stiffness.STEEL["inch" if self.inch else "metric"]
            return float(joint.bolt_stiffness(A_d, A_t, l_d, grip - l_d, E))
        return stiffness.bolt_stiffness(given, d, A_t, self.inch)

    @cached_property
    def frusta(self) -> tuple[book.Frustum, ...]:
        return stiffness.frusta(self.given, self.need(self.d, "the diameter"), self.inch)

    def _members(self) -> float | None:
        stated, bare = stiffness.stiffness(self.given, "km", "k_m", "kc", "k_c"), self._bare("km")
        found = None
        if self.d is not None and any(_MEMBER_KEYS.match(str(key)) for key in self.given.inputs):
            found = stiffness.members(self.frusta)
        return self._agreed(stated if bare is None else bare, found, "the stiffness of the members")

    def check(self) -> None:
        """Everything that a row may state twice, read for all quantities alike."""
        for name in ("Sp", "Sut"):
            if self.grade is not None and self.strengths[0 if name == "Sp" else 1] is not None:
                self._from_grade(name)
        if self.stated_sigma_i is not None and self.stated_F_i is not None and self.area is not None and not agree(
                self.stated_sigma_i, self.stated_F_i / self.area, 0.01):
            raise self.given.error("sigma_i is not F_i/A_t")
        if self.stated_P is not None and self.P_min > self.stated_P:
            raise self.given.error("the least load is greater than the greatest")
        if self.p is not None and self.seal is None:
            raise self.given.error("the diameter of the seal is missing")

    # strengths ---------------------------------------------------------------------------------------------------

    def _name(self) -> str:
        text = re.sub(r"^(?:ISO\s*)?(?:class\s*)?", "", self.given.need(self.grade, "the grade or class"), flags=re.I)
        if any(row.designation == text for row in textbook_strengths()):
            return text
        if match := re.fullmatch(r"(?:SAE\s*)?(?:J\s*429\s*)?(?:grade\s*)?(\d(?:\.\d)?)", text, re.IGNORECASE):
            return f"SAE J429 grade {match[1]}"
        raise self.given.error(f"the grade {self.grade!r} is not in the textbook's tables")

    def _candidates(self, which: str) -> list[tuple[bool, float]]:
        """Values of the class, the textbook's first; True where the size fits."""
        name, d, found = self._name(), self.d, []
        for row in textbook_strengths():
            if row.designation == name:
                value = {"Sp": row.S_p, "Sut": row.S_ut, "Sy": row.S_y}[which]
                found.append((d is not None and row.d_from * 0.999 <= d <= row.d_to * 1.001, value))
        for one in strength_rows():
            if one.designation == name:
                raw = {"Sp": one.S_p, "Sut": one.R_m, "Sy": one.R_p02}[which]
                if raw is not None:
                    found.append((d is not None and one.over < d <= one.up_to * 1.001, raw))
        return found

    def _from_grade(self, which: str) -> float:
        """The stated strength when the class has it; else the textbook's: for a size outside its table the value of
        the class, as the solutions do.
        """
        stated, found = self.strengths[("Sp", "Sut", "Sy").index(which)], self._candidates(which)
        if stated is not None:
            if not any(agree(stated, value, GRADE_AS_ROUNDED) for _, value in found):
                raise self.given.error(f"{which} is not that of {self.grade}")
            return stated
        metric = "." in self._name() and not self._name().startswith("SAE")
        if metric and found:
            return found[0][1]
        fitting = [value for fits_size, value in found if fits_size]
        if not fitting and len({value for _, value in found}) == 1:
            fitting = [found[0][1]]
        return self.need(fitting[0] if fitting else None, f"{which}, or a size that the grade has,")

    @property
    def S_p(self) -> float:
        said = re.search(r"proof strength \(([\d.]+) (ksi|MPa)\)", self.given.quantity)
        value = self.strengths[0] if self.grade is None else self._from_grade("Sp")
        if said is not None:
            value = self._agreed(value, to_si(float(said[1]), said[2], "stress"), "the proof strength")
        return self.need(value, "the proof strength Sp")

    @property
    def S_ut(self) -> float:
        return self.need(self.strengths[1] if self.grade is None else self._from_grade("Sut"), "the strength Sut")

    @property
    def endurance(self) -> float:
        if self.S_e is not None:
            return self.S_e
        return joint.endurance_strength(self._name(), self.need(self.d, "the diameter")).S_e

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
        if self.stated_F_i is not None:
            return self.stated_F_i
        if self.stated_sigma_i is not None and self.area is not None:
            return self.stated_sigma_i * self.area
        reused = {value for text, value in _SHARES.items()
                  if re.search(rf"(?<![\d.]){re.escape(text)}(?![\d])", self.given.quantity)}
        if self.reused is not None:
            reused.add(self.reused)
        if len(reused) > 1:
            raise self.given.error("the share of the proof load is stated in two ways")
        return float(joint.recommended_preload(self.S_p, self.A_t, reused.pop() if reused else True))

    @property
    def sigma_i(self) -> float:
        return self.F_i / self.A_t if self.stated_sigma_i is None else self.stated_sigma_i

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

    # answers -----------------------------------------------------------------------------------------------------

    def stress(self, si: float) -> float:
        return self.given.out(si, "stress", "ksi" if self.inch else "MPa")

    def force(self, si: float) -> float:
        unit = next((name for key in self.given.inputs for name in ("kip", "lbf", "kN", "N")
                     if str(key).endswith(f"_{name}")), "kip" if self.inch else "kN")
        return self.given.out(si, "force", unit)

    def value(self) -> float:
        for part in (self._bolts_and_torque, self._stiffness, self._stresses, self._factors, self._loads):
            if (found := part()) is not None:
                return found
        raise self.given.unknown()

    def _bolts_and_torque(self) -> float | None:
        says, given = self.given.says, self.given
        if says("number of bolts", "bolts needed", "bolts required"):
            said = re.search(r"factor (?:of )?(\d+(?:\.\d+)?)", given.quantity)
            factor = self._agreed(self.factor, float(said[1]) if said else None, "the load factor")
            total = self.P_total if self.P_total is not None else self.P * self.need(self.bolts, "the total load")
            found = float(joint.bolts_needed(self.need(factor, "the load factor"), self.C, total, self.S_p, self.A_t,
                                             self.F_i))
            return float(math.ceil(found)) if says("rounded up", "rounded") and not says("before rounding") else found
        if says("nut rotation", "turn of nut", "turn of the nut", "nut turn", "rotation of the nut",
                "turn-of-nut angle"):
            pitch = given.need(self.size, "the thread").P
            angle = joint.nut_turn(self.F_i, self.need(self.k_b, "kb"), self.need(self.k_m, "km"), pitch)
            return given.out(float(angle), "angle", "deg")
        if says("torque"):
            usual = "lbf.in" if self.inch else "N.m"
            if says("friction formula", "friction form", "friction"):
                f, f_c = self.need(self.f, "f"), self.need(self.f_c, "fc")
                K = float(joint.torque_coefficient(given.need(self.size, "the thread"), f, f_c))
            else:
                said_K = re.search(r"K\s*=\s*(0?\.\d+)", given.quantity)
                stated = self._agreed(self.K, float(said_K[1]) if said_K else None, "K")
                K = self.need(stated, "the torque coefficient K")
            d = self.need(self.d, "the diameter")
            return given.out(float(joint.torque_from_nut_factor(self.F_i, K, d)), "torque", usual)
        return None

    def _stiffness(self) -> float | None:
        says, given, q = self.given.says, self.given, self.given.q
        if says("frustum"):
            found = self.frusta
            named = {"upper": 0, "top": 0, "washer": 0, "middle": 1, "member": 1, "lower": -1, "bottom": -1}
            match = re.search(r"(?:frustum (\d)|\bk(\d)\b)", q)
            index = int(match[1] or match[2]) - 1 if match else None
            words = {place for word, place in named.items() if says(word)}
            if len(words) > 1 or (not words and index is None):
                raise given.error("the quantity has to name one frustum")
            place = words.pop() if words else index or 0
            if index is not None and (place % len(found)) != index:
                raise given.error("the frustum is named in two ways that do not agree")
            if place >= len(found):
                raise given.error(f"there are {len(found)} frusta")
            return stiffness.out_stiffness(found[place].k, self.inch)
        if says("bolt stiffness", "kb", "stiffness of (?:the )?bolt") and not says("joint constant"):
            return stiffness.out_stiffness(self.need(self.k_b, "what the stiffness of the bolt needs"), self.inch)
        if says("member stiffness", "km", "kc", "clamped-part stiffness", "stiffness of (?:the )?members"):
            return stiffness.out_stiffness(self._asked_members(), self.inch)
        if says("joint constant", "joint stiffness constant", "stiffness constant", "stiffness ratio"):
            return self.C
        return None

    def _asked_members(self) -> float:
        given, d = self.given, self.d
        if given.says("exponential fit", "fit"):
            said = re.search(r"A\s*=\s*([\d.]+)\s*,\s*B\s*=\s*([\d.]+)", given.quantity)
            layers = stiffness.layers(given, self.need(d, "the diameter"), self.inch)
            if len({E for _, E in layers}) != 1:
                raise given.error("the fit holds for members of one material")
            if said is None:
                raise given.error("A and B of the fit are missing")
            grip = sum(t for t, _ in layers)
            return float(joint.member_stiffness_fit(layers[0][1], self.need(d, "the diameter"), grip, float(said[1]),
                                                    float(said[2])))
        if given.says("0.58") or "0.58" in given.quantity:
            layers = stiffness.layers(given, self.need(d, "the diameter"), self.inch)
            found = book.member_frusta(layers, self.need(d, "the diameter"), alpha=math.atan(0.58))
            return stiffness.members(found)
        return self.need(self.k_m, "what the stiffness of the members needs")

    def _stresses(self) -> float | None:
        says, q = self.given.says, self.given.q
        if says("below proof strength", "below proof") or "% of proof" in q:
            service = says("service stress", "service")
            stress = float(joint.bolt_load(self.F_i, self.C, self.P)) / self.A_t if service else self.sigma_i
            return 100 * (1 - stress / self.S_p)
        if says("preload stress", "initial stress", "sigma_i"):
            return self.stress(self.sigma_i)
        if says("bolt stress", "service stress", "maximum stress"):
            return self.stress(float(joint.bolt_load(self.F_i, self.C, self.P)) / self.A_t)
        if says("alternating stress", "stress amplitude", "sigma_a"):
            return self.stress(self.sigma_a)
        if says("mean stress", "midrange stress", "sigma_m"):
            return self.stress(self.sigma_m)
        return None

    def _amplitude(self) -> float | None:
        says = self.given.says
        if says("proof-line", "proof line"):
            return float(joint.proof_line(self.S_p, self.sigma_i, self.slope))
        if says("goodman"):
            return float(joint.goodman(self.endurance, self.S_ut, self.sigma_i, self.slope))
        if says("gerber"):
            return float(joint.gerber(self.endurance, self.S_ut, self.sigma_i, self.slope))
        if says("asme-elliptic", "asme elliptic", "elliptic", "asme"):
            return float(joint.asme_elliptic(self.endurance, self.S_p, self.sigma_i, self.slope))
        return None

    def _factors(self) -> float | None:
        says = self.given.says
        if (S_a := self._amplitude()) is not None:
            if says("safe load", "safe repeated load", "greatest load", "load"):
                return self.force(float(joint.safe_repeated_load(S_a, self.A_t, self.C, self.factor or 1.0)))
            if says("factor", "factor of safety", "nf"):
                return float(joint.fatigue_factor(S_a, self.sigma_a))
            if says("sm", "strength midrange"):
                return self.stress(self.sigma_i + S_a / self.slope)
            return self.stress(S_a) if says("sa", "amplitude", "strength amplitude") else None
        if says("yielding factor", "yield factor", "proof factor", "factor against yielding", "np"):
            if self.stated_sigma_a is not None:
                return self.S_p / (self.sigma_m + self.sigma_a)
            return float(joint.yielding_factor(self.S_p, self.A_t, self.C, self.P, self.F_i))
        if says("load factor", "overload factor", "nl"):
            return float(joint.overload_factor(self.S_p, self.A_t, self.C, self.P, self.F_i))
        if says("separation factor", "factor against separation", "n0"):
            return float(joint.separation_factor(self.F_i, self.C, self.P))
        return None

    def _loads(self) -> float | None:
        says = self.given.says
        if says("separation load", "load at separation", "load to separate"):
            return self.force(float(joint.external_load(self.F_i, self.C, 0.0)))
        if says("external load", "load per bolt", "load of one bolt"):
            return self.force(self.P)
        if says("bolt force", "bolt load", "bolt tension", "force in the bolt", "resultant bolt load"):
            return self.force(float(joint.bolt_load(self.F_i, self.C, self.P)))
        if says("clamp force", "clamping force", "member load", "clamp load", "compression"):
            return self.force(-float(joint.member_load(self.F_i, self.C, self.P)))
        if says("preload", "initial tension", "clamp-up load", "fi"):
            return self.force(self.F_i)
        if says("proof load"):
            return self.force(self.S_p * self.A_t)
        if says("stress area", "tensile stress area"):
            return self.given.out(self.A_t, "area", "in2" if self.inch else "mm2")
        return None


def fatigue(given: Given) -> float:
    """Value of one row of the topic fatigue: Table 8-17, or a strength amplitude from stated stresses."""
    if not given.says("fully corrected endurance strength", "endurance strength", "endurance limit"):
        return Row(given).value()
    if given.says("cut thread", "cut threads"):
        raise given.error("the table holds for rolled threads")
    name = given.need(given.text("grade", "class", "cls"), "the grade")
    size = given.need(given.text("size"), "the size or range of sizes")
    low, high, inch = _range(given, size)
    rows = [joint.endurance_strength(re.sub(r"^ISO\s+", "", name), d) for d in (low, high)]
    if rows[0] is not rows[1]:
        raise given.error(f"the sizes {size} stand in two rows of the table")
    return from_si(rows[0].S_e, given.named_unit("stress") or ("ksi" if inch else "MPa"))


def _range(given: Given, text: str) -> tuple[float, float, bool]:
    """"1/4-1 in", "1-1/8-1-1/2 in", "M16-M36", "M20": ends in m, and whether they are inches."""
    plain = re.sub(r"\s*in\.?$", "", text.strip())
    if plain.startswith("M"):
        parts = re.findall(r"M\s*(\d+(?:\.\d+)?)", plain)
        if 1 <= len(parts) <= 2:
            return float(parts[0]) * 1e-3, float(parts[-1]) * 1e-3, False
    one = r"\d+-\d+/\d+|\d+/\d+|\d+(?:\.\d+)?"
    if match := re.fullmatch(rf"({one})(?:\s*(?:-|to)\s*({one}))?", plain):
        try:
            return inches(match[1]) * 0.0254, inches(match[2] or match[1]) * 0.0254, True
        except (ValueError, NotEvaluatedError) as error:
            raise given.error(f"the size {text!r} is not understood") from error
    raise given.error(f"the size {text!r} is not understood")
