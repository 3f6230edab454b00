"""Numbers of our own: house numbers, tags and pull numbers, each with its check character.

``LN0412-K`` is family letters, a sequence number padded with zeros, a separator and the check character of
ISO 7064 MOD 37,36 over letters and digits. A number whose check would be O or I is never issued. Piece tags
(``T00417-5``), batch tags (``B00031-A``) and pull numbers (``P00012-9``) have the same shape with a single
letter, so they never collide with a house number.

With the check on, every single wrong letter or digit is caught and nearly all swaps of two neighbours; a
dropped or doubled character, or a letter typed for the separator, is caught only mostly.
"""

from __future__ import annotations

import itertools
import re
import unicodedata
from dataclasses import dataclass, replace
from enum import StrEnum

from stdnum.iso7064 import mod_37_36

from invdb.terms import Refused

TEXT_LENGTH_MAX = 64
DIGITS_MAX = 12
LETTERS_MAX = 8
SEPARATORS = "-./_"

_UNISSUED_CHECKS = frozenset("OI")
_SKIPS_MAX = 64
_TO_DIGIT = str.maketrans("OI", "01")
_DASHES = re.compile("[\u2010-\u2015\u2212]")
_BODY = re.compile(r"([A-Z]+)([0-9]+)")


class NumberKind(StrEnum):
    """What a number of ours names."""

    HOUSE = "house number"
    PIECE = "piece tag"
    BATCH = "batch tag"
    PULL = "pull number"
    WORK = "work order number"
    ENQUIRY = "enquiry number"
    ORDER = "order number"
    LOAN = "loan number"


TAG_LETTERS = {
    NumberKind.PIECE: "T",
    NumberKind.BATCH: "B",
    NumberKind.PULL: "P",
    NumberKind.WORK: "W",
    NumberKind.ENQUIRY: "E",
    NumberKind.ORDER: "D",
    NumberKind.LOAN: "L",
}
_KIND_BY_LETTER = {letter: kind for kind, letter in TAG_LETTERS.items()}


@dataclass(frozen=True)
class Pattern:
    """The shape of a shop's numbers.

    ``letters_min`` to ``letters_max`` family letters (at least two, so that tags stay apart),
    ``house_digits`` and ``tag_digits`` the least number of digits, ``separator`` one of ``- . / _`` or
    nothing, ``check`` whether a check character ends the number. Without it no wrong character is caught.
    """

    letters_min: int = 2
    letters_max: int = 4
    house_digits: int = 4
    tag_digits: int = 5
    separator: str = "-"
    check: bool = True

    def __post_init__(self) -> None:
        if not 2 <= self.letters_min <= self.letters_max <= LETTERS_MAX:
            raise Refused(
                f"Family letters from {self.letters_min} to {self.letters_max} cannot be used.",
                f"Give a least and a most between 2 and {LETTERS_MAX}.",
            )
        for digits in (self.house_digits, self.tag_digits):
            if not 1 <= digits <= DIGITS_MAX:
                raise Refused(f"{digits} digits cannot be used.", f"Give between 1 and {DIGITS_MAX} digits.")
        if len(self.separator) > 1 or self.separator not in SEPARATORS:
            raise Refused(
                f"The separator {self.separator!r} cannot be used.",
                f"Use one of {' '.join(SEPARATORS)} or none.",
            )

    def digits_of(self, prefix: str) -> int:
        """Least number of digits behind this prefix."""
        return self.tag_digits if len(prefix) == 1 else self.house_digits

    def kind_of(self, prefix: str) -> NumberKind | None:
        """What a number with this prefix names, or None if the pattern has no such prefix."""
        if prefix in _KIND_BY_LETTER:
            return _KIND_BY_LETTER[prefix]
        fits = self.letters_min <= len(prefix) <= self.letters_max and re.fullmatch("[A-Z]+", prefix)
        return NumberKind.HOUSE if fits else None


OUR_PATTERN = Pattern()


class Verdict(StrEnum):
    """What reading a typed number came to."""

    RIGHT = "right"
    MISTYPED = "mistyped"
    OTHER = "not one of our numbers"


@dataclass(frozen=True)
class NumberReading:
    """What a person typed, read against the shop's pattern.

    ``number`` is the well-formed spelling of what was read, as typed even where the check is wrong, and
    empty for OTHER. ``check_expected`` is the check its letters and digits ask for; ``check`` is the one
    typed, empty if missing. ``perhaps`` holds right numbers that differ only by O for 0 or I for 1, or by
    two neighbours swapped: offers to a person, never to be taken unasked.
    """

    typed: str
    verdict: Verdict
    number: str = ""
    kind: NumberKind | None = None
    prefix: str = ""
    sequence: int = 0
    check: str = ""
    check_expected: str = ""
    perhaps: tuple[str, ...] = ()


def format_number(prefix: str, sequence: int, pattern: Pattern = OUR_PATTERN) -> str | None:
    """The number for this prefix and sequence, or None if its check would be O or I and it is skipped.

    Refuses a prefix the pattern has no place for and a sequence below 1 or of more than 12 digits.
    """
    if pattern.kind_of(prefix) is None:
        raise Refused(
            f"{prefix!r} cannot begin a number.",
            f"Use {pattern.letters_min} to {pattern.letters_max} plain capital letters.",
        )
    if not 1 <= sequence < 10**DIGITS_MAX:
        raise Refused(
            f"{sequence} cannot be a sequence number.", f"It runs from 1 and has at most {DIGITS_MAX} digits."
        )
    body = f"{prefix}{sequence:0{pattern.digits_of(prefix)}d}"
    if not pattern.check:
        return body
    check = mod_37_36.calc_check_digit(body)
    return None if check in _UNISSUED_CHECKS else f"{body}{pattern.separator}{check}"


