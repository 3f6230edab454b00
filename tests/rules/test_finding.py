"""What is typed and what is recorded are normalised alike, and one typing slip is undone."""

from __future__ import annotations

import random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from invdb.rules.finding import (
    QUERY_JOINED_MAX,
    QUERY_WORDS_MAX,
    TEXT_LENGTH_MAX,
    TEXT_WORDS_MAX,
    WORD_LENGTH_MAX,
    Sought,
    name_words,
    number_words,
    own_number_words,
    prefix_range,
    readings,
)
from invdb.rules.finding import (
    one_slip as slips_of,
)

typed_text = st.text(max_size=60)
number_text = st.from_regex(r"[A-Z0-9]{1,5}([-/. ][A-Z0-9]{1,4}){0,3}", fullmatch=True)
name_text = st.from_regex(r"[a-z]{1,9}( [a-z]{1,9}){0,3}", fullmatch=True)


def fits_word(sought: Sought, word: str) -> bool:
    return word in sought.forms or any(low <= word < high for low, high in sought.beginnings)


def fits(query: str, words: set[str]) -> bool:
    return any(
        all(any(fits_word(sought, word) for word in words) for sought in reading.words)
        for reading in readings(query)
    )


def fits_exactly(query: str, words: set[str]) -> bool:
    return any(all(sought.forms & words for sought in reading.words) for reading in readings(query))


@pytest.mark.parametrize(
    "typed",
    [
        "LN0412-K",
        "ln0412k",
        "LN 0412 K",
        "ln-0412-k",
        "LN412K",
        "lno4i2k",
        " LN0412‑K ",
        "LN0412",
        "LN",
        "LN0",
    ]
    + ["LN04", "412", "0412", "412-K", "O412", "LN 412"],
)
def test_a_house_number_is_found_however_it_is_typed(typed: str) -> None:
    assert fits(typed, own_number_words("LN0412-K"))


@pytest.mark.parametrize("typed", ["LN0413-K", "LN4012-K", "N0412", "NL0412", "4120", "LNK", "K"])
def test_another_number_is_not_taken_for_it(typed: str) -> None:
    assert not fits(typed, own_number_words("LN0412-K"))


@pytest.mark.parametrize(
    "typed", ["PW/1204-7", "pw12047", "PW 1204 7", "1204", "12047", "1204/7", "7 1204 pw"]
)
def test_a_makers_number_is_found_whole_and_by_its_segments(typed: str) -> None:
    assert fits(typed, number_words("PW/1204-7"))
    assert fits_exactly(typed, number_words("PW/1204-7"))


@pytest.mark.parametrize(
    "typed", ["C-04-02", "c0402", "C-4-2", "c4-2", "C 4 2", "C-O4-O2", "2 C 4", "C-04-0"]
)
def test_a_bin_is_found_with_and_without_its_zeros(typed: str) -> None:
    assert fits(typed, number_words("C-04-02"))


@pytest.mark.parametrize(
    "typed", ["PI0031-C", "PI31", "pi031", "P10031", "PIOO3I", "PIO031C", "p1 31", "PI0", "PI00"]
)
def test_family_letters_that_look_like_digits_do_not_hide_a_number(typed: str) -> None:
    assert fits(typed, own_number_words("PI0031-C"))


@pytest.mark.parametrize("typed", ["RO0012-X", "RO12", "ro 12 x", "R0012", "RO0", "rooo12"])
def test_family_letters_that_look_like_zeros_do_not_hide_a_number(typed: str) -> None:
    assert fits(typed, own_number_words("RO0012-X"))


@pytest.mark.parametrize(
    "typed", ["oil", "OIL SEAL", "seal oil", "0il", "oi", "o", "oilseal", "oil-seal", "sea oi"]
)
def test_words_made_of_look_alikes_are_still_words(typed: str) -> None:
    assert fits(typed, name_words("Oil seal, front"))


@pytest.mark.parametrize(
    "typed", ["M8x1.25-6g", "m8x1256g", "nut m8x1.25", "M8", "1.25", "6g nut", "M8x1.25"]
)
def test_a_size_in_a_name_is_found_as_it_is_written(typed: str) -> None:
    assert fits(typed, name_words("Nut M8x1.25-6g, plain"))


