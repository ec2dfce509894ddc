"""The steps of the textbook stiffness (Shigley sections 8-4 and 8-5) in a chain, for the rule sets that use it."""

from __future__ import annotations

import math

from evenpull.joint.case import JointCase
from evenpull.joint.chain import Chain
from evenpull.joint.springs.frusta import HALF_ANGLE
from evenpull.joint.springs.members import TextbookStiffness, textbook_stiffness

BOOK = "Shigley"


def add_stiffness(chain: Chain, case: JointCase) -> TextbookStiffness:
    """Adds l, l_d, l_t, A_d, A_t, E_b, k_b, the frusta k_1, k_2, ..., k_m and C. CaseError names a field at fault."""
    found = textbook_stiffness(case)
    chain.add("d", "nominal diameter", case.bolt.thread.d, "m", case.bolt.thread.designation, chain.said("bolt.thread"),
              "stated")
    _stress_area(chain, case)
    chain.add("E_b", "modulus of the bolt", found.E, "Pa", "stated", chain.said("bolt.material"))
    _grip(chain, case, found)
    _bolt(chain, case, found)
    names: list[str] = []
    for number, frustum in enumerate(found.frusta, start=1):
        n = str(number)
        k = f"k_{n}"
        names.append(k)
        wide = f"2 t_{n} tan(alpha) + D_{n}"
        chain.add(
            k, f"frustum {n}", frustum.k, "N/m",
            f"{k} = pi E_{n} d tan(alpha) / ln(({wide} - d) (D_{n} + d) / (({wide} + d) (D_{n} - d)))",
            f"{BOOK} eq. 8-19 and 8-20, half angle 30 deg",
            inputs={f"E_{n}": frustum.E, f"D_{n}": frustum.D, f"t_{n}": frustum.t, "d": chain["d"],
                    "alpha": HALF_ANGLE},
        )
    if found.k_g is not None:
        chain.add("k_g", "gasket as a spring", found.k_g, "N/m", "gasket of this joint", chain.said("gasket"), "stated")
        names.append("k_g")
    total = " + ".join(f"1 / {name}" for name in names)
    chain.add("k_m", "stiffness of the members", found.k_m, "N/m", f"k_m = 1 / ({total})", f"{BOOK} eq. 8-18",
              inputs=chain.get(*names))
    chain.add("C", "joint constant, the bolt's share", found.C, "1", "C = k_b / (k_b + k_m)", f"{BOOK} eq. 8-24",
              inputs=chain.get("k_b", "k_m"))
    return found


def _stress_area(chain: Chain, case: JointCase) -> None:
    thread, name = case.bolt.thread, "tensile stress area"
    if thread.system == "metric":
        formula, source = "A_t = pi / 4 ((d_2 + d_3) / 2)^2", "ISO 898-1"
        value, inputs = math.pi / 4 * ((thread.d2 + thread.d3) / 2) ** 2, {"d_2": thread.d2, "d_3": thread.d3}
    else:
        formula, source = "A_t = pi / 4 (d - 0.9743 P)^2", "ASME B1.1"
        value, inputs = math.pi / 4 * (thread.d - 0.9743 * thread.P) ** 2, {"d": thread.d, "P": thread.P}
    if math.isclose(value, thread.A_s, rel_tol=1e-9):
        chain.add("A_t", name, thread.A_s, "m2", formula, source, inputs=inputs)
    else:  # a thread that is no standard one
        chain.add("A_t", name, thread.A_s, "m2", "stated", chain.said("bolt.thread"))


def _grip(chain: Chain, case: JointCase, found: TextbookStiffness) -> None:
    if case.through_bolt:
        chain.add("l", "grip, everything squeezed", found.grip, "m", "sum of the layers", chain.said("layers"),
                  "stated")
        return
    chain.add("h", "all that is squeezed above the tapped part", case.l_K, "m", "sum of the layers",
              chain.said("layers"), "stated")
    t_2 = case.counterpart.engagement
    inputs = chain.get("h", "d")
    if t_2 is not None and t_2 < chain["d"]:
        chain.add("t_2", "thickness of the tapped part", t_2, "m", "stated", chain.said("counterpart.engagement"))
        chain.add("l", "effective grip", found.grip, "m", "l = h + t_2 / 2", f"{BOOK} Table 8-7",
                  inputs=chain.get("h", "t_2"))
    else:
        chain.add("l", "effective grip", found.grip, "m", "l = h + d / 2", f"{BOOK} Table 8-7", inputs=inputs)


def _bolt(chain: Chain, case: JointCase, found: TextbookStiffness) -> None:
    source = f"{BOOK} eq. 8-17"
    if found.l_d <= 0:
        chain.add("k_b", "stiffness of the bolt, threaded all along", found.k_b, "N/m", "k_b = A_t E_b / l", source,
                  inputs=chain.get("A_t", "E_b", "l"))
        return
    chain.add("l_d", "unthreaded length in the grip", found.l_d, "m", "sum of the sections",
              chain.said("bolt.sections"), "stated")
    chain.add("l_t", "threaded length in the grip", found.l_t, "m", "l_t = l - l_d", f"{BOOK} Table 8-7",
              inputs=chain.get("l", "l_d"))
    sections = case.bolt.sections
    if len(sections) == 1:
        one = sections[0]
        chain.add("A_d", "area of the shank", found.A_d, "m2", "A_d = pi / 4 (d_s^2 - d_i^2)", f"{BOOK} Table 8-7",
                  inputs={"d_s": one.d, "d_i": one.d_i})
    else:
        parts, inputs = [], chain.get("l_d")
        for number, one in enumerate(sections, start=1):
            parts.append(f"l_s{number} / A_s{number}")
            inputs |= {f"l_s{number}": one.length, f"A_s{number}": math.pi / 4 * (one.d**2 - one.d_i**2)}
        chain.add("A_d", "area that stretches like the sections one after the other", found.A_d, "m2",
                  f"A_d = l_d / ({' + '.join(parts)})", "sections in series, elastic", inputs=inputs)
    chain.add("k_b", "stiffness of the bolt", found.k_b, "N/m", "k_b = A_d A_t E_b / (A_d l_t + A_t l_d)", source,
              inputs=chain.get("A_d", "A_t", "E_b", "l_t", "l_d"))
