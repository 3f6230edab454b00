"""What the window remembers, and that a spoilt file costs nothing but habits."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from gui.prefs import Prefs


def test_what_was_kept_is_read_again(tmp_path: Path) -> None:
    path = tmp_path / "settings" / "window.json"
    prefs = Prefs.read(path)
    assert not prefs.dark and prefs.scale is None
    prefs.dark, prefs.scale, prefs.geometry, prefs.view = True, 1.5, "1280x800+10+20", "bench"
    prefs.keep_widths("stock", {"tag": 120, "name": 300})
    again = Prefs.read(path)
    assert again == prefs


@pytest.mark.parametrize(
    "spoilt",
    [
        "",
        "{",
        "[1, 2]",
        '"dark"',
        '{"dark": "yes", "scale": 7, "geometry": 5, "widths": {"stock": {"tag": "wide", "name": -3}}}',
        '{"widths": [1], "scale": "2"}',
        '{"widths": {"stock": 4}}',
    ],
)
def test_a_spoilt_file_is_begun_afresh(tmp_path: Path, spoilt: str) -> None:
    path = tmp_path / "window.json"
    path.write_text(spoilt, encoding="utf-8")
    prefs = Prefs.read(path)
    assert (prefs.dark, prefs.scale, prefs.geometry) == (False, None, "")
    assert all(widths == {} for widths in prefs.widths.values())


def test_a_folder_that_cannot_be_written_is_only_logged(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    in_the_way = tmp_path / "settings"
    in_the_way.write_text("a file where the folder should be", encoding="utf-8")
    Prefs(in_the_way / "window.json", dark=True).keep()
    assert "cannot be kept" in caplog.text


def test_nothing_half_written_is_left_beside_it(tmp_path: Path) -> None:
    Prefs(tmp_path / "window.json", dark=True).keep()
    assert [path.name for path in tmp_path.iterdir()] == ["window.json"]
    assert json.loads((tmp_path / "window.json").read_text(encoding="utf-8"))["dark"] is True
