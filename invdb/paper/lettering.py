"""The letters that sheets are set in: which characters they have, how wide a text runs, where it breaks."""

from __future__ import annotations

import math
import unicodedata
from functools import cache, lru_cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FONTS = Path(__file__).parent / "fonts"
ELLIPSIS = "…"

# Controls, format marks (among them those that turn a line's direction round) and what Unicode leaves empty.
_WITHOUT_SHAPE = frozenset({"Cc", "Cf", "Cs", "Co", "Cn"})
_LINE_ENDS = str.maketrans("\t\r\v\f\x85\u2028\u2029", " \n\n\n\n\n\n")


class Face:
    """One weight of the typeface, embedded in every sheet that uses it."""

    def __init__(self, name: str, file_name: str) -> None:
        font = TTFont(name, str(FONTS / file_name))
        pdfmetrics.registerFont(font)
        self.name = name
        widths = font.face.charWidths
        # In widths of the letter size, so that a text's width is a sum and one product.
        self.widths: dict[str, float] = {
            chr(code): widths.get(code, font.face.defaultWidth) / 1000
            for code, glyph in font.face.charToGlyph.items()
            if glyph and unicodedata.category(chr(code)) not in _WITHOUT_SHAPE
        }
        self.characters = frozenset(self.widths)

    def printable(self, text: str) -> str:
        """The text as it can be set: line ends as ``\\n``, what the face lacks as its code point."""
        if not text.isascii():
            text = unicodedata.normalize("NFC", text)
        if self.characters.issuperset(text):
            return text
        text = text.replace("\r\n", "\n").translate(_LINE_ENDS)
        return "".join(
            letter if letter in self.characters or letter == "\n" else code_point(letter) for letter in text
        )

    def width(self, text: str, size: float) -> float:
        """How wide a printable text of one line runs at a letter size, both in points."""
        return math.fsum(map(self.widths.__getitem__, text)) * size

    def shorten(self, text: str, size: float, width: float) -> str:
        """The text on one line no wider than ``width`` points, with an ellipsis for what is left off."""
        line = self.printable(text).replace("\n", " ")
        if self.width(line, size) <= width:
            return line
        room = width - self.width(ELLIPSIS, size)
        return line[: self._letters_within(line, size, room)].rstrip() + ELLIPSIS

    def wrap(self, text: str, size: float, width: float) -> tuple[str, ...]:
        """The text as lines no wider than ``width`` points; a wider word breaks. Nothing is left off.

        A width that takes not even one letter takes one all the same. An empty text has no lines.
        """
        return _wrap(self, text, size, width)

    def _letters_within(self, text: str, size: float, width: float) -> int:
        run = 0.0
        for count, letter in enumerate(text):
            run += self.widths[letter] * size
            if run > width:
                return count
        return len(text)


def code_point(letter: str) -> str:
    """'U+1F600' for a character that cannot be shown."""
    return f"U+{ord(letter):04X}"


@cache
def regular() -> Face:
    """The upright weight of ordinary text."""
    return Face("DejaVuSans", "DejaVuSans.ttf")


@cache
def bold() -> Face:
    """The heavy weight of headings and of what must not be missed."""
    return Face("DejaVuSans-Bold", "DejaVuSans-Bold.ttf")


@lru_cache(maxsize=8192)
def _wrap(face: Face, text: str, size: float, width: float) -> tuple[str, ...]:
    if not text:
        return ()
    lines: list[str] = []
    for paragraph in face.printable(text).split("\n"):
        if face.width(paragraph, size) <= width:
            lines.append(paragraph)
        else:
            lines.extend(_wrap_paragraph(face, paragraph, size, width))
    return tuple(lines)


def _wrap_paragraph(face: Face, paragraph: str, size: float, width: float) -> list[str]:
    space = face.widths[" "] * size
    lines: list[str] = []
    line, run = "", 0.0
    for whole_word in paragraph.split(" "):
        word, word_width = whole_word, face.width(whole_word, size)
        if line and run + space + word_width <= width:
            line, run = f"{line} {word}", run + space + word_width
            continue
        if line:
            lines.append(line)
        while word_width > width:
            count = max(1, face._letters_within(word, size, width))
            if count == len(word):
                break
            lines.append(word[:count])
            word = word[count:]
            word_width = face.width(word, size)
        line, run = word, word_width
    lines.append(line)
    return lines
