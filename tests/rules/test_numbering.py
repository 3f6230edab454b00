"""Numbers as the workshop issues, prints, types and scans them."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.numbering import (
    NumberKind,
    Pattern,
    Verdict,
    format_number,
    next_sequence,
    read_number,
    right_number,
)
from invdb.terms import Refused

CHARACTERS = string.digits + string.ascii_uppercase

families = st.text(string.ascii_uppercase, min_size=2, max_size=4)
prefixes = st.one_of(st.sampled_from("TBP"), families)
numbers = st.builds(
    lambda prefix, after: next_sequence(prefix, after)[1], prefixes, st.integers(0, 2_000_000)
)


def test_a_house_number_is_letters_four_digits_and_a_check() -> None:
    sequence, number = next_sequence("LN", 411)
    assert sequence == 412
    assert number.startswith("LN0412-") and len(number) == 8


def test_the_check_is_the_standards_own() -> None:
    # ISO 7064 MOD 37,36 written out: start at 36; for each character add, fold at 36, double, fold at 37.
    check, body = 36, "LN0412"
    for character in body:
        check = (check + CHARACTERS.index(character)) % 36 or 36
        check = check * 2 % 37
    expected = CHARACTERS[(37 - check) % 36]
    assert format_number("LN", 412) == f"LN0412-{expected}"


@pytest.mark.parametrize(
    ("prefix", "shape"), [("T", "T00418-"), ("B", "B00418-"), ("P", "P00418-"), ("LN", "LN0418-")]
)
def test_tags_have_one_letter_and_five_digits(prefix: str, shape: str) -> None:
    assert (format_number(prefix, 418) or "").startswith(shape)


@given(prefixes, st.integers(0, 999_000))
def test_a_number_is_never_issued_with_the_check_o_or_i(prefix: str, after: int) -> None:
    sequence, number = next_sequence(prefix, after)
    assert number[-1] not in "OI"
    assert all(format_number(prefix, skipped) is None for skipped in range(after + 1, sequence))


def test_some_sequences_are_skipped() -> None:
    skipped = [n for n in range(1, 1000) if format_number("LN", n) is None]
    assert 30 < len(skipped) < 90


@given(numbers)
def test_every_single_wrong_character_is_caught(number: str) -> None:
    for place, true in enumerate(number):
        if true == "-":
            continue
        for wrong in CHARACTERS:
            reading = read_number(number[:place] + wrong + number[place + 1 :])
            if reading.verdict is Verdict.RIGHT:
                assert reading.number == number, f"{number} with {wrong} at {place} read as {reading.number}"


@pytest.mark.parametrize("prefix", ["LN", "LOI", "IOIO", "TO", "BI", "T", "B", "P"])
def test_every_single_wrong_character_is_caught_where_letters_look_like_digits(prefix: str) -> None:
    for after in (0, 9, 999, 1010, 9_999, 10_100, 11_110, 100_110):
        _, number = next_sequence(prefix, after)
        for place in range(len(number)):
            if number[place] == "-":
                continue
            for wrong in CHARACTERS:
                reading = read_number(number[:place] + wrong + number[place + 1 :])
                assert reading.verdict is not Verdict.RIGHT or reading.number == number


def test_nearly_all_swaps_of_neighbours_are_caught() -> None:
    swaps = missed = 0
    for prefix in ("LN", "DB", "CTW", "T", "B", "P"):
        after = 0
        for _ in range(300):
            after, number = next_sequence(prefix, after + 7)
            body = number.replace("-", "")
            for i in range(len(body) - 1):
                if body[i] == body[i + 1]:
                    continue
                swaps += 1
                typed = body[:i] + body[i + 1] + body[i] + body[i + 2 :]
                missed += read_number(typed).verdict is Verdict.RIGHT
    assert swaps > 5000
    assert missed / swaps < 0.01


@given(numbers)
def test_reading_is_the_reverse_of_issuing(number: str) -> None:
    reading = read_number(number)
    assert (reading.verdict, reading.number) == (Verdict.RIGHT, number)
    assert format_number(reading.prefix, reading.sequence) == number


@given(numbers)
def test_case_spaces_and_a_missing_dash_do_not_matter(number: str) -> None:
    body, check = number.split("-")
    prefix = body.rstrip(string.digits)
    digits = body[len(prefix) :]
    for typed in (
        number.lower(),
        f"  {number} ",
        body + check,
        f"{body} {check}",
        f"{prefix} {digits} {check}".lower(),
        f"{prefix}-{digits}-{check}",
        number.replace("-", "\u2013"),
        number.replace("-", " - "),
    ):
        assert read_number(typed).number == number
        assert read_number(typed).verdict is Verdict.RIGHT


@given(families, st.integers(0, 9_990))
def test_o_for_0_and_i_for_1_are_understood_among_the_digits_and_in_the_check(
    family: str, after: int
) -> None:
    _, number = next_sequence(family, after)
    typed = family + number[len(family) :].replace("0", "O").replace("1", "I")
    # A number of more than four digits may begin with 1, where I could be a letter: that is offered instead.
    if len(number) == len(family) + 6:
        assert read_number(typed).number == number
        assert read_number(typed).verdict is Verdict.RIGHT


def test_a_doubtful_look_alike_is_offered_and_never_taken() -> None:
    number = next_sequence("T", 417)[1]
    reading = read_number(number.replace("T00", "TO0"))
    assert reading.verdict is Verdict.MISTYPED
    assert number in reading.perhaps


def test_a_swap_is_offered_back() -> None:
    _, number = next_sequence("LN", 411)
    reading = read_number(number.replace("0412", "0142"))
    assert reading.verdict is Verdict.MISTYPED
    assert reading.number == number.replace("0412", "0142")
    assert reading.check_expected != reading.check == number[-1]
    assert number in reading.perhaps


def test_a_missing_check_is_mistyped_and_names_the_check_expected() -> None:
    reading = read_number("LN0412")
    assert reading.verdict is Verdict.MISTYPED
    assert reading.check == ""
    assert format_number("LN", 412) == f"LN0412-{reading.check_expected}"


@pytest.mark.parametrize(
    "typed",
    ["", " ", "valve", "PL/2231", "LN", "L0412-K", "ABCDE0412-K", "LN00412-K", "LN-04-12-K", "LN04 12-K"]
    + ["LN0000-K", "ЛН0412-K", "=LN0412-K", "LN0412--K", "LN" + "9" * 70, "T0417-", "\x00", "12345"],
)
def test_other_texts_are_not_numbers_of_ours(typed: str) -> None:
    assert read_number(typed).verdict is Verdict.OTHER


@given(st.text(max_size=80))
def test_any_text_can_be_read(typed: str) -> None:
    reading = read_number(typed)
    assert reading.typed == typed
    if reading.verdict is Verdict.RIGHT:
        assert read_number(reading.number).number == reading.number


@pytest.mark.parametrize(
    ("prefix", "kind"),
    [("LN", NumberKind.HOUSE), ("T", NumberKind.PIECE), ("B", NumberKind.BATCH), ("P", NumberKind.PULL)],
)
def test_the_kind_is_known_from_the_letters(prefix: str, kind: NumberKind) -> None:
    assert read_number(next_sequence(prefix, 30)[1]).kind is kind


def test_a_mistyped_number_is_refused_with_a_way_out() -> None:
    _, number = next_sequence("LN", 411)
    assert right_number(number.lower()) == number
    with pytest.raises(Refused, match="mistyped") as mistyped:
        right_number(number.replace("0412", "0142"))
    assert number in mistyped.value.remedy
    with pytest.raises(Refused, match="shape"):
        right_number("propeller")
    with pytest.raises(Refused, match="lacks its check"):
        right_number("LN0412")


def test_a_shop_may_set_its_own_pattern() -> None:
    pattern = Pattern(letters_min=3, letters_max=3, house_digits=6, tag_digits=6, separator="/", check=False)
    assert format_number("LNR", 412, pattern) == "LNR000412"
    assert read_number("lnr 000412", pattern).verdict is Verdict.RIGHT
    assert read_number("LN0412-K", pattern).verdict is Verdict.OTHER
    slashed = Pattern(separator="/")
    sequence, number = next_sequence("LN", 411, slashed)
    assert number[6] == "/"
    assert read_number(number, slashed).sequence == sequence
    assert read_number(number.replace("/", "-"), slashed).number == number


@given(
    st.integers(2, 4),
    st.integers(0, 4),
    st.integers(2, 7),
    st.integers(2, 7),
    st.sampled_from(["-", ".", "/", "_", ""]),
    st.data(),
)
def test_every_pattern_with_a_check_catches_every_single_wrong_character(
    least: int, more: int, house_digits: int, tag_digits: int, separator: str, data: st.DataObject
) -> None:
    pattern = Pattern(least, least + more, house_digits, tag_digits, separator)
    size = data.draw(st.integers(least, least + more))
    letters = st.text("OIAZ", min_size=size, max_size=size)
    prefix = data.draw(st.one_of(st.sampled_from("TBP"), letters))
    _, number = next_sequence(prefix, data.draw(st.integers(0, 10**8)), pattern)
    assert read_number(number, pattern).number == number
    place = data.draw(st.integers(0, len(number) - 1).filter(lambda i: number[i] != separator))
    wrong = data.draw(st.sampled_from(CHARACTERS))
    reading = read_number(number[:place] + wrong + number[place + 1 :], pattern)
    assert reading.verdict is not Verdict.RIGHT or reading.number == number


@pytest.mark.parametrize(
    "wrong",
    [
        {"letters_min": 1},
        {"letters_max": 9},
        {"letters_min": 4, "letters_max": 3},
        {"house_digits": 0},
        {"tag_digits": 13},
        {"separator": "--"},
        {"separator": "A"},
    ],
)
def test_a_pattern_that_cannot_be_read_back_is_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(Refused):
        Pattern(**wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize(("prefix", "sequence"), [("K", 1), ("ln", 1), ("LN", 0), ("LN", 10**12), ("", 1)])
def test_a_number_that_has_no_place_in_the_pattern_is_refused(prefix: str, sequence: int) -> None:
    with pytest.raises(Refused):
        format_number(prefix, sequence)
