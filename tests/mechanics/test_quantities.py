"""Reading, printing and suspecting values with units."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenpull.quantities import (
    Kind,
    UnitError,
    canonical_unit,
    from_si,
    in_words,
    kind_of,
    measured,
    parse,
    show,
    si_unit,
    to_si,
    unit_shown,
    unit_slips,
    units_for,
)
from evenpull.quantities.units import UNITS

KINDS: tuple[Kind, ...] = tuple(UNITS)
units = st.sampled_from([(kind, unit) for kind in KINDS for unit in units_for(kind)])
values = st.floats(-1e6, 1e6, allow_nan=False).map(lambda value: float(f"{value:.6g}"))


@given(units, values)
def test_to_si_and_back(pair: tuple[Kind, str], value: float) -> None:
    kind, unit = pair
    assert from_si(to_si(value, unit, kind), unit) == pytest.approx(value, rel=1e-9, abs=1e-9)
    assert kind_of(unit) == kind


@given(units, values)
def test_what_is_shown_can_be_read_again(pair: tuple[Kind, str], value: float) -> None:
    kind, unit = pair
    assume(value == 0 or abs(value) > 1e-3)
    read = parse(show(to_si(value, unit, kind), unit, digits=8), kind)
    assert read.unit == unit
    assert read.value == pytest.approx(value, rel=1e-6, abs=1e-6)


@given(units, values)
def test_source_text_is_kept_untouched(pair: tuple[Kind, str], value: float) -> None:
    kind, unit = pair
    text = f"  {value!r}   {unit} "
    read = parse(text, kind)
    assert read.text == text and str(read) == text
    assert (read.value, read.unit, read.kind) == (value, unit, kind)


@given(st.sampled_from(KINDS), st.text(max_size=12))
def test_any_text_is_a_value_or_a_clear_error(kind: Kind, text: str) -> None:
    try:
        read = parse(text, kind)
    except UnitError as error:
        assert repr(text) in str(error)
        assert all(unit in str(error) for unit in units_for(kind))
    else:
        assert math.isfinite(read.si)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("90 N.m", "torque", 90), ("90 Nm", "torque", 90), ("90 N·m", "torque", 90), ("90 NM", "torque", 90),
        ("90N m", "torque", 90), ("0.09 kNm", "torque", 90), ("12 in-lb", "torque", 12 * 0.1129848290276167),
        ("66 lbf.ft", "torque", 66 * 1.3558179483314004), ("66 ft.lbf", "torque", 66 * 1.3558179483314004),
        ("66 ft-lbs", "torque", 66 * 1.3558179483314004), ("66 foot-pounds", "torque", 66 * 1.3558179483314004),
        ("9 kgf.m", "torque", 88.25985), ("12 mm", "length", 0.012), ("3/4 in", "length", 0.01905),
        ("1-1/8 in", "length", 0.028575), ("1 1/8 in", "length", 0.028575), ('5/8"', "length", 0.015875),
        ("30 deg", "angle", math.pi / 6), ("30°", "angle", math.pi / 6), ("0.25 turn", "angle", math.pi / 2),
        ("800 MPa", "stress", 8e8), ("800 N/mm²", "stress", 8e8), ("85 ksi", "stress", 85 * 6894757.293168361),
        ("140 kN", "force", 1.4e5), ("20 °C", "temperature", 293.15), ("68 F", "temperature", 293.15),
        ("5 dN.m", "torque", 0.5), ("5 daNm", "torque", 50), ("5 m.daN", "torque", 50), ("5 DAN.M", "torque", 50),
        ("1 kip-ft", "torque", 1355.8179483314004), ("90 kgf.mm", "torque", 0.8825985), ("3 daN", "force", 30),
        ("2 tf", "force", 19613.3), ("5 thou", "length", 127e-6), ("5 mil", "length", 127e-6),
        ("40 kgf/mm²", "stress", 392.266e6), ("60 kgf/cm2", "stress", 5883990), ("2 lbm", "mass", 0.90718474),
        ("−5 °C", "temperature", 268.15), ("245 mm2", "area", 245e-6), ("1.5e2 N.m", "torque", 150),
    ],
)
def test_spellings(text: str, kind: Kind, si: float) -> None:
    """Exact definitions: lb = 0.45359237 kg, g = 9.80665 m/s2, in = 25.4 mm (BIPM SI Brochure, NIST SP 811)."""
    assert parse(text, kind).si == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("90", "torque", "unit is missing"), ("", "torque", "nothing"), ("N.m", "torque", "begin with a number"),
        ("90 mm", "torque", "mm is a unit of length"), ("90 furlong", "length", "'furlong' is not known"),
        ("1,25 N.m", "torque", "decimal point"), ("1'250 N.m", "torque", "without grouping"),
        ("12 13 mm", "length", "more than one number"), ("1/0 in", "length", "divides by zero"),
        ("nan N.m", "torque", "begin with a number"), ("1e999 N", "force", "too large"),
        ("5 mPa", "stress", "'mPa' is not known"), ("5 MNM", "torque", "'MNM' is not known"),
        ("12 M", "length", "not known"), ("5 DNM", "torque", "not known"),
        ("5 ton", "force", "not known"), ("5 m.N.m", "torque", None),
    ],
)
def test_errors_name_what_is_wrong_and_what_is_allowed(text: str, kind: Kind, message: str | None) -> None:
    if message is None:  # the dots are separators: "m.N.m" is millinewton metre, written oddly but in one way only
        assert parse(text, kind).unit == "mN.m"
        return
    with pytest.raises(UnitError, match=message) as caught:
        parse(text, kind)
    assert caught.value.text == text
    assert caught.value.allowed == units_for(kind)


def test_default_unit_only_when_asked_for() -> None:
    assert parse("90", "torque", default_unit="lbf.ft").unit == "lbf.ft"
    assert parse("90 N.m", "torque", default_unit="lbf.ft").unit == "N.m"


def test_no_two_units_of_a_kind_share_a_spelling() -> None:
    from evenpull.quantities.units import _compact

    for kind, kinds_units in UNITS.items():
        seen: dict[str, str] = {}
        for unit in kinds_units:
            for spelling in (unit.name, *unit.spellings):
                assert seen.setdefault(_compact(spelling), unit.name) == unit.name, (kind, spelling)
            assert canonical_unit(unit.name.upper() if not unit.strict else unit.name, kind) == unit.name


def test_measured_refuses_what_is_not_finite() -> None:
    assert measured(90, "Nm", "torque").text == "90 N.m"
    with pytest.raises(UnitError, match="not finite"):
        measured(math.nan, "N.m", "torque")


@pytest.mark.parametrize(
    ("si", "unit", "digits", "text"),
    [
        (350.0, "N.m", 4, "350 N·m"), (258.04, "N.m", 4, "258 N·m"), (0.0123456, "N.m", 4, "0.01235 N·m"),
        (12345.6, "N", 4, "12346 N"), (136731.27, "kN", 4, "136.7 kN"), (0.0, "kN", 4, "0 kN"),
        (-0.00001, "N", 1, "-0.00001 N"), (math.pi / 6, "deg", 4, "30°"), (293.15, "degC", 4, "20 °C"),
        (0.018, "mm", 4, "18 mm"), (100.0, "lbf.ft", 3, "73.8 lbf·ft"),
    ],
)
def test_show(si: float, unit: str, digits: int, text: str) -> None:
    assert show(si, unit, digits) == text


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (258, "N.m", "two hundred and fifty-eight newton metres"), (1, "N.m", "one newton metre"),
        (92.75, "lbf.ft", "ninety-two point seven five pound-force feet"), (0.5, "kN", "zero point five kilonewtons"),
        (1450, "N.m", "one thousand, four hundred and fifty newton metres"), (-3, "deg", "minus three degrees"),
        (66.0, "lbf.in", "sixty-six pound-force inches"),
    ],
)
def test_in_words(value: float, unit: str, words: str) -> None:
    assert in_words(value, unit) == words


def test_unit_shown_is_for_print_only() -> None:
    assert unit_shown("lbf.ft") == "lbf·ft"
    with pytest.raises(UnitError):
        unit_shown("Nm")


@given(
    st.floats(1, 2000),
    st.sampled_from([("N.m", "lbf.ft"), ("lbf.ft", "N.m"), ("lbf.ft", "lbf.in"), ("lbf.in", "lbf.ft"),
                     ("N.m", "lbf.in"), ("lbf.in", "N.m"), ("N.m", "kgf.m"), ("kgf.m", "N.m"), ("N.cm", "N.m")]),
    st.floats(0.01, 0.12),
)
def test_a_unit_slip_is_found(target: float, pair: tuple[str, str], half: float) -> None:
    """A right number in `meant`, read in `taken`, is suspected whenever it falls outside the window."""
    taken, meant = pair
    wrong = to_si(from_si(target, meant), taken, "torque")
    found = unit_slips(wrong, target * (1 - half), target * (1 + half))
    assert (taken, meant) in [(slip.written_as, slip.meant) for slip in found]
    only = unit_slips(wrong, target * (1 - half), target * (1 + half), written_as=taken)
    assert {slip.written_as for slip in only} == {taken}
    for slip in found:
        assert target * (1 - half) <= wrong * slip.factor <= target * (1 + half)
        assert "suspected" in slip.text


def test_the_factors_of_the_trade() -> None:
    """1,000 lbf.in = 83.3 lbf.ft = 113.0 N.m; 42 lbf.ft = 504 lbf.in (computed from the exact definitions)."""
    assert from_si(to_si(1000, "lbf.in", "torque"), "lbf.ft") == pytest.approx(83.3, abs=0.05)
    assert to_si(1000, "lbf.in", "torque") == pytest.approx(113.0, abs=0.05)
    assert from_si(to_si(42, "lbf.ft", "torque"), "lbf.in") == pytest.approx(504)


def test_no_slip_is_suspected_inside_the_window_or_without_an_explanation() -> None:
    assert unit_slips(90, 85, 95) == ()
    assert unit_slips(50, 85, 95) == ()
    assert unit_slips(math.nan, 85, 95) == ()
    assert unit_slips(-66, 85, 95) == ()
    with pytest.raises(ValueError, match="window"):
        unit_slips(66, 95, 85)


def test_every_kind_has_its_si_unit_first_or_named() -> None:
    for kind in KINDS:
        assert to_si(1.0, si_unit(kind), kind) == 1.0


def test_every_name_that_a_package_offers_is_there() -> None:
    import evenpull.catalogue
    import evenpull.instrument
    import evenpull.joint
    import evenpull.quantities
    import evenpull.statistics

    for package in (evenpull.catalogue, evenpull.instrument, evenpull.joint, evenpull.quantities, evenpull.statistics):
        missing = [name for name in package.__all__ if not hasattr(package, name)]
        assert missing == [], package.__name__