def next_sequence(prefix: str, after: int, pattern: Pattern = OUR_PATTERN) -> tuple[int, str]:
    """The first sequence above ``after`` (0 for a new prefix) that may be issued, with its number."""
    for sequence in range(after + 1, after + 1 + _SKIPS_MAX):
        number = format_number(prefix, sequence, pattern)
        if number is not None:
            return sequence, number
    raise AssertionError(f"no issuable number within {_SKIPS_MAX} after {prefix} {after}")


def read_number(text: str, pattern: Pattern = OUR_PATTERN) -> NumberReading:
    """Read what a person typed or scanned.

    Case, spaces and dashes between the groups, and a missing separator do not matter. O and I are read as
    0 and 1 only in the check and where every number of the pattern has a digit, so that understanding one
    look-alike can never turn another slip into a right number; elsewhere a look-alike is only offered.
    """
    plain = _plain(text, pattern)
    reading = _read(plain, pattern)
    if reading is None:
        return NumberReading(text, Verdict.OTHER, perhaps=_perhaps(plain, pattern))
    if reading.verdict is Verdict.RIGHT:
        return replace(reading, typed=text)
    return replace(reading, typed=text, perhaps=_perhaps(plain, pattern))


def right_number(text: str, pattern: Pattern = OUR_PATTERN) -> str:
    """The number typed, in its one spelling; refuses a mistyped one and what is no number of ours."""
    reading = read_number(text, pattern)
    if reading.verdict is Verdict.RIGHT:
        return reading.number
    offer = f"Perhaps {' or '.join(reading.perhaps)} was meant; " if reading.perhaps else ""
    look = f"{offer}look at the label again." if offer else "Look at the label again."
    shown = text.strip()[:TEXT_LENGTH_MAX]
    if reading.verdict is Verdict.OTHER:
        raise Refused(f"{shown!r} does not have the shape of one of our numbers.", look)
    if not reading.check:
        raise Refused(f"{shown!r} lacks its check character.", look)
    raise Refused(f"{shown!r} is mistyped: its check character does not fit the rest.", look)


def _plain(text: str, pattern: Pattern) -> str:
    """Capital letters and digits of the text, with one space at each group border that was typed."""
    if len(text) > TEXT_LENGTH_MAX:
        return ""
    text = _DASHES.sub("-", unicodedata.normalize("NFKC", text)).upper()
    borders = re.escape(f"-{pattern.separator}")
    plain = re.sub(rf"\s*[{borders}]\s*|\s+", " ", text.strip()).strip()
    return plain if re.fullmatch("[A-Z0-9]+( [A-Z0-9]+){0,2}", plain) else ""


def _read(plain: str, pattern: Pattern) -> NumberReading | None:
    """The text read with its last character as the check or, where that has no shape, as lacking one."""
    squeezed = plain.replace(" ", "")
    with_check = _reading(plain, squeezed[:-1], squeezed[-1:], pattern) if pattern.check else None
    return with_check or _reading(plain, squeezed, "", pattern)


def _reading(plain: str, body: str, check: str, pattern: Pattern) -> NumberReading | None:
    """One reading, or None where the shape does not fit the pattern or the groups typed."""
    digits_least = min(pattern.house_digits, pattern.tag_digits)
    if len(body) < 1 + digits_least:
        return None
    body = body[:-digits_least] + body[-digits_least:].translate(_TO_DIGIT)
    check = check.translate(_TO_DIGIT)
    match = _BODY.fullmatch(body)
    if match is None:
        return None
    prefix, digits = match.groups()
    kind = pattern.kind_of(prefix)
    padded = pattern.digits_of(prefix)
    if kind is None or not padded <= len(digits) <= DIGITS_MAX or int(digits) == 0:
        return None
    if len(digits) > padded and digits[0] == "0":
        return None
    lengths = [len(group) for group in plain.split(" ")]
    borders = set(itertools.accumulate(lengths[:-1]))
    if not borders <= {len(prefix), len(body)}:
        return None
    expected = mod_37_36.calc_check_digit(body) if pattern.check else ""
    right = check == expected
    number = f"{body}{pattern.separator}{check}" if check else body
    verdict = Verdict.RIGHT if right else Verdict.MISTYPED
    return NumberReading(plain, verdict, number, kind, prefix, int(digits), check, expected)


def _perhaps(plain: str, pattern: Pattern) -> tuple[str, ...]:
    """Right numbers one look-alike or one swap of neighbours away from the text, in a steady order."""
    if not pattern.check:
        return ()
    found: dict[str, None] = {}
    for i, character in enumerate(plain):
        swapped = plain[:i] + plain[i + 1 : i + 2] + character + plain[i + 2 :]
        alike = dict(zip("O0I1", "0O1I", strict=True)).get(character)
        for variant in ([plain[:i] + alike + plain[i + 1 :]] if alike else []) + [swapped]:
            reading = _read(variant, pattern)
            if reading is not None and reading.verdict is Verdict.RIGHT:
                found.setdefault(reading.number)
    return tuple(found)
