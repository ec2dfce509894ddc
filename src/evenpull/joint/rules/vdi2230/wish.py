"""What the case states as its aim, a preload or an angle, against the window of R5 and R7."""

from __future__ import annotations

from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.result import Check
from evenpull.joint.rules.vdi2230.demands import at_least, at_most
from evenpull.joint.tightening.torque_angle import angle_window

R7 = "VDI 2230-1 R5, R7"


def add_stated_aim(chain: Chain, case: JointCase) -> list[Check]:
    """A stated preload with the scatter of its tool, or the load of a stated angle over friction and tool (elastic)."""
    t = case.tightening
    checks: list[Check] = []
    if t.preload is not None:
        s = t.tool_scatter if t.method in ("tension", "stretch") else 0.0
        F = chain.add("F_stated", "stated assembly preload", t.preload, "N", "stated",
                      chain.said("tightening.preload"))
        chain.add("s_F", "scatter of the load put in", s, "1", "stated", chain.said("tightening.tool_scatter"))
        high = chain.add("F_stated_max", "highest load put in", F * (1 + s), "N", "F_stated_max = F_stated (1 + s_F)",
                         "corner case of the tool", inputs=chain.get("F_stated", "s_F"))
        low = chain.add("F_stated_min", "lowest load put in", F * (1 - s), "N", "F_stated_min = F_stated (1 - s_F)",
                        "corner case of the tool", inputs=chain.get("F_stated", "s_F"))
        checks += _within(chain, "F_stated", "stated preload", low, high)
    if t.method == "torque and angle" and t.angle is not None and t.snug_torque is not None:
        load = angle_window(case).load
        for key, words, value in (("min", "lowest", load.low), ("max", "highest", load.high)):
            chain.add(f"F_turn_{key}", f"{words} load of the stated angle", value, "N",
                      "elastic line from the snug torque, corner case of friction and tool",
                      "VDI 2230-1 R13 and R3, from memory")
        checks += _within(chain, "F_turn", "load of the stated angle", load.low, load.high)
    return checks


def _within(chain: Chain, symbol: str, name: str, low: float, high: float) -> list[Check]:
    return [
        at_least(f"{symbol}_min", f"{name}, lowest, against the least one", low, chain["F_M_min"], "N", R7),
        at_most(f"{symbol}_max", f"{name}, highest, against the permissible one", high, chain["F_M_zul"], "N", R7),
    ]
