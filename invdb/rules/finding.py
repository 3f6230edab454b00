"""Words that find records: how a text and a query are normalised alike, and what one typing slip may be.

A text is cut into *segments* at every character that is neither letter nor digit. A number such as
``PW/1204-7`` is findable by any run of neighbouring segments, joined: ``pw``, ``pw1204``, ``pw12047``,
``1204`` ... A name is findable by each segment and by each two neighbours joined, so that "tab washer",
"tab-washer" and "tabwasher" are one. A query is cut at its spaces, and a word of it also fits where it goes
on from the words before ("LN 0412 K" is ``ln412k``), up to three joined.

Every joined text is then *folded*: case and accents dropped, O written 0 and I written 1, and the zeros that
lead a run of digits dropped. Where letters O or I touch digits there are two readings: of ``PI0031`` either
PI and 31, or P and 10031 typed with I for 1. Both are kept, and a query fits by either.
"""

from __future__ import annotations

import itertools
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

TEXT_LENGTH_MAX = 200
WORD_LENGTH_MAX = 32
TEXT_WORDS_MAX = 60
NUMBER_SEGMENTS_MAX = 6
NUMBER_LETTERS_MAX = 2
QUERY_WORDS_MAX = 8
QUERY_JOINED_MAX = 3
SLIP_LENGTH_MIN = 3

_ALIKE = str.maketrans("oi", "01")
# Letters that Unicode does not take apart into a plain letter and a mark.
_PLAIN_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "ħ": "h", "ŧ": "t", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"}
)
_SEGMENT = re.compile(r"[^\W_]+")
_LEADING_ZEROS = re.compile(r"(?<![0-9])0+(?=[0-9])")
_SEGMENT_ZEROS = re.compile(r"^[0o]+(?=[0-9])")
_TRAILING_ZEROS = re.compile(r"(?<![0-9])0+$")
_DIGITS_OR_ALIKE = re.compile(r"[0-9oi]+")
_TRAILING_ZEROS_OR_ALIKE = re.compile(r"(?<![0-9oi])o*0[0o]*$")
_RUN = re.compile(r"[0-9]+|[^0-9]+")
_DIGITS = "0123456789"
_ABOVE_DIGITS = ":"
_ABOVE_WORDS = "\U0010ffff"
_LATIN = "abcdefghijklmnopqrstuvwxyz"
_GREEK = "αβγδεζηθικλμνξοπρστυφχψω"
_CYRILLIC = "абвгдежзиклмнопрстуфхцчшщъыьэюя"


@dataclass(frozen=True)
class Sought:
    """One word of a query: a record has it if one of its own words fits.

    A word fits exactly if it is among ``forms``, and fits too if it lies in one of ``beginnings``, half-open
    ranges of words. There are none where nothing but a whole word will do. ``length`` is that of what was
    typed.
    """

    forms: frozenset[str]
    beginnings: frozenset[tuple[str, str]]
    length: int

    def ranges(self) -> list[tuple[str, str]]:
        """The half-open ranges, apart from each other, that hold every word which fits; in order."""
        wanted = self.beginnings | {word_range(form) for form in self.forms}
        apart: list[tuple[str, str]] = []
        for low, high in sorted(wanted):
            if apart and low < apart[-1][1]:
                apart[-1] = (apart[-1][0], max(high, apart[-1][1]))
            else:
                apart.append((low, high))
        return apart


@dataclass(frozen=True)
class Query:
    """What a person typed, as the words that a record must all have.

    ``typed`` are the same words, joined but not folded, in which a slip may have happened. ``cut`` says that
    more was typed than is looked for.
    """

    words: tuple[Sought, ...]
    typed: tuple[str, ...]
    cut: bool

    @property
    def longest(self) -> int:
        """Index of the word whose fits give the order of listing: the longest, the first of equals."""
        return max(range(len(self.words)), key=lambda i: (self.words[i].length, -i))

    def corrected(self, i: int, words: Iterable[str]) -> Query:
        """The query that asks for one of these whole words in the place of a word of its own."""
        whole = Sought(frozenset(words), frozenset(), self.words[i].length)
        return replace(self, words=(*self.words[:i], whole, *self.words[i + 1 :]), typed=())


def number_words(text: str) -> set[str]:
    """Words that find a number, a serial, a bin: every run of neighbouring segments, joined."""
    return _folded(_runs(_segments(text)))


