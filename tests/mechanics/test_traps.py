"""Mistakes that printed values of the trade invite, each shown with what it costs. Others stand with their topics."""

from __future__ import annotations

import pytest

from evenpull import instrument, joint


def torque_at_90_percent(size: str, cls: str, mu: float, d_w: float, d_h: float) -> float:
    thread = joint.thread(size)
    load = joint.F_M_zul(thread, joint.strength(cls, thread), mu)
    return float(joint.M_A(load, thread, mu, mu, joint.D_Km(d_w, d_h)))


def test_friction_diameter_from_the_bearing_face_and_not_from_the_spanner() -> None:
    """M8x1, class 10.9, mu 0.12: the table of VDI 2230-1 (2003) prints 38.3 N.m, with d_w 11.63 mm; the spanner size of
    13 mm in its place gives 39.6 (both computed again, source: tables of assembly preload and torque).
    """
    right = torque_at_90_percent("M8x1", "10.9", 0.12, 11.63e-3, 9e-3)
    wrong = torque_at_90_percent("M8x1", "10.9", 0.12, 13e-3, 9e-3)
    assert right == pytest.approx(38.3, rel=0.005)
    assert wrong == pytest.approx(39.6, rel=0.006)
    assert 0.02 < wrong / right - 1 < 0.045


def test_tables_of_other_editions_are_other_tables() -> None:
    """M10, class 8.8, mu 0.14: 54 N.m in the table of VDI 2230-1 (2003), 46 and 49 in older editions (from memory)."""
    ours = torque_at_90_percent("M10", "8.8", 0.14, 14.63e-3, 11e-3)
    assert ours == pytest.approx(54, rel=0.01)
    assert all(abs(ours / older - 1) > 0.08 for older in (46, 49))


def test_a_remembered_entry_that_the_formula_refutes() -> None:
    """M4, class 10.9, mu 0.12: 4.6 N.m is recalled from the table of VDI 2230-1 (2003) and not used: with d_w
    5.88 mm and a hole of 4.5 mm its own formulas R7 and R13 give 4.35 N.m.
    """
    ours = torque_at_90_percent("M4", "10.9", 0.12, 5.88e-3, 4.5e-3)
    assert ours == pytest.approx(4.35, rel=0.01)
    assert abs(ours / 4.6 - 1) > 0.04


def test_a_pipe_on_the_handle_changes_the_adapter_correction() -> None:
    """With an adapter of 100 mm on a lever of 400 mm the fastener gets 1.25 times what is set; with a pipe that moves
    the hand to 800 mm only 1.125 times, and the scale shows nothing of it (lever rule, FAA AC 43.13-1B fig. 7-2).
    """
    plain, piped = instrument.adapter_ratio(0.4, 0.1), instrument.adapter_ratio(0.8, 0.1)
    assert plain == pytest.approx(1.25)
    assert piped == pytest.approx(1.125)
    assert piped / plain == pytest.approx(0.9)
