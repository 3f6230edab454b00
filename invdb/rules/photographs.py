"""Whether the bytes of a file begin as those of a picture do."""

from __future__ import annotations

# How each kind of picture begins (ISO/IEC 10918 JPEG, ISO/IEC 15948 PNG, GIF, TIFF and what cameras make of
# it, BMP); WebP and HEIF (ISO/IEC 23008-12) say what they are a few bytes on.
_BEGINNINGS = (
    b"\xff\xd8\xff",
    b"\x89PNG\r\n\x1a\n",
    b"GIF87a",
    b"GIF89a",
    b"II*\x00",
    b"MM\x00*",
    b"BM",
)
_HEIF_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"hevx", b"mif1", b"msf1", b"avif", b"crx "})


def is_picture(content: bytes) -> bool:
    """Whether a file of that content is a picture of a kind that is known here."""
    if content.startswith(_BEGINNINGS):
        return True
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return True
    return content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS
