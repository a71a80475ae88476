"""Framed pages as files: one PDF with all of them, one SVG for each."""

from __future__ import annotations

from collections.abc import Sequence

from flatgen.paper.drawing.ink import Ink
from flatgen.paper.drawing.papers import Paper


def page_files(pages: Sequence[Ink], paper: Paper, stem: str, title: str) -> dict[str, bytes]:
    """Upright pages as a PDF and as SVG.

    Parameters
    ----------
    pages : Sequence[Ink]
        Framed, [mm]
    paper : Paper
        Theirs, [mm]
    stem : str
        That names begin with, [-]
    title : str
        Of the PDF, [-]

    Returns
    -------
    dict[str, bytes]
        ``STEM.pdf`` and ``STEM.svg``, or ``STEM-1.svg`` and so on of several pages
    """
    from flatgen.paper.drawing.pdf import PdfPage, pdf_bytes
    from flatgen.paper.drawing.recording import recorded
    from flatgen.paper.drawing.writers import svg_window
    from flatgen.paper.shop_sheet.sheet import sheet_document, window

    shown = recorded(sheet_document(pages, paper, landscape=False))
    windows = [window(n, paper, False) for n in range(len(pages))]
    made = {f"{stem}.pdf": pdf_bytes([PdfPage(shown, w, w[2] - w[0], w[3] - w[1]) for w in windows], title)}
    for n, w in enumerate(windows, start=1):
        made[f"{stem}.svg" if len(windows) == 1 else f"{stem}-{n}.svg"] = svg_window(shown, w).encode()
    return made
