"""Drawings of flat patterns, their lettering, ink on paper, and files: DXF, SVG, PNG, PDF."""

from flatgen.paper.drawing.document import VERSIONS, flat_document
from flatgen.paper.drawing.facts import Notes
from flatgen.paper.drawing.writers import dxf_bytes, png_bytes, svg_text

__all__ = ["VERSIONS", "Notes", "dxf_bytes", "flat_document", "png_bytes", "svg_text"]
