"""Build records as files that nobody should be given: refused with the place, and nothing taken over."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from invdb.cli.build_record import COLUMNS, LINES_MAX
from invdb.intake import table
from tests.cli.conftest import Run, run, workshop
from tests.engine_shop import begin, sound
from tests.shop import Shop

__all__ = ["run", "workshop"]
HEAD = ",".join(COLUMNS) + "\n"
LINE = "2,exhaust valve,PW 1187,A 9,,,,,\n"


def take_over(run: Run, shop: Shop, file: Path) -> tuple[int, str]:
    """Take a file over as the record of Linnet One: the exit code, and what was said in its one line."""
    begin(shop)
    code, out, err = run(
        "take-over", "Linnet One", str(file), "--paper", "statement:BR 1", "--reading", "1000"
    )
    said = err if code else out
    assert said.count("\n") == 1, said
    assert sound(shop)
    return code, said


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ((HEAD + LINE).encode("utf-16"), "is not UTF-8 text"),
        ((HEAD + LINE).encode("utf-16-le"), "the headings are not those expected"),
        ((HEAD + LINE).replace(",", ";").encode(), "its cells are parted by semicolons"),
        (b"x" * 100_000 + b"," + HEAD.encode(), "xxx…"),
        (b"position,station,part\n2,exhaust valve,PW 1187\n", "look at hours, inside, quantity"),
        (b"", "the headings are not those expected"),
        (HEAD.encode(), "names nothing"),
        ((HEAD + '2,exhaust valve,PW 1187,"A\n9",,,,,\n').encode(), "line 3, column serial"),
        ((HEAD + '2,exhaust valve,PW 1187,"A 9,,,,,\n').encode(), "Look at its quotation marks"),
        ((HEAD + LINE + "2,exhaust valve,PW 1187,A 8,,,,,\n").encode(), "takes 1 off, and holds A 9"),
        ((HEAD + LINE + LINE.replace("2,", "3,", 1)).encode(), "is named twice"),
        ((HEAD + LINE + "3,exhaust valve,PW 9,A 8,,,,,\n").encode(), "line 3, column part: No part has"),
        ((HEAD + LINE + "8,exhaust valve,PW 1187,,,,,,\n").encode(), "line 3, column position: That engine"),
        ((HEAD + LINE + "3,propeller,PW 1187,,,,,,\n").encode(), "line 3, column station: There is no"),
        ((HEAD + LINE.replace(",,,,,", ",,1e9,,,")).encode(), "column hours: '1e9' can't be read"),
        ((HEAD + LINE.replace(",,,,,", ",,,,,1")).encode(), "no piece named before"),
        (b"position,station,part,serial\xff", "is not UTF-8 text"),
    ],
)
def test_a_file_that_is_no_build_record_is_refused_with_the_place(
    run: Run, workshop: Shop, tmp_path: Path, content: bytes, words: str
) -> None:
    file = tmp_path / "card.csv"
    file.write_bytes(content)
    code, said = take_over(run, workshop, file)
    assert (code, words in said) == (1, True), said
    assert len(said) < 800


def test_a_mark_of_its_encoding_and_lines_without_a_cell_are_passed_over(
    run: Run, workshop: Shop, tmp_path: Path
) -> None:
    file = tmp_path / "card.csv"
    file.write_bytes(("\ufeff" + HEAD + "\n" + LINE + "\n\n").replace("\n", "\r\n").encode())
    code, said = take_over(run, workshop, file)
    assert (code, "1 piece" in said) == (0, True), said


def _zip_bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("card.csv", b"0" * 50_000_000)


def _holes(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(40 * 1024**3)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (os.mkfifo, "There is no CSV file"),
        (Path.mkdir, "There is no CSV file"),
        (lambda path: path.symlink_to("/dev/zero"), "There is no CSV file"),
        (lambda path: None, "There is no CSV file"),
        (_zip_bomb, "is not UTF-8 text"),
        (_holes, "has more than 64 MB"),
    ],
)
def test_what_is_no_file_or_has_no_end_is_not_read(
    run: Run, workshop: Shop, tmp_path: Path, make: Callable[[Path], None], words: str
) -> None:
    file = tmp_path / "card.csv"
    make(file)
    code, said = take_over(run, workshop, file)
    assert (code, words in said) == (1, True), said


def test_a_record_of_more_than_any_engine_holds_is_read_no_further(
    run: Run, workshop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[int] = []
    row = table._row
    monkeypatch.setattr(table, "_row", lambda *given: read.append(given[1]) or row(*given))  # type: ignore[func-returns-value]
    file = tmp_path / "card.csv"
    file.write_text(HEAD + "".join(f"{n % 7 + 1},exhaust valve,PW 1187,S {n},,,,,\n" for n in range(100_000)))
    code, said = take_over(run, workshop, file)
    assert (code, "has more than 5,000 lines" in said) == (1, True), said
    assert len(read) == LINES_MAX + 1
