"""What two records of one line of a card say, compared field by field."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from evenpull.intake import Tightening, read_bytes, read_mapping
from evenpull.intake.content import ABOUT_TYPING, differences, typed
from evenpull.intake.fields import FIELDS
from evenpull.intake.keyed import KEYED_MAPPING, keyed_file
from evenpull.intake.record import Particular
from tests.intake.test_keyed import GOOD

MAPPING = read_mapping(KEYED_MAPPING, "typed.toml")


def record(**cells: str) -> Tightening:
    given = GOOD | {"counter": "", "tool": ""} | {name.replace("_", " "): text for name, text in cells.items()}
    return read_bytes(keyed_file([given]), MAPPING, "typed.csv").tightenings[0]


def names(one: Tightening, other: Tightening) -> list[str]:
    return [name for name, _, _ in differences(one, other)]


def test_who_typed_it_is_no_content() -> None:
    assert FIELDS.keys() >= ABOUT_TYPING
    one, other = record(), record(keyed_by="M. Tolland", basis="did it", why_late="the card was found later")
    assert one.raw_sha256 != other.raw_sha256 and names(one, other) == []
    assert one.source == other.source == "card C-0117/2/4" and one.key != other.key and typed(one)


def test_each_field_that_differs_is_named_with_both_texts() -> None:
    assert differences(record(), record(torque="95.00")) == (("torque", "90.50 lbf.ft", "95.00 lbf.ft"),)
    assert differences(record(), record(angle="")) == (("angle", "28", "not stated"),)
    assert names(record(), record(fastener="4", operator="K. Brill")) == ["fastener", "operator"]
    lot = replace(record(), particulars=record().particulars | {"bolt_lot": Particular("L-77")})
    assert differences(lot, record()) == (("bolt lot", "L-77", "not stated"),)


def test_what_names_a_line() -> None:
    assert record(card_line="007", card_serial=" c-0117 ").source == "card C-0117/2/7"
    assert record(**{"pass": ""}).source == "card C-0117//4"
    assert record(tool="TW-1", counter="9").source == "TW-1//9"
    assert record(tool="TW-1").source == "card C-0117/2/4"
    loose = record(card_serial="", card_line="", basis="did it", why_late="no card")
    assert loose.card_line is None and loose.source == f"{loose.file_sha256[:16]}/2"
    for one in (loose, record(tool="TW-1", counter="9")):
        assert one.former_key == one.key
    assert record().former_key == f"{record().file_sha256[:16]}/2/{record().raw_sha256[:16]}"


@given(st.decimals(0, 10_000, places=3), st.integers(0, 4), st.booleans())
def test_numbers_are_compared_as_numbers(value: object, zeros: int, millis: bool) -> None:
    text = f"{value:f}"  # type: ignore[str-bytes-safe]
    one = record(torque=text, torque_unit="N.m")
    other = record(torque=f"{value * 1000:f}" if millis else text + "0" * zeros,  # type: ignore[operator]
                   torque_unit="N.mm" if millis else "N.m")  # fmt: skip
    assert names(one, other) == []
    assert names(one, record(torque=f"{float(text) + 0.01:.3f}", torque_unit="N.m")) == ["torque"]
