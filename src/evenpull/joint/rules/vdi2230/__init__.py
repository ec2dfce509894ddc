"""High-duty bolted joint, one bolt: VDI 2230 part 1, steps R0 to R13 with every intermediate result."""

from __future__ import annotations

from evenpull.catalogue.tables import NotInCatalogue
from evenpull.joint.case import CaseError, JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check, RuleResult, RuleSet
from evenpull.joint.rules.stated import unused
from evenpull.joint.rules.vdi2230.fatigue import add_fatigue
from evenpull.joint.rules.vdi2230.loads import add_changes, add_need, add_preloads, add_size, add_tightening_factor
from evenpull.joint.rules.vdi2230.service import add_pressure, add_working_stress
from evenpull.joint.rules.vdi2230.slip import add_engagement, add_slip, separated
from evenpull.joint.rules.vdi2230.stiffness import add_stiffness
from evenpull.joint.rules.vdi2230.tightening import add_permissible, add_torque
from evenpull.joint.rules.vdi2230.wish import add_stated_aim
from evenpull.joint.sane import positive, refuse_senseless
from evenpull.joint.traced import Band

RULE_SET = RuleSet(
    "vdi2230",
    "High-duty bolted joint, one bolt",
    "VDI 2230 part 1, 2015 (2003 in its tables of tightening factors, friction and embedding)",
    "all equations and guide values were recalled and not re-read; the assembly preloads and torques agree with 162 "
    "printed table values, the cone with a numerical integration",
    "one cylindrical bolt, steel of class 8.8 to 12.9 or stated strength, temperatures near room temperature unless "
    "moduli and strength are stated; eccentric joints by the one-bolt beam model",
)

_USED = (
    "bolt.thread", "bolt.strength", "bolt.material", "bolt.head", "bolt.d_w", "bolt.sections", "bolt.d_i",
    "bolt.length", "counterpart.kind", "counterpart.material", "counterpart.engagement", "counterpart.d_w",
    "counterpart.nut_proof_stress", "layers", "gasket.stiffness", "gasket.thickness", "gasket.E", "gasket.area",
    "gasket.source", "friction.mu_G", "friction.mu_K", "friction.lubricant", "friction.source", "friction.status",
    "tightening.method", "tightening.alpha_A", "tightening.tool_scatter", "tightening.torque",
    "tightening.preload", "tightening.angle", "tightening.angle_scatter", "tightening.snug_torque",
    "tightening.prevailing",
    "tightening.source", "loads", "service.T_assembly", "service.T_S", "service.T_P", "service.E_S_ratio",
    "service.E_P_ratio", "service.R_p02_ratio", "embedding", "eccentricity", "limits.nu", "limits.S_F", "limits.S_D",
    "limits.S_G", "limits.S_P", "limits.S_A",
)


def apply(case: JointCase) -> RuleResult:
    """The chain R0 to R13. CaseError names the field at fault or missing; what a step cannot judge is a check that is
    not judged, with the reason.
    """
    refuse_senseless(case)
    for name in ("mu_G", "mu_K"):
        positive(getattr(case.friction, name).low, f"friction.{name}")
    chain, checks = Chain(case.sources), list[Check]()
    try:
        add_size(chain, case)
        add_tightening_factor(chain, case)
        add_need(chain, case)
        notes, eccentric = add_stiffness(chain, case)
        notes += add_changes(chain, case)
        add_preloads(chain, case)
        checks += add_permissible(chain, case)
        checks += add_working_stress(chain, case)
        checks += add_fatigue(chain, case, eccentric)
        checks += add_pressure(chain, case)
        checks += add_engagement(chain, case)
        checks += add_slip(chain, case)
        checks += add_torque(chain, case)
        checks += add_stated_aim(chain, case)
        checks = separated(chain, checks)
    except (CaseError, NotInCatalogue):
        raise
    except ValueError as error:
        raise CaseError(f"VDI 2230-1: {error}") from error
    preload, torque, more = _window(chain)
    return RuleResult(RULE_SET, chain.groups(), tuple(checks), preload, torque, unused=unused(case, _USED),
                      notes=(*notes, *more, *_left_out(case)))


def _window(chain: Chain) -> tuple[Band | None, Band | None, tuple[str, ...]]:
    least, most = chain["F_M_min"], chain["F_M_zul"]
    if least > most:
        text = ("the least assembly preload that the joint needs is more than the bolt may have: no preload satisfies "
                "both; a larger bolt, a higher class or smaller losses are needed")
        return None, None, (text,)
    torque = None
    if "M_A" in chain and chain["M_least"] <= chain["M_set"]:
        torque = Band(chain["M_least"], chain["M_set"], chain["M_set"])
    notes = () if torque is not None or "M_A" not in chain else (
        "no torque keeps the least preload at the highest friction and the permissible one at the lowest: narrow the "
        "friction, or measure angle or elongation",
    )
    return Band(least, most, most), torque, notes


def _left_out(case: JointCase) -> tuple[str, ...]:
    notes = []
    if case.service.relaxation or case.elastic_interaction or (case.gasket is not None and case.gasket.relaxation):
        notes.append("relaxation in service, of the gasket, and the loss to neighbours pulled later are no part of R5; "
                     "the spread of the load counts them")
    return tuple(notes)
