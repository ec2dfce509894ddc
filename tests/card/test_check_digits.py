"""ISO/IEC 7064 check characters against published examples, and the two promises of a pure system.

The examples are from memory, not re-read; each names where it was published.
"""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenpull.card.check_digits import (
    ALPHANUMERIC,
    CheckCharacterError,
    as_number,
    mod_37_2,
    mod_37_2_valid,
    mod_97_10,
    mod_97_10_valid,
)

texts = st.text(ALPHANUMERIC, min_size=1, max_size=30)


def test_mod_97_10_of_the_standards_own_example() -> None:
    # ISO/IEC 7064, example for MOD 97-10: 794 -> 79444.
    assert mod_97_10("794") == "44"


@pytest.mark.parametrize(
    "iban",
    ["GB82WEST12345698765432", "DE89370400440532013000"],  # examples in the IBAN registry (ISO 13616)
)
def test_mod_97_10_of_account_numbers(iban: str) -> None:
    body = iban[4:] + iban[:2]
    assert mod_97_10(body) == iban[2:4]
    assert as_number(body + iban[2:4]) % 97 == 1


@pytest.mark.parametrize("lei", ["5493001KJTIIGC8Y1R12", "7ZW8QJWVPR4P1J1KQY45"])
def test_mod_97_10_of_legal_entity_identifiers(lei: str) -> None:
    # Entries of the public index of ISO 17442.
    assert mod_97_10(lei[:-2]) == lei[-2:]
    assert mod_97_10_valid(lei)


def test_mod_37_2_of_a_donation_number() -> None:
    # ISBT 128 standard, donation identification number G1234 89 654321 with check character Y.
    assert mod_37_2("G123489654321") == "Y"
    assert mod_37_2_valid("G123489654321Y")


@given(texts)
def test_check_characters_make_a_text_valid(text: str) -> None:
    assert mod_97_10_valid(text + mod_97_10(text))
    assert mod_37_2_valid(text + mod_37_2(text))


@given(texts, st.data())
def test_each_wrong_character_is_found(text: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(text) - 1))
    other = data.draw(st.sampled_from(ALPHANUMERIC))
    assume(other != text[place])
    wrong = text[:place] + other + text[place + 1 :]
    assert not mod_37_2_valid(wrong + mod_37_2(text))
    # MOD 97-10 promises this for digits; of letters only where digit strings of equal length are compared.
    if text[place].isdigit() == other.isdigit():
        assert not mod_97_10_valid(wrong + mod_97_10(text))


@given(texts, st.data())
def test_each_swap_of_neighbours_is_found(text: str, data: st.DataObject) -> None:
    assume(len(text) > 1)
    place = data.draw(st.integers(0, len(text) - 2))
    assume(text[place] != text[place + 1])
    wrong = text[:place] + text[place + 1] + text[place] + text[place + 2 :]
    assert not mod_37_2_valid(wrong + mod_37_2(text))
    if text[place].isdigit() and text[place + 1].isdigit():
        assert not mod_97_10_valid(wrong + mod_97_10(text))


@pytest.mark.parametrize(("text", "position"), [("AB-1", 3), ("é", 1), ("", 0), ("a", 1)])
def test_a_character_outside_the_system_is_named(text: str, position: int) -> None:
    for function in (mod_97_10, mod_37_2):
        with pytest.raises(CheckCharacterError) as error:
            function(text)
        assert error.value.position == position