def own_number_words(text: str) -> set[str]:
    """As `number_words`, without the single characters: a check character alone finds nothing."""
    words = number_words(text)
    return {word for word in words if len(word) > 1} or words


def name_words(text: str) -> set[str]:
    """Words that find a name: each segment, each two neighbours joined, and those of a number within."""
    spans: list[Sequence[str]] = []
    segments: list[str] = []
    for typed in text[:TEXT_LENGTH_MAX].split():
        of_token = _segments(typed)
        segments += of_token
        if _is_number(of_token):
            spans += _runs(of_token)
        else:
            spans += [[segment[start:]] for segment in of_token for start in _run_starts(segment)]
    return _folded([*spans, *itertools.pairwise(segments)])


def readings(text: str) -> tuple[Query, ...]:
    """What may be meant, to be tried in turn; nothing where nothing was typed that could find anything.

    What may be one number typed with spaces (``LN 0412 K``) is first taken as one word. Then what was typed
    without a space is (``PW/1204-7``, "tab-washer"). If nothing fits, what can be no number is taken as so
    many words as it has segments ("guide-valve-inlet").
    """
    tokens = [segments for typed in text[:TEXT_LENGTH_MAX].split() if (segments := _segments(typed))]
    joined = [[segment for segments in tokens for segment in segments]]
    apart: list[list[str]] = []
    for segments in tokens:
        apart += [segments] if _is_number(segments) else [[segment] for segment in segments]
    ways = [joined] if all(_may_be_of_a_number("".join(segments)) for segments in tokens) else []
    for way in (tokens, apart):
        if way not in ways:
            ways.append(way)
    too_long = len(text.strip()) > TEXT_LENGTH_MAX
    return tuple(_query(words, too_long) for words in ways) if tokens else ()


def _query(words: list[list[str]], too_long: bool) -> Query:
    """The query for words, each of its segments."""
    kept = words[:QUERY_WORDS_MAX]
    sought = tuple(_sought(kept, i) for i in range(len(kept)))
    typed = tuple("".join(segments) for segments in kept)
    return Query(sought, typed, too_long or len(words) > len(kept))


def _is_number(segments: Sequence[str]) -> bool:
    return len(segments) <= NUMBER_SEGMENTS_MAX and not all(segment.isalpha() for segment in segments)


def _runs(segments: Sequence[str]) -> Iterator[Sequence[str]]:
    """Every run of neighbouring segments, begun at each border between letters and digits in the first."""
    segments = segments[:NUMBER_SEGMENTS_MAX]
    for first, segment in enumerate(segments):
        for start in _run_starts(segment):
            for end in range(first + 1, len(segments) + 1):
                yield [segment[start:], *segments[first + 1 : end]]


def _may_be_of_a_number(raw: str) -> bool:
    """Whether this may stand in a number that was typed with spaces."""
    return len(raw) <= NUMBER_LETTERS_MAX or not raw.isalpha()


def _sought(words: list[list[str]], i: int) -> Sought:
    """One word of the query, by itself or as it goes on from those before."""
    forms: set[str] = set()
    beginnings: set[tuple[str, str]] = set()
    for first in range(max(0, i - QUERY_JOINED_MAX + 1), i + 1):
        for raw in _spellings([segment for word in words[first : i + 1] for segment in word]):
            beginnings.update(_beginnings(raw))
        for end in range(i + 1, min(first + QUERY_JOINED_MAX, len(words)) + 1):
            for raw in _spellings([segment for word in words[first:end] for segment in word]):
                forms.update(folded(raw))
    return Sought(frozenset(forms), frozenset(beginnings), sum(map(len, words[i])))


def folded(raw: str) -> tuple[str, ...]:
    """The one or two words that a joined text without case and accents is folded to."""
    raw = raw[:WORD_LENGTH_MAX]
    if raw.isalpha():
        return (raw.translate(_ALIKE),)
    strict = _LEADING_ZEROS.sub("", raw).translate(_ALIKE)
    if "o" not in raw and "i" not in raw:
        return (strict,)
    loose = _DIGITS_OR_ALIKE.sub(_fold_run, raw)
    return (strict,) if loose == strict else (strict, loose)


def word_range(word: str) -> tuple[str, str]:
    """The half-open range that holds this word alone, since no character of a word is below 0."""
    return word, word + "0"


