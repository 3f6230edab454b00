"""How long a pick list of 2,000 lines takes, against the bare libraries setting the same strings.

Run it as ``python -m tests.bench.bench_paper``; each measure is the median of a few runs, ours and the
reference turn about.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any
from unittest.mock import patch

import openpyxl
from openpyxl import Workbook
from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.pagesizes import A4
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

from invdb.paper import lettering
from invdb.paper.pick_list import write_pick_list_pdf, write_pick_list_xlsx
from invdb.rules.pick_list import PickList
from tests.paper.sheets import KIT

LINES = 2000
RUNS = 5
RATIO_MAX = 2.0

Drawn = list[tuple[str, tuple[Any, ...]]]


def long_list() -> PickList:
    """2,000 lines: pieces and batches, every fourth an alternate with its hazard, each with its own words."""
    rows = [
        replace(
            KIT.rows[number % len(KIT.rows)],
            tag=f"T{number:06}-{number % 10}",
            bin_name=f"B-{number // 40:02}-{number % 40}",
            walking_order=number,
            serial=f"S {number}",
            papers=f"release certificate HW-{number}",
            part_name=f"Inlet valve, oversize {number % 90}",
        )
        for number in range(LINES)
    ]
    return replace(KIT, rows=tuple(rows))


def what_is_drawn(pick_list: PickList) -> Drawn:
    """Each string, bar code and page of the list as drawn: letters, size and place."""
    drawn: Drawn = []
    text_line, draw_on, show_page = PDFTextObject.textLine, Code128.drawOn, Canvas.showPage

    def note_text(writing: Any, text: str = "") -> None:
        if text:
            x, y = writing.getCursor()
            drawn.append(("string", (writing._fontname, writing._fontsize, x, y, text)))
        text_line(writing, text)

    def note_code(code: Code128, canvas: Canvas, x: float, y: float) -> None:
        drawn.append(("code", (code.value, code.barWidth, code.barHeight, x, y)))
        draw_on(code, canvas, x, y)

    def note_page(canvas: Canvas) -> None:
        drawn.append(("page", ()))
        show_page(canvas)

    with (
        patch.object(PDFTextObject, "textLine", note_text),
        patch.object(Code128, "drawOn", note_code),
        patch.object(Canvas, "showPage", note_page),
    ):
        write_pick_list_pdf(pick_list, BytesIO())
    return drawn


def bare_pdf(drawn: Drawn, names: dict[str, str]) -> None:
    """The same strings in the same letters and the same bar codes on a bare canvas, and nothing else."""
    canvas = Canvas(BytesIO(), pagesize=A4, pageCompression=1)
    letters = None
    for kind, values in drawn:
        if kind == "string":
            name, size, x, y, text = values
            if letters != (name, size):
                letters = (name, size)
                canvas.setFont(names[name], size)
            canvas.drawString(x, y, text)
        elif kind == "code":
            text, bar_width, bar_height, x, y = values
            Code128(text, barWidth=bar_width, barHeight=bar_height, quiet=0).drawOn(canvas, x, y)
        else:
            letters = None
            canvas.showPage()
    canvas.save()


def bare_xlsx(sheets: list[list[list[Any]]]) -> None:
    """The same cells in a bare write-only workbook, without any style."""
    book = Workbook(write_only=True)
    for rows in sheets:
        sheet = book.create_sheet()
        for row in rows:
            sheet.append(row)
    book.save(BytesIO())


def bare_letters() -> dict[str, str]:
    """The same two font files under names of their own, so that neither side uses what the other loaded."""
    names = {}
    for face in (lettering.regular(), lettering.bold()):
        names[face.name] = f"Bare-{face.name}"
        file: Path = lettering.FONTS / f"{face.name}.ttf"
        pdfmetrics.registerFont(TTFont(names[face.name], str(file)))
    return names


def cells_of(pick_list: PickList) -> list[list[list[Any]]]:
    """The values of every cell of every worksheet of our workbook."""
    buffer = BytesIO()
    write_pick_list_xlsx(pick_list, buffer)
    book = openpyxl.load_workbook(buffer, read_only=True)
    return [[list(row) for row in sheet.iter_rows(values_only=True)] for sheet in book]


def seconds(work: Callable[[], object]) -> float:
    """How long one run of the work takes."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def measure(name: str, ours: Callable[[], object], reference: Callable[[], object]) -> bool:
    """Print the medians and their ratio; whether the ratio is within what is promised."""
    ours(), reference()
    pairs = [(seconds(ours), seconds(reference)) for _ in range(RUNS)]
    our_time, reference_time = (statistics.median(times) for times in zip(*pairs, strict=True))
    ratio = our_time / reference_time
    verdict = "within" if ratio <= RATIO_MAX else "OVER"
    print(
        f"{name}: ours {our_time:.3f} s, reference {reference_time:.3f} s, ratio {ratio:.2f} "
        f"({verdict} {RATIO_MAX:g})"
    )
    return ratio <= RATIO_MAX


def main() -> int:
    """Measure both; 0 if both are within what is promised."""
    pick_list = long_list()
    drawn, names = what_is_drawn(pick_list), bare_letters()
    cells = cells_of(pick_list)

    def our_pdf() -> None:
        # Lines broken in an earlier run would be remembered; each run breaks its own.
        lettering._wrap.cache_clear()
        write_pick_list_pdf(pick_list, BytesIO())

    results = [
        measure(f"pick list PDF, {LINES} lines", our_pdf, lambda: bare_pdf(drawn, names)),
        measure(
            f"pick list XLSX, {LINES} lines",
            lambda: write_pick_list_xlsx(pick_list, BytesIO()),
            lambda: bare_xlsx(cells),
        ),
    ]
    return 0 if all(results) else 1


if __name__ == "__main__":
    raise SystemExit(main())
