"""Reference rows on textbook joints: what a row asks for, computed from the quantities of `textbook_row`."""

from __future__ import annotations

import math
import re

from evenpull import joint
from evenpull.joint.springs import frusta as book
from tests.reference import stiffness
from tests.reference.given import Given, NotEvaluatedError
from tests.reference.textbook_parts import circle, fits, grips, screws
from tests.reference.textbook_row import Row
from tests.reference.textbook_variants import one_of_two


def textbook(given: Given) -> float:
    """Value of one row of the topic joint_example_textbook."""
    try:
        return _textbook(given)
    except NotEvaluatedError:
        raise
    except ValueError as error:  # what the library refuses; said with the keys of the row
        raise given.error(str(error)) from error


def _textbook(given: Given) -> float:
    title = given.text("example")
    if title is not None and not re.fullmatch(r"[A-Z]+\d+\b.*", title):
        raise given.error(f"the title {title!r} of an example begins with its number")
    for key, raw in given.inputs.items():
        if raw is None:
            raise given.error(f"input {key!r} is empty")
    one_of_two(given)
    if "cases" in given.inputs:
        return grips(given)
    if any(re.match(r"(?:lead|pitch|dm|d_m|dc)(?:_|$)", str(key)) for key in given.inputs):
        return screws(given)
    if {"R_in", "R_mm", "R_m"} & set(given.inputs):
        return circle(given)
    if any(str(key).startswith("A_B") for key in given.inputs):
        return fits(given)
    return Example(given).value()


