"""A drawing as bytes: DXF, SVG at true scale, PNG. The same drawing gives the same bytes.

SVG and PDF are rendered from the DXF model by ezdxf's drawing add-on, lettering as shapes, so that they look the same
on every machine; a PNG is the PDF's page seen by pdfium.
"""

from __future__ import annotations

import io
from typing import Any

from flatgen.paper.drawing.document import fixed_metadata
from flatgen.paper.drawing.recording import Window, recorded

MARGIN = 10.0
"""White margin around a rendered drawing [mm]."""

PAGE_DPI = 150.0
"""Of pictures of pages [px/in]."""

SHADES = 64
"""Colours of a PNG: a few pens, and the shades between them and white."""


def dxf_bytes(doc: Any) -> bytes:
    """The DXF file of a drawing, with fixed dates and identifiers."""
    stream = io.StringIO()
    with fixed_metadata():
        doc.update_all()
        # ezdxf adds classes in the order of a set
        doc.classes.classes = dict(sorted(doc.classes.classes.items()))
        doc.write(stream)
    encoded: bytes = doc.encode(stream.getvalue())
    return encoded


def svg_text(doc: Any) -> str:
    """The drawing as SVG: page in millimetres with a margin, white ground, scale 1:1."""
    recording = recorded(doc)
    seen = recording.player.bbox()
    low, high = seen.extmin * recording.unit, seen.extmax * recording.unit
    return svg_window(recording, (low.x - MARGIN, low.y - MARGIN, high.x + MARGIN, high.y + MARGIN))


def svg_window(doc: Any, window: Window) -> str:
    """A window of a drawing as SVG at 1:1, white ground.

    Parameters
    ----------
    doc : ezdxf.document.Drawing or Recording
        In millimetres or inches, [-]
    window : tuple[float, float, float, float]
        Left, low, right, high, [mm]

    Returns
    -------
    str
        The file
    """
    from ezdxf.addons.drawing import layout
    from ezdxf.math import BoundingBox2d

    from flatgen.paper.drawing import svg_paths

    recording, backend = recorded(doc), svg_paths.backend()
    backend.config, backend.background = recording.player.config, recording.player.background
    backend.properties, backend.records = recording.player.properties, list(recording.within(window))
    x0, y0, x1, y1 = window
    page = layout.Page(x1 - x0, y1 - y0, layout.Units.mm, margins=layout.Margins.all(0.0))
    settings = layout.Settings(fit_page=False, scale=recording.unit, output_layers=False)
    shown = BoundingBox2d([(x0 / recording.unit, y0 / recording.unit), (x1 / recording.unit, y1 / recording.unit)])
    return str(backend.get_string(page, settings=settings, render_box=shown))


def png_bytes(doc: Any, longest: int = 2000, around: float = MARGIN) -> bytes:
    """The drawing as PNG, its longer side ``longest`` [px] with the margin ``around`` it [mm]."""
    from flatgen.paper.drawing.pdf import PdfPage, pdf_bytes

    recording = recorded(doc)
    own = recording.doc.header
    (x0, y0), (x1, y1) = (
        (place[0] * recording.unit, place[1] * recording.unit) for place in (own["$EXTMIN"], own["$EXTMAX"])
    )
    window = (x0 - around, y0 - around, x1 + around, y1 + around)
    wide, tall = window[2] - window[0], window[3] - window[1]
    (picture,) = png_pages(pdf_bytes([PdfPage(recording, window, wide, tall)], ""), longest / max(wide, tall) * 25.4)
    return picture


def png_pages(pdf: bytes, dpi: float = PAGE_DPI) -> list[bytes]:
    """Each page of a PDF as PNG.

    Parameters
    ----------
    pdf : bytes
        The file, [-]
    dpi : float
        How fine, [px/in]

    Returns
    -------
    list[bytes]
        Files in the order of the pages
    """
    import pypdfium2

    found = []
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            image = page.render(scale=dpi / 72.0).to_pil().quantize(SHADES, method=2)
            stream = io.BytesIO()
            image.save(stream, "png", compress_level=3)
            found.append(stream.getvalue())
    finally:
        document.close()
    return found
