"""Layers of the shop sheet: how each line is drawn. Colour only repeats what line type and width say."""

from __future__ import annotations

from flatgen.paper.drawing import document
from flatgen.paper.drawing.ink import CHAIN, Pen
from flatgen.paper.stage_pictures.stages import PENS as OF_STAGES

FRAME, TABLE = "FRAME", "TABLE"
"""Frame of the drawing space; lines of tables, of the title block, and boxes to write in."""
VISIBLE, HIDDEN, CENTRE = "VISIBLE", "HIDDEN", "CENTRE"
"""Edges of the formed part that are seen and that are not; axes of symmetry and centres."""
EXTENSION = "SIZES"
"""Dimension, extension and leader lines with their arrowheads, as in the pictures of the stages."""

PENS = {
    **OF_STAGES,
    FRAME: Pen(weight=0.7),
    TABLE: Pen(),
    VISIBLE: Pen(wide=True),
    HIDDEN: Pen(document.DASHED),
    CENTRE: Pen(CHAIN),
    **{
        name: Pen(pen.linetype, pen.wide, pen.number, pen.shade)
        for name, pen in document.PENS.items()
        if name != document.LABELS
    },
}