class Example(Row):
    """Answers to the quantities of a row, in its units."""


    def stress(self, si: float) -> float:
        return self.given.out(si, "stress", "ksi" if self.inch else "MPa")

    def force(self, si: float) -> float:
        unit = next((name for key in self.given.inputs for name in ("kip", "lbf", "kN", "N")
                     if str(key).endswith(f"_{name}")), "kip" if self.inch else "kN")
        return self.given.out(si, "force", unit)

    def value(self) -> float:
        for part in (self._bolts_and_torque, self._stiffness, self._stresses, self._factors, self._lengths,
                     self._loads):
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
            angle = joint.nut_turn(self.F_i, self.need(self.k_b, "kb"), self.need(self.k_m, "km"), self.pitch)
            if says("turns", "revolutions"):
                return float(angle) / (2 * math.pi)
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
        if says("frustum") or (says("stiffness") and re.search(r"\bk\d\b", q)):
            found = self.frusta
            named = {"upper": 0, "top": 0, "washer": 0, "middle": 1, "member": 1, "lower": -1, "bottom": -1,
                     "first": 0, "second": 1, "third": 2, "fourth": 3}
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
        if says("(?:member|tube|clamped-part) stiffness", "km", "kc", "stiffness of (?:the )?(?:members|tube)"):
            return stiffness.out_stiffness(self._asked_members(), self.inch)
        if says("joint constant", "joint stiffness constant", "stiffness constant", "stiffness ratio"):
            return self.C
        return None

    def _asked_members(self) -> float:
        given, d = self.given, self.d
        fit, closed = given.says("exponential fit", "fit", "eq. 8-23", "8-23"), given.says("eq. 8-22", "8-22")
        if fit or closed:
            layers = stiffness.layers(given, self.need(d, "the diameter"), self.inch)
            if len({E for _, E in layers}) != 1:
                raise given.error("this equation holds for members of one material")
            E, grip, d = layers[0][1], sum(t for t, _ in layers), self.need(d, "the diameter")
            return float(joint.member_stiffness_fit(E, d, grip, *self._fit()) if fit
                         else joint.member_stiffness(E, d, grip))
        if given.says("0.58") or "0.58" in given.quantity:
            layers = stiffness.layers(given, self.need(d, "the diameter"), self.inch)
            found = book.member_frusta(layers, self.need(d, "the diameter"), alpha=math.atan(0.58))
            return stiffness.members(found)
        return self.need(self.k_m, "what the stiffness of the members needs")

    def _fit(self) -> tuple[float, float]:
        """A and B in the quantity, as inputs, or of the material that the modulus is named by."""
        if said := re.search(r"A\s*=\s*([\d.]+)\s*,\s*B\s*=\s*([\d.]+)", self.given.quantity):
            return float(said[1]), float(said[2])
        A, B = self.given.number("A"), self.given.number("B")
        if A is not None and B is not None:
            return A, B
        names = {"ci": "grey cast iron", "iron": "grey cast iron", "steel": "steel", "st": "steel", "al": "aluminium",
                 "aluminum": "aluminium", "aluminium": "aluminium"}
        found = {name for word, name in names.items() if self.given.says(word)}
        found = found or {name for word, name in names.items() if any(str(key).startswith(f"E_{word}_")
                                                                      for key in self.given.inputs)}
        if len(found) != 1:
            raise self.given.error("A and B of the fit are missing, and no modulus names the one material")
        row = book.fit(found.pop())
        return row.A, row.B

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
        if sum((says("goodman"), says("gerber"), says("elliptic", "asme"), says("proof-line", "proof line"))) > 1:
            raise self.given.error("the quantity names more than one criterion")
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
                factor = self.need(self.factor, "the design factor")
                shared = self.need(self.bolts, "the number of bolts") if says("total", "all bolts") else 1.0
                return self.force(shared * float(joint.safe_repeated_load(S_a, self.A_t, self.C, factor)))
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
            if self.stated_sigma_a is not None:
                return (self.S_p - self.sigma_i) / (self.sigma_m + self.sigma_a - self.sigma_i)
            return float(joint.overload_factor(self.S_p, self.A_t, self.C, self.P, self.F_i))
        if says("separation factor", "factor against separation", "n0"):
            return float(joint.separation_factor(self.F_i, self.C, self.P))
        return None

    def _lengths(self) -> float | None:
        says, given = self.given.says, self.given
        if not says("grip", "(?:least|minimum|shortest|threaded|unthreaded|thread) length", "lt", "ld"):
            return None
        unit = "in" if self.inch else "mm"
        grip = given.si("length", "l", "grip")
        if grip is None:
            grip = sum(t for t, _ in stiffness.layers(given, self.need(self.d, "the diameter"), self.inch))
        if says("least length", "minimum length", "shortest length"):
            h = given.need(given.si("length", "h"), "the thickness h above the tapped part")
            return given.out(float(joint.cap_screw_length(h, self.need(self.d, "the diameter"))), "length", unit)
        if says("grip") and not says("in grip", "in the grip"):
            return given.out(grip, "length", unit)
        L = self.need(self.L, "the length L of the bolt")
        L_T = float(joint.thread_length(self.need(self.d, "the diameter"), L, "inch" if self.inch else "metric"))
        shank = float(joint.shank_in_grip(L, L_T, grip))
        if says("unthreaded length", "unthreaded", "ld"):
            return given.out(shank, "length", unit)
        return given.out(grip - shank if says("in grip", "in the grip") else L_T, "length", unit)

    def _loads(self) -> float | None:
        says = self.given.says
        if says("preload to prevent separation", "least preload", "minimum preload"):
            return self.force((self.factor or 1.0) * (1 - self.C) * self.P)
        if says("load taken by the bolt", "bolt share", "share of the bolt", "pb"):
            return self.force(self.C * self.P)
        if says("load taken by the members", "members share", "share of the members", "pm"):
            return self.force((1 - self.C) * self.P)
        if says("separation", "opening", "separate", "open"):
            load = float(joint.external_load(self.F_i, self.C, 0.0))
            if says("pressure"):
                share = joint.pressure_load(1.0, self.need(self.seal, "the seal"), self.need(self.bolts, "n_bolts"))
                return self.given.out(load / float(share), "stress", self.p_unit or ("ksi" if self.inch else "MPa"))
            return self.force(load) if says("load", "force") else None
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