def test_zeros_typed_so_far_wait_for_digits_and_not_for_letters() -> None:
    assert fits("T000", own_number_words("T00417-5"))
    assert fits("0", own_number_words("T00417-5"))
    assert not fits("T000", name_words("Two tappets"))


def test_each_letter_more_narrows_what_a_word_finds() -> None:
    assert fits("pist", name_words("Pistil"))
    assert not fits("pisto", name_words("Pistil"))
    assert fits("pisto", name_words("Piston"))


@pytest.mark.parametrize("typed", ["tab washer", "tab-washer", "tabwasher", "washer tab", "TAB WASH"])
@pytest.mark.parametrize("name", ["Tab washer", "Tab-washer", "Tabwasher"])
def test_compounds_are_found_in_each_of_their_spellings(typed: str, name: str) -> None:
    if name == "Tabwasher" and typed == "washer tab":
        assert not fits(typed, name_words(name))
    else:
        assert fits(typed, name_words(name))


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("kolbenstossel", "Kolbenstößel"),
        ("KOLBENSTÖSSEL", "Kolbenstößel"),
        ("genicka", "Génïčka"),
        ("tornqvist", "Törnqvist"),
        ("soren", "Søren"),
        ("lodz", "Łódź"),
        ("клапан выпускной", "Выпускно́й КЛАПАН"),
        ("выпускнои", "Выпускной"),
        ("βαλβιδα", "Βαλβίδα"),
        ("ΒΑΛΒΙΔΑΣ", "βαλβίδας"),
        ("25", "²⁵"),
        ("417", "٤١٧"),
    ],
)
def test_case_and_accents_do_not_matter_in_any_script(typed: str, name: str) -> None:
    assert fits_exactly(typed, name_words(name))


@given(number_text)
def test_a_number_is_found_without_its_separators_and_in_small_letters(number: str) -> None:
    words = number_words(number)
    plain = "".join(character for character in number if character.isalnum())
    assert fits_exactly(number, words)
    assert fits_exactly(plain.lower(), words)
    if len(plain) <= QUERY_JOINED_MAX:
        assert fits_exactly(" ".join(plain), words)


@given(number_text, st.data())
def test_every_beginning_of_a_number_finds_it(number: str, data: st.DataObject) -> None:
    beginning = number[: data.draw(st.integers(1, len(number)))]
    assert fits(beginning, number_words(number))


@given(number_text)
def test_zeros_typed_as_o_and_ones_typed_as_i_are_understood(number: str) -> None:
    plain = "".join(character for character in number if character.isalnum())
    assume(any(character in "23456789" for character in plain))
    assert fits(plain.replace("1", "I"), number_words(number))


@given(st.from_regex(r"[A-HJ-NP-Z]{2,4}", fullmatch=True), st.integers(1, 9999), st.integers(1, 3))
def test_leading_zeros_do_not_matter(letters: str, sequence: int, more: int) -> None:
    words = own_number_words(f"{letters}{sequence:04d}-K")
    assert fits_exactly(f"{letters}{sequence}", words)
    assert fits_exactly(f"{letters}{'0' * more}{sequence:04d}", words)
    assert fits_exactly(f"{letters}-{'O' * more}{sequence:04d}", words)


@given(name_text, st.randoms(use_true_random=False))
def test_words_may_be_typed_in_any_order(name: str, shuffle: random.Random) -> None:
    typed = name.split()
    shuffle.shuffle(typed)
    assert fits(" ".join(typed), name_words(name))


@given(typed_text)
def test_whatever_is_recorded_is_found_as_it_stands(text: str) -> None:
    assume(readings(text) and not readings(text)[-1].cut)
    assert fits_exactly(text, name_words(text) | number_words(text))


@given(st.text(max_size=400))
def test_all_sizes_are_bounded(text: str) -> None:
    for words in (name_words(text), number_words(text), own_number_words(text)):
        assert len(words) < TEXT_WORDS_MAX + 4
        assert all(0 < len(word) <= WORD_LENGTH_MAX for word in words)
        assert all(character.isalnum() for word in words for character in word)
    for query in readings(text):
        assert 0 < len(query.words) <= QUERY_WORDS_MAX
        for sought in query.words:
            assert all(len(word) <= WORD_LENGTH_MAX for word in sought.forms)
            assert all(len(low) <= WORD_LENGTH_MAX and low < high for low, high in sought.beginnings)


