"""One model of the load of a joint for first-order and Monte Carlo propagation alike: from what is set at the tool to
the load at assembly, to the load left in service, and the limits that each fastener has of its own.

The formulas are those of `torque`, `turning`, `yielding`, `losses` and `working`; here they are only put together.
Load and residual load are straight lines in the setting (torque, angle, stretch or pull), which `joint.advice` uses.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.numeric import Num, larger, smaller
from evenpull.joint.service import losses, working
from evenpull.joint.service.clamping import F_PA, F_SA
from evenpull.joint.service.remaining import add_embedding, modulus_ratio, thermal, thermal_growth
from evenpull.joint.springs.resilience import ring_area
from evenpull.joint.springs.stiffness import bolt_resilience, check_case, clamped_resilience, load_factor
from evenpull.joint.target import ThreadSize
from evenpull.joint.tightening.torque import D_Km, load_from_nut_factor, torque_lever, torsion_ratio
from evenpull.joint.tightening.turning import load_after_angle
from evenpull.joint.tightening.yielding import yield_load_tightening
from evenpull.joint.uncertainty.spread_inputs import (
    COMMON,
    Assumptions,
    Input,
    around,
    must_be_positive,
    of_band,
    pitch_diameter_tolerance,
)
from evenpull.joint.uncertainty.spread_limits import (
    bearing_faces,
    chamfered_slot,
    load_at_working_stress,
    required_clamp,
    smallest_sections,
)

# method -> what is set, and its unit
SETTINGS: Mapping[str, tuple[str, str]] = {
    "torque": ("torque, without drag", "N.m"), "torque and angle": ("angle from snug", "rad"), "yield": ("none", "1"),
    "stretch": ("elongation of the bolt", "m"), "tension": ("pull of the tensioner", "N"),
}
NO_LIMIT = math.inf


@dataclass(frozen=True, slots=True)
class Model:
    """`inputs` by symbol are what varies or may vary; x in the methods maps each symbol to a number or an array."""

    case: JointCase
    inputs: Mapping[str, Input]
    notes: tuple[str, ...]
    together: tuple[str, ...] = ()  # inputs that rise and fall as one

    def thread(self, x: Mapping[str, Num]) -> ThreadSize:
        return replace(self.case.bolt.thread, d2=x["d_2"]) if "d_2" in x else self.case.bolt.thread

    def assembly(self, x: Mapping[str, Num], setting: Num) -> Num:
        """Load in N when tightening is done. Below zero where drag takes more than the torque: no load then."""
        case, t = self.case, self.thread(x)
        method = case.tightening.method
        if method == "torque":
            return self._by_torque(x, setting)
        if method == "torque and angle":
            snug = self._by_torque(x, case.tightening.snug_torque or 0.0)
            return load_after_angle(snug, setting + x["e_phi"], t.P, x["delta_S"], x["delta_P"])
        if method == "yield":
            strongest = case.bolt.strength.R_p02 * x["r_y"]
            return yield_load_tightening(t, strongest, x["mu_G"]) * (1 + x["e_M"])
        if method == "stretch":
            return setting * (1 + x["e_M"]) / x["delta_S"]
        return losses.tensioner_residual(setting * (1 + x["e_M"]), losses.transfer_factor(x["p_T"]))

    def _by_torque(self, x: Mapping[str, Num], torque: Num) -> Num:
        """The drag that is reckoned with is added at the tool; the drag that is there takes its part."""
        acts = (torque + self.case.tightening.prevailing.nominal) * (1 + x["e_M"]) - x["M_P"]
        if "K" in x:
            return load_from_nut_factor(acts, x["K"], self.case.bolt.thread.d)
        return acts / torque_lever(self.thread(x), x["mu_G"], x["mu_K"], x["D_Km"])

    def residual(self, x: Mapping[str, Num], F_M: Num) -> Num:
        """Load in N left in service of the load F_M at assembly, without working loads; below zero: loose."""
        gap: Num = 0.0
        ratios = (1.0, 1.0)
        if "T_S" in x:
            ratios = (modulus_ratio(self.case, "S"), modulus_ratio(self.case, "P"))
            bolt, parts = self._growth(x)
            gap = bolt - parts
        f_Z = x.get("f_Z", 0.0)
        springs = {"delta_S": x.get("delta_S", 1.0), "delta_P": x.get("delta_P", 1.0)}
        return losses.after_losses(
            F_M, interaction=x.get("p_I", 0.0), F_Z=losses.F_Z(f_Z, **springs) if "f_Z" in x else 0.0,
            relaxation=x.get("p_R", 0.0), gasket=x.get("p_g", 0.0), gap=gap, **springs,
            E_S_ratio=ratios[0], E_P_ratio=ratios[1],
        )

    def _growth(self, x: Mapping[str, Num]) -> tuple[Num, Num]:
        """Free growth in m of bolt and parts: `thermal_growth` of the case is a straight line in the temperatures."""
        service = self.case.service
        bolt, parts = thermal_growth(self.case)
        dT_S, dT_P = service.T_S - service.T_assembly, service.T_P - service.T_assembly
        return (
            bolt / dT_S * (x["T_S"] - service.T_assembly) if dT_S else 0.0,
            parts / dT_P * (x["T_P"] - service.T_assembly) if dT_P else 0.0,
        )

    def required(self, x: Mapping[str, Num]) -> Num:
        """Least load in N that has to be left in service: the stated one, or clamp load with the relief by the working
        load (VDI 2230-1 R2, R5), whichever is larger.
        """
        stated = self.case.limits.required_preload
        return larger(required_clamp(self.case) + F_PA(self.phi(x), max(self.case.loads.F_A_max, 0.0)),
                      0.0 if stated is None else stated)

    def phi(self, x: Mapping[str, Num]) -> Num:
        if "delta_P" not in x:
            return 0.0
        return load_factor(self.case.loads.n, x["delta_P"], x["delta_S"])

    def allowed(self, x: Mapping[str, Num]) -> Num:
        """Largest load in N allowed at assembly: the least of what `limits_of` names, each fastener with its own
        friction in the torsion.
        """
        found: Num = NO_LIMIT
        for _, load in self.limits_of(x):
            found = smaller(found, load)
        return found

    def _working_limit(self, x: Mapping[str, Num], F_SA: Num) -> Num:
        """Load at assembly with which the working stress reaches R_p02/S_F at temperature (VDI 2230-1 R8)."""
        case, found = self.case, NO_LIMIT
        hot = case.service.R_p02_ratio
        most = case.bolt.strength.R_p02 * x.get("r_y", 1.0) * (1.0 if hot is None else hot) / case.limits.S_F
        turning = working.thread_torque(1.0, self.thread(x), x["mu_G"]) if "mu_G" in x else 0.0
        for d_0, d_i in smallest_sections(case):
            per_load = working.torsion_stress(turning, d_0, d_i)
            found = smaller(found, load_at_working_stress(most, F_SA, ring_area(d_0, d_i), per_load))
        return found

    def limits_of(self, x: Mapping[str, Num]) -> list[tuple[str, Num]]:
        """The limits of the load at assembly, each with its name."""
        case, found = self.case, list[tuple[str, Num]]()
        if case.limits.largest_preload is not None:
            found.append(("largest preload stated", case.limits.largest_preload))
        strength = case.bolt.strength
        by_yield = case.tightening.method == "yield"
        stress, share = (strength.R_m, 1.0) if by_yield else (strength.R_p02, case.limits.nu)
        what = "tensile strength in tension with torsion" if by_yield else f"{share:.0%} of the yield strength"
        for d_0, d_i in smallest_sections(case):
            turned = "mu_G" in x
            ratio = torsion_ratio(self.thread(x), x["mu_G"], d_0, d_i) if turned else 0.0
            load = working.permissible_preload(ring_area(d_0, d_i), stress, share, ratio)
            if case.tightening.method == "tension":  # while it pulls, the bolt carries more than it keeps
                load = losses.tensioner_residual(load, losses.transfer_factor(x["p_T"]))
            found.append((what, load))
        nut = case.counterpart.nut_proof_stress
        if nut is not None:
            found.append(("proof load of the nut", nut * case.bolt.thread.A_s))
        extra = F_SA(self.phi(x), max(case.loads.F_A_max, 0.0))
        if case.loads.F_A_max > 0 or case.service.R_p02_ratio is not None:
            found.append(("yield strength with the working load", self._working_limit(x, extra)))
        for name, pressure, area in bearing_faces(case):
            found.append((f"surface pressure under the {name}", pressure * area / case.limits.S_P - extra))
        return found


def model_of(case: JointCase, assume: Assumptions | None = None) -> Model:
    """The model of a case with its input distributions. CaseError names the field that is missing or senseless."""
    return _Builder(case, assume or Assumptions()).build()


class _Builder:
    def __init__(self, case: JointCase, assume: Assumptions) -> None:
        self.case, self.assume = case, assume
        self.found: dict[str, Input] = {}
        self.notes: list[str] = []

    def add(self, found: Input) -> None:
        self.found[found.symbol] = found

    def said(self, field: str) -> str:
        return self.case.sources.get(field, "stated for this joint")

    def build(self) -> Model:
        self._check()
        method = self.case.tightening.method
        self._tool(method)
        if method in ("torque", "torque and angle", "yield"):
            self._friction(method)
        f_Z = add_embedding(Chain(self.case.sources), self.case)
        if f_Z is None:
            self.notes.append("embedding: neither f_Z nor Rz is stated, none is taken off")
        if self.case.eccentricity is not None:
            self.notes.append("the eccentricity is no part of the scatter: the load factor is that of a concentric "
                              "joint, and one-sided opening is not asked here; VDI 2230-1 R2 and R3 judge them")
        hot = thermal(self.case)
        if method in ("torque and angle", "stretch") or f_Z or hot or self.case.loads.F_A_max > 0:
            self._stiffness()
        self._losses(f_Z or 0.0, hot)
        together = ("mu_G", "mu_K", "K") if self.assume.friction_together else ()
        return Model(self.case, self.found, tuple(self.notes), together)

    def _check(self) -> None:
        case, limits = self.case, self.case.limits
        check_case(case)
        try:
            smallest_sections(case), bearing_faces(case)
        except ValueError as error:
            raise CaseError(f"bolt and bearing faces: {error}") from error
        if limits.required_preload is None and required_clamp(case) <= 0 and case.loads.F_A_max <= 0:
            raise CaseError("limits.required_preload: no load is asked of the joint; state it, or the working loads or "
                            "F_Kerf, so that too little can be told from enough")
        faces = case.layers[:1] + (case.layers[-1:] if case.through_bolt else ())
        if any(chamfered_slot(layer) for layer in faces):
            self.notes.append("surface pressure on a slotted hole with a chamfer is not a limit here")

    def _tool(self, method: str) -> None:
        tightening, assume = self.case.tightening, self.assume
        if not 0 <= tightening.tool_scatter < 1:
            raise CaseError(f"tightening.tool_scatter: a share from 0 to below 1, not {tightening.tool_scatter}")
        what = {"yield": "stop at yield: share of the load", "stretch": "measured elongation: share",
                "tension": "pull of the tensioner: share"}.get(method, "torque of the tool: share")
        why = f"limits {self.said('tightening.tool_scatter')}; taken as {assume.tool}"
        self.add(around("e_M", what, "1", assume.tool, 0.0, tightening.tool_scatter, why))
        if method == "torque and angle":
            if tightening.snug_torque is None or not 0 < tightening.snug_torque < math.inf:
                raise CaseError(f"tightening.snug_torque: torque and angle needs it, above zero, not "
                                f"{tightening.snug_torque}")
            self.add(around("e_phi", "angle", "rad", assume.angle, 0.0, tightening.angle_scatter,
                            f"limits {self.said('tightening.angle_scatter')}; taken as {assume.angle}"))
            self.notes.append("the turn is taken as elastic; a load above yield would come out smaller than said here")
        if method == "yield":
            self.add(Input("r_y", "yield strength over its lowest value", "1", "rectangular", 1.0,
                           (1 + assume.yield_high) / 2, assume.yield_high, COMMON))
        if method == "tension":
            loss = tightening.transfer_loss
            source = self.said("tightening.transfer_loss")
            if loss is None:
                loss = 1 - 1 / float(losses.transfer_factor_guide(self.case.bolt.thread.d, self.case.l_K))
                source = f"guide value 1.01 + d/l_K of pull over residual load, {COMMON}"
                self.notes.append(f"loss at the transfer from the tensioner by a {source}; a test replaces it")
            self._share("p_T", "load lost at the transfer to the nut", loss, assume.transfer, source)

    def _friction(self, method: str) -> None:
        case, assume, friction = self.case, self.assume, self.case.friction
        t, layer = case.bolt.thread, case.layers[0]
        for name, band in (("mu_G", friction.mu_G), ("mu_K", friction.mu_K), ("K", friction.K)):
            if band is not None and not band.high < 1:
                raise CaseError(f"friction.{name}: below 1, not {band.high}")
        taken = f"{friction.source}; band taken as {assume.friction}"
        self.add(must_be_positive(
            of_band("mu_G", "friction in the thread", "1", assume.friction, friction.mu_G, taken), "friction.mu_G"))
        self.add(around("d_2", "pitch diameter", "m", "rectangular", t.d2,
                        pitch_diameter_tolerance(t.d, t.P, t.system) / 2,
                        "tolerance of ISO 965-1 grade 6 or ASME B1.1 class 2A (from memory) around the basic size"))
        if method == "yield":
            return
        if friction.K is not None:
            self.add(must_be_positive(
                of_band("K", "nut factor", "1", assume.friction, friction.K, taken), "friction.K"))
            self.notes.append("the nut factor gives the load; friction in the thread only the torsion")
        else:
            self.add(must_be_positive(
                of_band("mu_K", "friction under the head", "1", assume.friction, friction.mu_K, taken),
                "friction.mu_K"))
            hole = max(layer.d_h, layer.chamfer or 0.0)
            try:
                mean = D_Km(case.bolt.d_w, hole)
            except ValueError as error:
                raise CaseError(f"bolt.d_w: {error}") from error
            self.add(around("D_Km", "friction diameter under the head", "m", "rectangular", mean,
                            assume.bearing * (case.bolt.d_w - hole), f"seat not quite even, {COMMON}"))
        drag = case.tightening.prevailing
        if drag.low < 0:
            raise CaseError(f"tightening.prevailing: a drag is not negative, not {drag.low} N.m")
        self.add(of_band("M_P", "prevailing torque", "N.m", assume.drag, drag,
                         f"{self.said('tightening.prevailing')}; band taken as {assume.drag}"))

    def _stiffness(self) -> None:
        why = f"VDI 2230-1 R3; +- {self.assume.stiffness:.0%}, {COMMON}"
        for symbol, name, value in (
            ("delta_S", "resilience of the bolt", bolt_resilience(self.case).total),
            ("delta_P", "resilience of the clamped parts", clamped_resilience(self.case).total),
        ):
            self.add(around(symbol, name, "m/N", "rectangular", value, value * self.assume.stiffness, why))

    def _share(self, symbol: str, name: str, value: float, width: float, source: str) -> None:
        if not 0 <= value < 1:
            raise CaseError(f"{symbol}: {name} is a share from 0 to below 1, not {value}")
        half = min(value * width, (1 - value) / 2)
        self.add(around(symbol, name, "1", "rectangular", value, half, f"{source}; +- {width:.0%} of it, {COMMON}"))

    def _losses(self, f_Z: float, hot: bool) -> None:
        case, assume = self.case, self.assume
        if f_Z:
            self.add(around("f_Z", "embedding", "m", "rectangular", f_Z, f_Z * assume.embedding,
                            f"{self.said('embedding.f_Z')}; +- {assume.embedding:.0%} of it, {COMMON}"))
        for symbol, name, value, field in (
            ("p_I", "elastic interaction with neighbours", case.elastic_interaction, "elastic_interaction"),
            ("p_R", "relaxation of bolt and parts", case.service.relaxation, "service.relaxation"),
            ("p_g", "relaxation of the gasket", 0.0 if case.gasket is None else case.gasket.relaxation,
             "gasket.relaxation"),
        ):
            if value:
                self._share(symbol, name, value, assume.relaxation, self.said(field))
        if hot:
            thermal_growth(case)  # says here what is missing, before anything is drawn
            modulus_ratio(case, "S"), modulus_ratio(case, "P")
            for symbol, name, T in (("T_S", "temperature of the bolt", case.service.T_S),
                                    ("T_P", "temperature of the parts", case.service.T_P)):
                half = assume.temperature if case.service.T_assembly != T else 0.0
                self.add(around(symbol, name, "degC", "rectangular", T, half,
                                f"stated; +- {half:g} K, {COMMON}"))
