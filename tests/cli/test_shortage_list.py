"""The shortage list as the command ``short`` writes it."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import openpyxl

from tests.cli.conftest import Run
from tests.paper.sheets import pages_text


def test_the_board_goes_to_paper_for_as_many_months_as_asked(run: Run, tmp_path: Path) -> None:
    pdf, book = tmp_path / "short.pdf", tmp_path / "short.xlsx"
    code, _, err = run("short", "--months", "6", "--pdf", str(pdf), "--xlsx", str(book), "--letter")
    assert (code, err) == (0, "")
    text = " ".join(pages_text(pdf.read_bytes())[0].split())
    assert "Shortage list of 20" in text and "looking 6 months ahead" in text
    workbook = openpyxl.load_workbook(BytesIO(book.read_bytes()))
    assert workbook.sheetnames == ["Short", "By month", "Charts", "Reckoned by"]


def test_a_list_that_cannot_be_written_is_refused(run: Run, tmp_path: Path) -> None:
    code, _, err = run("short", "--pdf", str(tmp_path))
    assert code == 1 and "which is no file" in err