def test_nothing_is_looked_for_twice() -> None:
    assert len(readings("exhaust valve")) == len(readings("LN0412-K")) == len(readings("valve")) == 1
    assert [reading.typed for reading in readings("LN 0412 K")] == [("ln0412k",), ("ln", "0412", "k")]
    assert [reading.typed for reading in readings("tab-washer 7/b")] == [
        ("tabwasher", "7b"),
        ("tab", "washer", "7b"),
    ]


def test_what_is_left_out_of_a_long_query_is_said() -> None:
    assert not readings("one two three four five six seven eight")[0].cut
    assert readings("one two three four five six seven eight nine")[0].cut
    assert readings("a" * (TEXT_LENGTH_MAX + 1))[0].cut
    assert [reading.cut for reading in readings("ab-c-d-e-f-g-h-i-jkl")] == [False, True]


@pytest.mark.parametrize("typed", ["", "   ", "--", "\x00", "\ud800", "⁂ … !"])
def test_nothing_worth_looking_for_gives_no_words(typed: str) -> None:
    assert readings(typed) == ()


@given(st.text(st.characters(categories=["L", "Nd"]), min_size=1, max_size=8), st.text(max_size=8))
def test_a_prefix_range_holds_just_what_begins_so(prefix: str, other: str) -> None:
    low, high = prefix_range(prefix)
    assert low <= prefix + other < high
    assert (low <= other < high) == other.startswith(prefix)


@given(st.one_of(number_text, name_text), typed_text)
def test_the_ranges_of_a_word_hold_just_what_fits_it(text: str, other: str) -> None:
    for sought in readings(text)[-1].words:
        ranges = sought.ranges()
        assert all(first[1] <= second[0] for first, second in zip(ranges, ranges[1:], strict=False))
        for word in name_words(other) | sought.forms | {form + "7" for form in sought.forms}:
            assert any(low <= word < high for low, high in ranges) == fits_word(sought, word)


def undone(typed: str) -> frozenset[str]:
    return frozenset[str]().union(*(slip.words for slip in slips_of(typed)))


@st.composite
def one_slip(draw: st.DrawFn, text: str) -> str:
    characters = "abcdefghijklmnopqrstuvwxyz0123456789"
    at = draw(st.integers(0, len(text) - 1))
    how = draw(st.sampled_from(["missing", "too many", "wrong", "swapped"]))
    if how == "missing":
        return text[:at] + text[at + 1 :]
    if how == "too many":
        return text[:at] + draw(st.sampled_from(characters)) + text[at:]
    if how == "wrong":
        return text[:at] + draw(st.sampled_from(characters)) + text[at + 1 :]
    return text[:at] + text[at + 1 : at + 2] + text[at] + text[at + 2 :]


@given(st.from_regex(r"([a-z]{2}[0-9]{4}[a-z]|[a-z]{4,9})", fullmatch=True), st.data())
def test_any_one_slip_is_undone(right: str, data: st.DataObject) -> None:
    typed = data.draw(one_slip(right))
    assert number_words(right) & (undone(typed) | readings(typed)[0].words[0].forms)


@given(st.from_regex(r"[a-z0]{2}[0-9io]{2,5}[a-z]?", fullmatch=True))
def test_what_may_have_been_meant_begins_as_was_typed_before_the_slip(typed: str) -> None:
    for slip in slips_of(typed):
        assert all(any(low <= word < high for low, high in slip.beginnings) for word in slip.words)


def test_two_slips_are_not_undone() -> None:
    assert "exhaust" in undone("exhuast")
    assert "exhaust" not in undone("exhuats")


def test_a_slip_in_another_script_is_undone() -> None:
    assert "клапан" in undone("клаан")
    assert "βαλβιδα" in undone("βαλβδα")


def test_what_is_too_short_has_no_slips() -> None:
    assert undone("ln") == set()
