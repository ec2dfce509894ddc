"""Cautions of a calculated joint follow from what the file says, and each names hazard, stop and who decides."""

from __future__ import annotations

from evenpull.calculation import read_calculation
from evenpull.calculation.cautions import caution_words, cautions_of
from tests.calculation.files import changed, plain


def keys(text: str) -> set[str]:
    return {c.key for c in cautions_of(read_calculation(text, "t.toml").case)}


def test_a_plain_joint_has_none_and_each_trait_brings_its_own() -> None:
    assert keys(plain()) == set()
    assert keys(changed(plain(), 'class = "8.8"', 'class = "12.9"')) == {"hydrogen"}
    assert keys(changed(plain(), 'torque = "70 N.m"', 'method = "tension"')) == {"tensioner"}
    assert keys(changed(plain(), 'torque = "70 N.m"', 'prevailing = "4 N.m"')) == {"self-locking nut"}
    assert "pressure joint" in keys(plain() + '[gasket]\nstiffness = "900 kN/mm"\nbasis = "T"\n')


def test_words_name_hazard_stop_and_who_decides() -> None:
    text = changed(plain(), 'torque = "70 N.m"', 'method = "yield"')
    (said,) = caution_words(read_calculation(text, "t.toml").case)
    assert " Stop " in said and "Who decides:" in said
