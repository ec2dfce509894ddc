"""Card serials: made, read, and what a wrong one could have been."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenpull.card.serial import (
    CARD_NUMBERS,
    TOKEN_CHARACTERS,
    SerialError,
    joint_check_character,
    make_serial,
    parse_serial,
)

numbers = st.integers(0, CARD_NUMBERS - 1)
joints = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{1,20}[A-Za-z0-9]", fullmatch=True)


@given(joints, numbers)
def test_a_serial_reads_back(joint: str, number: int) -> None:
    serial = parse_serial(make_serial(joint, number))
    assert (serial.joint, serial.number) == (joint, number)


def test_neighbouring_numbers_do_not_look_alike() -> None:
    tokens = [parse_serial(make_serial("KN-CW-014", n)).token for n in range(2000)]
    assert len(set(tokens)) == 2000
    assert all(sum(a != b for a, b in zip(x, y, strict=True)) >= 2 for x, y in pairwise(tokens))


@given(numbers, st.data())
def test_one_misread_character_is_refused_and_the_true_serial_is_among_the_corrections(
    number: int, data: st.DataObject
) -> None:
    true = make_serial("KN-CW-014", number)
    place = data.draw(st.sampled_from([i for i, c in enumerate(true) if c != "-"]))
    characters = "0123456789" if place >= len(true) - 2 else TOKEN_CHARACTERS
    other = data.draw(st.sampled_from(characters))
    assume(other != true[place])
    assume(other.isdigit() == true[place].isdigit())
    with pytest.raises(SerialError) as error:
        parse_serial(true[:place] + other + true[place + 1 :])
    assert true in [c.serial for c in error.value.corrections]


@given(numbers, st.data())
def test_a_swap_in_the_token_is_explained(number: int, data: st.DataObject) -> None:
    true = make_serial("KN-CW-014", number)
    place = len("KN-CW-014-") + data.draw(st.integers(0, 2))
    assume(true[place] != true[place + 1])
    wrong = true[:place] + true[place + 1] + true[place] + true[place + 2 :]
    try:
        parse_serial(wrong)
    except SerialError as error:
        assert true in [c.serial for c in error.corrections]
    else:
        # A letter weighs two digits in MOD 97-10, so a swap of letter and digit is found in 96 of 97 cases only.
        assert true[place].isdigit() != true[place + 1].isdigit()


def test_issued_serials_leave_one_correction() -> None:
    issued = [make_serial("KN-CW-014", n) for n in range(40)]
    wrong = issued[7].replace("KN-CW-014-4", "KN-CW-014-A")
    assert wrong != issued[7]
    with pytest.raises(SerialError) as error:
        parse_serial(wrong, known=issued)
    assert [c.serial for c in error.value.corrections] == [issued[7]]
    assert "character 11 'A' read as '4'" in str(error.value)


def test_a_letter_that_no_token_has_is_named_by_its_place() -> None:
    true = make_serial("KN-CW-014", 7)
    with pytest.raises(SerialError, match="character 12 is 'O'"):
        parse_serial(true[:11] + "O" + true[12:])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the form is"),
        ("KN", "the form is"),
        ("KN-CW-014-477-06", "3 characters instead of 4"),
        ("KN-CW-014-477X-6", "1 characters instead of 2"),
        ("KN-CW-014-477X-O6", "which the check digits cannot hold"),
        ("KN CW 014 477X 06", "the form is"),
        ("KN-CW-014-477X-07", "do not fit"),
    ],
)
def test_a_bad_serial_says_why(text: str, words: str) -> None:
    with pytest.raises(SerialError, match=words):
        parse_serial(text)


def test_small_letters_and_spaces_around_are_forgiven() -> None:
    true = make_serial("KN-CW-014", 7)
    token = parse_serial(true).token
    assert parse_serial(f"  {true.replace(token, token.lower())}\n").text == true


@pytest.mark.parametrize("joint", ["", "a", "KN CW", "-KN", "Größe", "#1"])
def test_no_serial_for_an_id_that_could_not_be_read_back(joint: str) -> None:
    with pytest.raises(ValueError):
        make_serial(joint, 1)


@pytest.mark.parametrize("number", [-1, CARD_NUMBERS])
def test_numbers_are_limited(number: int) -> None:
    with pytest.raises(ValueError, match="outside"):
        make_serial("KN-CW-014", number)


@pytest.mark.parametrize("other", ["KN-CW-041", "KN-CW-017", "KN-WC-014", "KN-CW-O14"])
def test_ids_that_are_easily_mixed_up_have_another_check_character(other: str) -> None:
    assert joint_check_character(other) != joint_check_character("KN-CW-014")
