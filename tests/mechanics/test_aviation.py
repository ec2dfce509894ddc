"""General aviation: the table of AC 43.13-1B, drag, castellated nuts, reused self-locking nuts."""

from __future__ import annotations

import dataclasses

import pytest

from evenpull import joint
from evenpull.catalogue import NotInCatalogue
from evenpull.catalogue.aviation import aviation_torques, least_drags
from evenpull.joint.case import (
    AviationInput,
    Bolt,
    CaseError,
    Counterpart,
    Friction,
    JointCase,
    Layer,
    Material,
    Tightening,
)
from evenpull.joint.rules import aviation
from evenpull.joint.traced import Band
from evenpull.quantities import to_si
from tests.mechanics.formulas import recompute

STEEL = Material("steel", 206e9, 11.5e-6)


def lbf_in(value: float) -> float:
    return to_si(value, "lbf.in", "torque")


def case(size: str = "1/4-28", **inputs: object) -> JointCase:
    thread = joint.thread(size)
    stated = {"nut": "tension", "drag": lbf_in(8), "oil_free_cadmium": True, **inputs}
    return JointCase(
        name="access panel, Kestrel Narrows crane helicopter",
        bolt=Bolt(thread=thread, strength=joint.strength("SAE J429 grade 8", joint.thread("1/4-28")), material=STEEL,
                  head="hexagon", d_w=1.5 * thread.d),
        counterpart=Counterpart(kind="nut", material=STEEL),
        layers=(Layer(name="panel", length=0.01, material=STEEL, d_h=1.05 * thread.d),),
        friction=Friction(mu_G=Band(0.1, 0.12, 0.16), mu_K=Band(0.1, 0.12, 0.16)),
        aviation=AviationInput(**stated),  # type: ignore[arg-type]
    )


def test_window_is_the_table_with_the_drag() -> None:
    result = aviation.apply(case())
    assert result.torque is not None and result.preload is None
    # AC 43.13-1B Table 7-1, 1/4-28 tension nut: 50 to 70 lbf.in, most 100; drag 8 lbf.in by hand
    assert result.torque.low == pytest.approx(lbf_in(58))
    assert result.torque.nominal == pytest.approx(lbf_in(68))
    assert result.torque.high == pytest.approx(lbf_in(78))
    assert result.by_symbol("T_lim").value == pytest.approx(lbf_in(108))
    assert not result.failed and not result.not_judged
    assert set(result.unused) == {"bolt.material", "bolt.head", "bolt.d_w", "counterpart.material", "layers",
                                  "friction.mu_G", "friction.mu_K"}


@pytest.mark.parametrize("inputs", [{}, {"castellated": True}, {"nut": "shear", "drag": None}])
def test_every_step_can_be_computed_again(inputs: dict[str, object]) -> None:
    for step in aviation.apply(case(**inputs)).steps:
        if "=" in step.formula:
            assert recompute(step.formula, step.inputs) == pytest.approx(step.value, rel=1e-12), step.symbol
        else:
            assert step.formula == "stated" or step.formula.startswith("Table 7-1")


def test_castellated_nut_begins_low_and_ends_at_the_high_value() -> None:
    window = aviation.apply(case(castellated=True)).torque
    assert window is not None
    assert (window.low, window.nominal, window.high) == pytest.approx((lbf_in(58), lbf_in(58), lbf_in(78)))


def test_stated_torque_is_judged_without_drag() -> None:
    for torque, failed in ((49.9, {"T_A"}), (50, set()), (70, set()), (70.1, {"T_A_high"})):
        stated = dataclasses.replace(case(), tightening=Tightening(torque=lbf_in(torque)))
        assert {check.symbol for check in aviation.apply(stated).failed} == failed


def test_reused_nut_against_the_least_drag() -> None:
    def drag_check(size: str, drag: float | None) -> object:
        used = dataclasses.replace(case(size, drag=None if drag is None else lbf_in(drag)),
                                   tightening=Tightening(reused=True))
        return next(check for check in aviation.apply(used).checks if check.symbol == "T_d").holds

    assert drag_check("1/2-20", 10) is True
    assert drag_check("1/2-20", 9.9) is False
    assert drag_check("1/2-20", None) is None
    assert drag_check("1/4-28", 10) is None  # the table starts at 7/16 in


