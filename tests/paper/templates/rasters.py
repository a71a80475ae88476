"""Pages as an independent renderer (pdfium) sees them, measured in millimetres from the lower left corner."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pypdfium2

PX = 300 / 25.4
"""Pixels per millimetre at 300 dots per inch."""


class Pages:
    """All pages of a PDF, in darkness 0 to 255."""

    def __init__(self, data: bytes) -> None:
        pdf = pypdfium2.PdfDocument(data)
        self.sizes = [tuple(25.4 / 72 * v for v in page.get_size()) for page in pdf]
        self.ink: list[Any] = []
        for page in pdf:
            grey = np.squeeze(page.render(scale=300 / 72, grayscale=True).to_numpy())
            self.ink.append(255 - grey)
        pdf.close()

    def line(
        self, page: int, at: tuple[float, float], along: Literal["x", "y"], reach: float = 1.0, thick: float = 0.35
    ) -> float:
        """Where along an axis the line lies that crosses it near a place [mm]; averaged over ``thick`` beside it."""
        ink = self.ink[page]
        wide, tall = self.sizes[page]
        across, up = ink.shape[1] / wide, ink.shape[0] / tall  # pdfium fits the page to whole pixels
        column, row = at[0] * across, ink.shape[0] - at[1] * up
        if along == "x":
            low, high = round(column - reach * PX), round(column + reach * PX)
            strip = ink[round(row - thick * PX) : round(row + thick * PX) + 1, low:high].mean(axis=0)
            return (low + _middle(strip)) / across
        low, high = round(row - reach * PX), round(row + reach * PX)
        strip = ink[low:high, round(column - thick * PX) : round(column + thick * PX) + 1].mean(axis=1)
        return (ink.shape[0] - low - _middle(strip)) / up


def _middle(strip: Any) -> float:
    assert strip.max() > 50, "no line is here"
    at = np.arange(len(strip)) + 0.5
    return float((at * strip).sum() / strip.sum())
