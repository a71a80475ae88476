"""A drawing as bytes: DXF, SVG at true scale, PNG. The same drawing gives the same bytes.

SVG and PNG are rendered from the DXF model by ezdxf's drawing add-on (its own SVG backend, and matplotlib's
Agg), lettering as shapes, so that they look the same on every machine.
"""

from __future__ import annotations

import io
from typing import Any

from flatgen.drawing.document import fixed_metadata

MARGIN = 10.0
"""White margin around a rendered drawing [mm]."""

PAGE_DPI = 200.0
"""Of pictures of pages [px/in]."""

POINTS_PER_MM = 72.0 / 25.4
"""The matplotlib backend takes the millimetres of a line width for points."""


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
    from ezdxf.addons.drawing import Frontend, RenderContext, layout

    from flatgen.drawing import svg_paths

    backend = svg_paths.backend()
    Frontend(RenderContext(doc), backend, config=_configuration()).draw_layout(doc.modelspace())
    page = layout.Page(0, 0, layout.Units.mm, margins=layout.Margins.all(MARGIN))
    settings = layout.Settings(fit_page=False, scale=_mm_per_unit(doc), output_layers=False)
    return str(backend.get_string(page, settings=settings))


def svg_page(doc: Any, wide: float, tall: float) -> bytes:
    """A page as SVG: of a document that is its paper from (0, 0) to (wide, tall) [mm]."""
    from ezdxf.addons.drawing import Frontend, RenderContext, layout

    from flatgen.drawing import svg_paths

    backend = svg_paths.backend()
    Frontend(RenderContext(doc), backend, config=_configuration()).draw_layout(doc.modelspace())
    seen = backend.player().bbox()  # the page is placed about what is drawn on it
    low, high = seen.extmin, seen.extmax
    margins = layout.Margins(top=tall - high.y, right=wide - high.x, bottom=low.y, left=low.x)
    page = layout.Page(wide, tall, layout.Units.mm, margins=margins)
    settings = layout.Settings(fit_page=False, scale=_mm_per_unit(doc), output_layers=False)
    return str(backend.get_string(page, settings=settings)).encode()


def png_page(doc: Any, wide: float, tall: float) -> bytes:
    """A page as PNG at ``PAGE_DPI``, as for :func:`svg_page` [mm]."""
    return png_bytes(doc, round(max(wide, tall) / 25.4 * PAGE_DPI), 0.0)


def png_bytes(doc: Any, longest: int = 2000, around: float = MARGIN) -> bytes:
    """The drawing as PNG, its longer side ``longest`` [px] with the margin ``around`` it [mm]."""
    from ezdxf.addons.drawing import Frontend, RenderContext
    from ezdxf.addons.drawing.matplotlib import MatplotlibBackend
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    backend = MatplotlibBackend(axes, adjust_figure=False)
    low, high = _extents(doc)
    unit = _mm_per_unit(doc)
    margin = around / unit
    wide, tall = high[0] - low[0] + 2 * margin, high[1] - low[1] + 2 * margin
    inch = unit / 25.4
    figure.set_size_inches(wide * inch, tall * inch)
    figure.set_dpi(longest / (max(wide, tall) * inch))
    configuration = _configuration().with_changes(lineweight_scaling=POINTS_PER_MM)
    Frontend(RenderContext(doc), backend, config=configuration).draw_layout(doc.modelspace())
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=figure.dpi, facecolor="white", metadata={"Software": None})
    return stream.getvalue()


def _configuration() -> Any:
    from ezdxf.addons.drawing.config import BackgroundPolicy, Configuration, LinePolicy

    return Configuration(
        background_policy=BackgroundPolicy.WHITE, line_policy=LinePolicy.ACCURATE, min_dash_length=1e-3
    )


def _mm_per_unit(doc: Any) -> float:
    return 1.0 if doc.header["$MEASUREMENT"] else 25.4


def _extents(doc: Any) -> tuple[Any, Any]:
    return doc.header["$EXTMIN"], doc.header["$EXTMAX"]