def test_other_finishes_are_not_judged() -> None:
    (check,) = aviation.apply(case(oil_free_cadmium=False)).not_judged
    assert check.symbol == "finish" and "maker's torque" in check.text


def test_weak_bolt_fails_the_stress_of_the_column() -> None:
    grade_2 = joint.strength("SAE J429 grade 2", joint.thread("1/4-28"))
    weak = dataclasses.replace(
        case(), bolt=dataclasses.replace(case().bolt, strength=grade_2)
    )
    assert [check.symbol for check in aviation.apply(weak).failed] == ["R_p02"]


def test_no_one_nut_factor_reproduces_the_table() -> None:
    """The trap: middle values of tension nuts against 40 ksi in the bolt give factors from 0.13 to 0.23."""
    def K(size: str) -> float:
        thread = joint.thread(size)
        row = joint.aviation_torque(thread, "tension")
        load = to_si(40, "ksi", "stress") * thread.A_s
        return joint.nut_factor_from_test(joint.middle_of_range(row.low, row.high), load, thread.d)

    assert K("3/8-24") == pytest.approx(0.13, abs=0.005)
    assert K("7/16-20") == pytest.approx(0.23, abs=0.005)


def test_misprints_of_copies_are_not_taken_over() -> None:
    """An army generator manual copies Table 7-1 with 12 for 21 (10-24, shear, most) and 150 for 160 (3/8-16, low)."""
    assert joint.aviation_torque(joint.thread("#10-24"), "shear").most == pytest.approx(lbf_in(21))
    assert joint.aviation_torque(joint.thread("3/8-16"), "tension").low == pytest.approx(lbf_in(160))


def test_table_is_whole_and_consistent() -> None:
    rows = aviation_torques()
    assert len(rows) == 2 * 28
    for (key, nut), row in rows.items():
        assert 0 < row.low < row.high < row.most
        tension = rows[key, "tension"]
        if nut == "shear":  # shear nuts: about 60 % of the tension value, rounded (note of the table)
            assert row.most / tension.most == pytest.approx(0.6, abs=0.03)
            assert row.low / tension.low == pytest.approx(0.6, abs=0.04)
        assert joint.aviation_torque(joint.thread(row.thread), row.nut) is row
    for kind in ("prevailing", "breakaway"):
        for drag in least_drags(kind).values():  # type: ignore[arg-type]
            assert joint.least_drag(joint.thread(drag.thread), kind) is drag  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"aviation": None}, "aviation is not stated"),
        ({"tightening": Tightening(method="stretch")}, "tightening.method"),
        ({"tightening": Tightening(prevailing=Band(2.0, 2.5, 3.0))}, "outside tightening.prevailing"),
        ({"tightening": Tightening(prevailing=Band(-1.0, 0.0, 0.0))}, "tightening.prevailing"),
        ({"tightening": Tightening(torque=float("nan"))}, "tightening.torque"),
        ({"counterpart": Counterpart(kind="tapped hole", material=STEEL)}, "tapped hole"),
    ],
)
def test_what_the_document_does_not_cover(changed: dict[str, object], named: str) -> None:
    with pytest.raises(CaseError, match=named):
        aviation.apply(dataclasses.replace(case(), **changed))  # type: ignore[arg-type]


def test_threads_and_drags_outside() -> None:
    with pytest.raises(NotInCatalogue, match="1/4-28"):
        joint.aviation_torque(joint.thread("M6"), "tension")
    with pytest.raises(CaseError, match=r"bolt\.thread"):
        aviation.apply(dataclasses.replace(case(), bolt=dataclasses.replace(case().bolt, thread=joint.thread("M6"))))
    with pytest.raises(CaseError, match="drag"):
        aviation.apply(case(drag=-1.0))
    with pytest.raises(CaseError, match="drag"):
        aviation.apply(case(drag=float("nan")))
    with pytest.raises(ValueError, match="range"):
        joint.middle_of_range(3.0, 2.0)
