"""The way of one joint's load from the tool to service, loss by loss, each step with formula and source."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenpull import catalogue
from evenpull.joint.case import AMBIENT, CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.sane import refuse_senseless
from evenpull.joint.service import losses
from evenpull.joint.springs.stiffness import bolt_resilience, clamped_resilience
from evenpull.joint.traced import Traced

R4 = "VDI 2230-1 R4 (from memory)"
NEAR_AMBIENT = 30.0  # K; within it the modulus of steel moves by less than 1 % (common practice, no source)


@dataclass(frozen=True, slots=True)
class Loss:
    """One fall of the load: `loss` in N (negative: a gain), `after` the load that is left."""

    symbol: str
    name: str
    loss: float
    after: float


@dataclass(frozen=True, slots=True)
class Residual:
    """From `start` (the load put in) to `end` (in service), N; `loose` when the losses would take more than there is,
    `end` is 0 then.
    """

    start: float
    end: float
    losses: tuple[Loss, ...]
    steps: tuple[Traced, ...]
    notes: tuple[str, ...]
    loose: bool

    def by_symbol(self, symbol: str) -> Traced:
        for step in self.steps:
            if step.symbol == symbol:
                return step
        raise KeyError(symbol)


@dataclass(frozen=True, slots=True)
class EmbeddingCount:
    threads: int
    faces: int
    interfaces: int


def embedding_count(case: JointCase) -> EmbeddingCount:
    """How often each kind of face embeds: engaged threads (two for a stud), bearing faces of head and nut, inner
    interfaces (layers less one where not stated; a gasket takes the place of one and is outside the table).

    CaseError for a negative number of interfaces.
    """
    stated = case.embedding.inner_interfaces
    if stated is not None and stated < 0:
        raise CaseError(f"embedding.inner_interfaces: 0 or more, not {stated}")
    found = len(case.layers) - 1 - (0 if case.gasket is None else 1) if stated is None else stated
    stud = case.bolt.head.casefold().startswith("stud")
    nuts = 1 if case.through_bolt else 0
    return EmbeddingCount(2 if stud else 1, 1 + nuts, max(found, 0))


def add_embedding(chain: Chain, case: JointCase) -> float | None:
    """Adds f_Z to the chain, from the case or from the table; gives it in m, None when the case states nothing.

    CaseError for a value that is no depth, or a roughness outside the table.
    """
    given = case.embedding
    if given.f_Z is not None:
        if not 0 <= given.f_Z < math.inf:
            raise CaseError(f"embedding.f_Z: a depth of 0 or more in m, not {given.f_Z}")
        return chain.add("f_Z", "embedding", given.f_Z, "m", "stated", chain.said("embedding.f_Z"))
    if given.Rz is None:
        return None
    try:
        row = catalogue.embedding(given.Rz, given.loading)
    except catalogue.NotInCatalogue as error:
        raise CaseError(f"embedding: {error}") from error
    count = embedding_count(case)
    for symbol, name, depth in (
        ("f_G", "embedding of an engaged thread", row.thread),
        ("f_K", "embedding of a bearing face", row.face),
        ("f_I", "embedding of an inner interface", row.inner),
    ):
        chain.add(symbol, name, depth, "m", f"Rz {row.Rz} um, {row.loading} load", row.source, row.status)
    for symbol, name, number in (
        ("n_G", "engaged threads", count.threads), ("n_K", "bearing faces of head and nut", count.faces),
        ("n_I", "inner interfaces", count.interfaces),
    ):
        chain.add(symbol, name, number, "1", "counted from the layers of the joint", "the case", "stated")
    inputs = chain.get("n_G", "f_G", "n_K", "f_K", "n_I", "f_I")
    return chain.add(
        "f_Z", "embedding",
        losses.embedding_depth(row.thread, row.face, row.inner, count.threads, count.faces, count.interfaces), "m",
        "f_Z = n_G f_G + n_K f_K + n_I f_I", row.source, "memory", inputs=inputs,
    )


def modulus_ratio(case: JointCase, part: str) -> float:
    """E at temperature over E at room temperature of bolt ("S") or parts ("P"). CaseError when it is needed and not
    stated: farther than 30 K from room temperature nothing is assumed.
    """
    ratio = case.service.E_S_ratio if part == "S" else case.service.E_P_ratio
    T = case.service.T_S if part == "S" else case.service.T_P
    if not math.isfinite(T) or T < -273.15:
        raise CaseError(f"service.T_{part}: {T} degC is no temperature")
    if ratio is None:
        if abs(T - AMBIENT) <= NEAR_AMBIENT:
            return 1.0
        raise CaseError(
            f"service.E_{part}_ratio: at {T:g} degC the modulus differs from that at {AMBIENT:g} degC; state the ratio "
            "(1 when the moduli are to be taken as constant)"
        )
    if not 0 < ratio < 2:
        raise CaseError(f"service.E_{part}_ratio: modulus at temperature over that at room temperature, above 0 and "
                        f"below 2, not {ratio}")
    return ratio


def thermal_growth(case: JointCase) -> tuple[float, float]:
    """Free growth in m of the bolt's clamped length and of the clamped parts, each layer with its own expansion.

    A gasket is taken to keep its thickness (its expansion is not known). CaseError when an expansion is missing.
    """
    service = case.service
    dT_S, dT_P = service.T_S - service.T_assembly, service.T_P - service.T_assembly
    bolt = 0.0
    if dT_S:
        if case.bolt.material.alpha is None:
            raise CaseError(f"bolt.material.alpha: {case.bolt.material.name} states no expansion; none is assumed")
        bolt = case.l_K * case.bolt.material.alpha * dT_S
    parts = 0.0
    if dT_P:
        for number, layer in enumerate(case.layers, start=1):
            if layer.material.alpha is None:
                raise CaseError(f"layers[{number}].material.alpha: {layer.material.name} states no expansion; none is "
                                "assumed")
            parts += layer.length * layer.material.alpha * dT_P
    return bolt, parts


def add_growth(chain: Chain, case: JointCase) -> tuple[float, float]:
    """Adds the free growths u_S and u_P to the chain and gives them in m. CaseError when an expansion is missing."""
    bolt, parts = thermal_growth(case)
    service, layers = case.service, list(enumerate(case.layers, start=1))
    hot = {"T_A": service.T_assembly}
    if bolt == 0.0:
        chain.add("u_S", "free growth of the bolt in the grip", 0.0, "m", "none at unchanged temperature", R4)
    else:
        chain.add(
            "u_S", "free growth of the bolt in the grip", bolt, "m", "u_S = l_K alpha_S (T_S - T_A)", R4, "memory",
            inputs={"l_K": case.l_K, "alpha_S": case.bolt.material.alpha or 0.0, "T_S": service.T_S, **hot},
        )
    if parts == 0.0:
        chain.add("u_P", "free growth of the parts", 0.0, "m", "none at unchanged temperature", R4)
    else:
        sizes = {f"l_{number}": layer.length for number, layer in layers}
        expansions = {f"alpha_{number}": layer.material.alpha or 0.0 for number, layer in layers}
        each = " + ".join(f"l_{number} alpha_{number}" for number, _ in layers)
        chain.add(
            "u_P", "free growth of the parts", parts, "m", f"u_P = ({each}) (T_P - T_A)", R4, "memory",
            inputs={**sizes, **expansions, "T_P": service.T_P, **hot},
        )
    return bolt, parts


def thermal(case: JointCase) -> bool:
    """Whether temperature changes the load at all: it differs from assembly, or a modulus ratio is stated."""
    service = case.service
    moved = {service.T_S, service.T_P} != {service.T_assembly}
    return moved or service.E_S_ratio not in (None, 1.0) or service.E_P_ratio not in (None, 1.0)


def residual(case: JointCase, F: float) -> Residual:
    """What is left in service of the load F (N) put in: transfer of a tensioner (F is what it pulls then), elastic
    interaction, embedding, relaxation of bolt and parts, relaxation of the gasket, temperature. Working loads are not
    part of it.

    What the case does not state is no loss, and `notes` says so. CaseError names the field at fault.
    """
    refuse_senseless(case, pushed=True)
    if not 0 < F < math.inf:
        raise CaseError(f"preload: a load above 0 in N, not {F}")
    return _Fall(case, F).run()


class _Fall:
    """The load on its way down, with its steps."""

    def __init__(self, case: JointCase, F: float) -> None:
        self.case, self.chain = case, Chain(case.sources)
        self.symbol = "F_M"
        self.F = self.chain.add("F_M", "load put in", F, "N", "stated", case.sources.get("preload", "asked for"))
        self.found: list[Loss] = []
        self.notes: list[str] = []

    def run(self) -> Residual:
        start = self.F
        tightening = self.case.tightening
        if tightening.method == "tension":
            if tightening.transfer_loss is None:
                self.notes.append("tightening.transfer_loss is not stated: none is taken off")
            else:
                self._share("p_T", "transfer from the tensioner to the nut", tightening.transfer_loss, "F_T",
                            "tightening.transfer_loss")
        self._share("p_I", "elastic interaction with neighbours", self.case.elastic_interaction, "F_I",
                    "elastic_interaction")
        self._embedding()
        self._share("p_R", "relaxation of bolt and parts", self.case.service.relaxation, "F_R", "service.relaxation")
        if self.case.gasket is not None:
            self._share("p_g", "relaxation of the gasket", self.case.gasket.relaxation, "F_g", "gasket.relaxation")
        self._temperature()
        loose = self.F <= 0
        end = self.chain.add(
            "F_res", "load left in service", max(self.F, 0.0), "N", f"F_res = max({self.symbol}, 0)",
            "a bolt cannot push", inputs={self.symbol: self.F},
        )
        if loose:
            self.notes.append("the losses take all of the load: the joint is loose in service")
        return Residual(start, end, tuple(self.found), tuple(self.chain.steps), tuple(self.notes), loose)

    def _fall(self, symbol: str, name: str, after_symbol: str, loss: float, after: float, formula: str,
              source: str, inputs: dict[str, float]) -> None:
        before = {self.symbol: self.F}
        self.chain.add(after_symbol, f"load after {name}", after, "N", formula, source, inputs={**before, **inputs})
        self.found.append(Loss(symbol, name, loss, after))
        self.symbol, self.F = after_symbol, after

    def _share(self, symbol: str, name: str, share: float, after_symbol: str, field: str) -> None:
        if share == 0:
            return
        try:
            after = float(losses.after_share(self.F, share))
        except ValueError as error:
            raise CaseError(f"{field}: {error}") from error
        self.chain.add(symbol, f"share lost: {name}", share, "1", "stated", self.chain.said(field))
        self._fall(symbol, name, after_symbol, self.F - after, after, f"{after_symbol} = {self.symbol} (1 - {symbol})",
                   "share of the load", {symbol: share})

    def _stiffness(self) -> tuple[float, float]:
        chain = self.chain
        if "delta_S" not in chain:
            S, P = bolt_resilience(self.case).total, clamped_resilience(self.case).total
            chain.add("delta_S", "resilience of the bolt", S, "m/N", "sum of the pieces of the bolt",
                      "VDI 2230-1 R3 (from memory)")
            chain.add("delta_P", "resilience of the clamped parts", P, "m/N", "deformation cones in layers",
                      "VDI 2230-1 R3 (from memory)")
        return chain["delta_S"], chain["delta_P"]

    def _embedding(self) -> None:
        f_Z = add_embedding(self.chain, self.case)
        if f_Z is None:
            self.notes.append("embedding: neither f_Z nor Rz is stated, none is taken off")
            return
        if self.case.gasket is not None and self.case.embedding.f_Z is None:
            self.notes.append("the faces of the gasket are outside the embedding table; its own relaxation counts")
        if f_Z == 0:
            return
        S, P = self._stiffness()
        loss = self.chain.add(
            "F_Z", "loss by embedding", losses.F_Z(f_Z, S, P), "N", "F_Z = f_Z / (delta_S + delta_P)", R4, "memory",
            inputs=self.chain.get("f_Z", "delta_S", "delta_P"),
        )
        self._fall("F_Z", "embedding", "F_E", loss, self.F - loss, f"F_E = {self.symbol} - F_Z", R4, {"F_Z": loss})

    def _temperature(self) -> None:
        if not thermal(self.case):
            return
        bolt, parts = thermal_growth(self.case)
        r_S, r_P = modulus_ratio(self.case, "S"), modulus_ratio(self.case, "P")
        if self.case.gasket is not None:
            self.notes.append("thermal growth of the gasket is not known and taken as none")
        S, P = self._stiffness()
        chain = self.chain
        add_growth(chain, self.case)
        for symbol, ratio, part in (("r_S", r_S, "bolt"), ("r_P", r_P, "parts")):
            chain.add(symbol, f"modulus of the {part} at temperature over that at 20 degC", ratio, "1", "stated",
                      chain.said(f"service.E_{symbol[-1]}_ratio"))
        delta_T = chain.add(
            "delta_T", "resilience at temperature", losses.delta_at_temperature(S, P, r_S, r_P), "m/N",
            "delta_T = delta_S / r_S + delta_P / r_P", R4, "memory",
            inputs=chain.get("delta_S", "r_S", "delta_P", "r_P"),
        )
        before = max(self.F, 0.0)  # a loose joint has no load that softer parts could lose
        loss = losses.dF_Vth(before, bolt - parts, S, P, r_S, r_P)
        first = self.symbol if before == self.F else f"max({self.symbol}, 0)"
        chain.add(
            "dF_Vth", "loss by temperature (a gain negative)", loss, "N",
            f"dF_Vth = {first} (1 - (delta_S + delta_P) / delta_T) + (u_S - u_P) / delta_T", R4, "memory",
            inputs={self.symbol: self.F, **chain.get("delta_S", "delta_P", "u_S", "u_P"), "delta_T": delta_T},
        )
        self._fall("dF_Vth", "temperature", "F_th", loss, self.F - loss, f"F_th = {self.symbol} - dF_Vth", R4,
                   {"dF_Vth": loss})
