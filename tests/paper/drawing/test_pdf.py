"""Pages of PDF, read and rendered by pdfium: exact boxes, true places, widths, dashes, the same bytes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pypdfium2
import pytest

from flatgen.paper.drawing import document
from flatgen.paper.drawing.document import Pen
from flatgen.paper.drawing.ink import Ink, ink_document
from flatgen.paper.drawing.writers import PdfPage, View, pdf_bytes

PX = 300 / 25.4
"""Pixels per millimetre at 300 dots per inch."""


def sample() -> Any:
    """A line of 80 mm across, one up, a dashed one, an arrowhead and lettering, on paper of 100 x 60 mm."""
    ink = Ink()
    ink.line("wide", (10.0, 20.0), (90.0, 20.0))
    ink.line("wide", (10.0, 20.0), (10.0, 50.0))
    ink.line("dashed", (10.0, 40.0), (90.0, 40.0))
    ink.text("<&> %% Träger", 20.0, 45.0)
    ink.solids.append(((50.0, 30.0), (54.0, 28.0), (54.0, 32.0)))
    pens = {"wide": Pen(weight=0.5), "dashed": Pen(document.DASHED), "SIZES": Pen()}
    return ink_document(ink, pens, 100.0, 60.0)


def dark(data: bytes, page: int = 0, across: float = PX) -> Any:
    """Darkness 0 to 1 of a rendered page, row 0 at the top."""
    pdf = pypdfium2.PdfDocument(data)
    grey = pdf[page].render(scale=across * 25.4 / 72, grayscale=True).to_numpy()
    pdf.close()
    return 1.0 - np.squeeze(grey).astype(float) / 255.0


def middle(strip: Any) -> float:
    """Place of what is dark along a strip of pixels, in pixels from its begin."""
    at = np.arange(len(strip)) + 0.5
    return float((at * strip).sum() / strip.sum())


def test_page_boxes_are_exact() -> None:
    """ISO 216: A4 is 210 x 297 mm; one point is 1/72 in. pdfium keeps floats of 24 bits."""
    doc = sample()
    data = pdf_bytes(
        [PdfPage(doc, (0, 0, 100, 60), w, h) for w, h in ((210.0, 297.0), (215.9, 279.4), (610.0, 4050.0))], "t"
    )
    pdf = pypdfium2.PdfDocument(data)
    for page, (wide, tall) in zip(pdf, ((210.0, 297.0), (215.9, 279.4), (610.0, 4050.0)), strict=True):
        assert page.get_size() == pytest.approx((wide / 25.4 * 72, tall / 25.4 * 72), rel=1e-6)
        assert page.get_mediabox() == pytest.approx((0, 0, wide / 25.4 * 72, tall / 25.4 * 72), rel=1e-6)
    pdf.close()


def test_lines_lie_where_they_are_drawn() -> None:
    """By hand: the window's corner at (30, 40) of an A4 page; a line at y = 20 lies 60 mm above its lower edge."""
    data = pdf_bytes([PdfPage(sample(), (0, 0, 100, 60), 210.0, 297.0, (30.0, 40.0))], "t")
    ink = dark(data)
    column = ink[:, round((30 + 85) * PX)]
    rows = slice(round((297 - 62) * PX), round((297 - 58) * PX))
    assert 297 - (rows.start + middle(column[rows])) / PX == pytest.approx(60.0, abs=0.03)
    row = ink[round((297 - 65) * PX)]
    columns = slice(round(38 * PX), round(42 * PX))
    assert (columns.start + middle(row[columns])) / PX == pytest.approx(40.0, abs=0.03)
    assert row[columns].sum() / PX == pytest.approx(0.5, abs=0.03), "the width of the line"


def test_scale_is_that_of_the_view() -> None:
    data = pdf_bytes([PdfPage(sample(), (0, 0, 100, 60), 210.0, 297.0, (30.0, 40.0), (0.5, 2.0))], "t")
    ink = dark(data)
    row = ink[round((297 - 40 - 2 * 25) * PX)]
    columns = slice(round(33 * PX), round(37 * PX))
    assert (columns.start + middle(row[columns])) / PX == pytest.approx(35.0, abs=0.05)
    column = ink[:, round(70 * PX)]
    rows = slice(round((297 - 82) * PX), round((297 - 78) * PX))
    assert 297 - (rows.start + middle(column[rows])) / PX == pytest.approx(80.0, abs=0.05)


def test_windows_are_cut_off_at_their_edge_and_lie_over_one_another() -> None:
    doc = sample()
    over = View(doc, (0.0, 0.0, 50.0, 60.0), (0.0, 0.0))
    page = PdfPage(doc, (50.0, 0.0, 100.0, 60.0), 100.0, 60.0, (50.0, 0.0), over=(over,))
    whole = pdf_bytes([PdfPage(doc, (0, 0, 100, 60), 100.0, 60.0)], "t")
    parts = pdf_bytes([page], "t")
    assert np.abs(dark(whole) - dark(parts)).mean() < 1e-3
    alone = dark(pdf_bytes([PdfPage(doc, (50.0, 0.0, 100.0, 60.0), 100.0, 60.0, (50.0, 0.0))], "t"))
    assert alone[:, : round(49.9 * PX)].sum() == 0.0


def test_dashes_stay_dashes() -> None:
    """The line type of the DXF: dashes of 12, spaces of 3 widths (ISO 128-2, memory): eight tenths are drawn."""
    ink = dark(pdf_bytes([PdfPage(sample(), (0, 0, 100, 60), 100.0, 60.0)], "t"))
    row = ink[round((60 - 40) * PX), round(12 * PX) : round(88 * PX)]
    assert 0.72 < (row > 0.3).mean() < 0.88
    assert 15 < np.count_nonzero(np.diff((row > 0.3).astype(int)) == 1) < 25


def test_repeated_windows_are_the_same_on_each_page() -> None:
    doc = sample()
    pages = [PdfPage(doc, (0, 0, 100, 60), 100.0, 60.0) for _ in range(3)]
    one, three = pdf_bytes(pages[:1], "t"), pdf_bytes(pages, "t")
    assert len(three) < 1.6 * len(one)
    for n in range(3):
        assert np.abs(dark(one) - dark(three, n)).max() < 0.02


def test_bytes_title_and_what_a_reader_is_asked() -> None:
    title = "Träger <&> %% \\P 折り曲げ " + "x" * 300
    pages = [PdfPage(sample(), (0, 0, 100, 60), 100.0, 60.0)]
    first, second = pdf_bytes(pages, title), pdf_bytes([PdfPage(sample(), (0, 0, 100, 60), 100.0, 60.0)], title)
    assert first == second
    assert b"/PrintScaling /None" in first
    assert b"FontFile" not in first, "lettering is shapes, no typeface is carried"
    pdf = pypdfium2.PdfDocument(first)
    said = pdf.get_metadata_dict()["Title"]
    assert said.replace("% %", "%%") == title
    pdf.close()


def test_no_page_is_refused() -> None:
    with pytest.raises(ValueError, match="page"):
        pdf_bytes([], "t")
