"""What is a picture by how it begins, and what only has a picture's name."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from invdb.rules.photographs import is_picture


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "GIF", "TIFF", "BMP", "WEBP"])
def test_a_picture_of_a_usual_kind_is_one(kind: str) -> None:
    written = io.BytesIO()
    Image.new("RGB", (4, 4), "grey").save(written, kind)
    assert is_picture(written.getvalue())


def test_a_picture_from_a_telephone_is_one() -> None:
    assert is_picture(b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00")


@pytest.mark.parametrize(
    "content", [b"", b"a letter", b"%PDF-1.7", b"PK\x03\x04", b"RIFF\x00\x00\x00\x00WAVE"]
)
def test_anything_else_is_none(content: bytes) -> None:
    assert not is_picture(content)