def prefix_range(prefix: str) -> tuple[str, str]:
    """The least word that begins with the prefix, and the least above all that do, by code point.

    The prefix ends in a letter or a digit, which is never the last code point nor next to the surrogates.
    """
    return prefix, prefix[:-1] + chr(ord(prefix[-1]) + 1)


@dataclass(frozen=True)
class Slip:
    """The words that may have been meant if the slip happened at one place of what was typed.

    They all lie in ``beginnings``, the half-open ranges of words that begin as was typed before that place.
    """

    beginnings: frozenset[tuple[str, str]]
    words: frozenset[str]


def one_slip(raw: str) -> list[Slip]:
    """What may have been meant by a joined but not folded word, for each place at which one slip may be.

    A slip is one character missing, one too many, one wrong, or two neighbours swapped. There are none in
    what is shorter than ``SLIP_LENGTH_MIN``. For n characters there are at most about 74·n words, so at most
    some 2,400, and n + 1 places.
    """
    if len(raw) < SLIP_LENGTH_MIN:
        return []
    raw = raw[: WORD_LENGTH_MAX + 1]
    slips = []
    for i in range(len(raw) + 1):
        before, after = raw[:i], raw[i:]
        variants = {f"{before}{character}{after}" for character in _alphabet(raw)}
        if after:
            variants |= {f"{before}{character}{after[1:]}" for character in _alphabet(raw)}
            variants |= {before + after[1:], before + after[1:2] + after[:1] + after[2:]}
        words = {form for variant in variants for form in folded(variant)}
        # What follows decides whether look-alikes at the end are digits, and zeros there lead.
        sure = before.rstrip("0oi")
        beginnings = {prefix_range(form) for form in folded(sure)} if sure else {("", _ABOVE_WORDS)}
        slips.append(Slip(frozenset(beginnings), frozenset(words.difference(folded(raw)))))
    return slips


def _alphabet(raw: str) -> str:
    if any(character in _CYRILLIC for character in raw):
        return _DIGITS + _CYRILLIC
    if any(character in _GREEK for character in raw):
        return _DIGITS + _GREEK
    return _DIGITS + _LATIN


def _segments(text: str) -> list[str]:
    """Runs of letters and digits, without case and accents."""
    text = text[:TEXT_LENGTH_MAX]
    if text.isascii():
        return _SEGMENT.findall(text.lower())
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    plain = "".join(
        str(unicodedata.decimal(character)) if character.isdecimal() else character
        for character in apart
        if not unicodedata.category(character).startswith("M")
    )
    return _SEGMENT.findall(plain.translate(_PLAIN_LETTERS))


def _run_starts(segment: str) -> Iterator[int]:
    """Where a run of digits or of other characters begins."""
    return (run.start() for run in _RUN.finditer(segment))


def _folded(spans: Iterable[Sequence[str]]) -> set[str]:
    words: set[str] = set()
    for span in spans:
        for raw in _spellings(span):
            words.update(folded(raw))
        if len(words) >= TEXT_WORDS_MAX:
            break
    return words


def _spellings(segments: Sequence[str]) -> set[str]:
    """Segments joined as they stand and, so that C-4-2 is C-04-02, without the zeros that lead each."""
    return {"".join(segments), "".join(_SEGMENT_ZEROS.sub("", segment) for segment in segments)}


def _fold_run(run: re.Match[str]) -> str:
    """Digits with look-alike letters among them; letters alone keep their zeros: OIL is 01l."""
    typed = run.group()
    folded = typed.translate(_ALIKE)
    return folded if typed.isalpha() else folded.lstrip("0") or "0"


def _beginnings(raw: str) -> set[tuple[str, str]]:
    """The ranges of the words that go on from this one.

    Zeros at the end may turn out to lead: ``LN0`` goes on to ``LN0412``, which is folded to ``ln412``. So
    instead of them any digit may follow.
    """
    raw = raw[:WORD_LENGTH_MAX]
    ranges = set()
    for zeros in (_TRAILING_ZEROS, _TRAILING_ZEROS_OR_ALIKE):
        kept = zeros.sub("", raw)
        for form in folded(kept):
            ranges.add(prefix_range(form) if kept == raw else (form + "0", form + _ABOVE_DIGITS))
    return ranges
