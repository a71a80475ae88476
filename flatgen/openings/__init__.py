"""Shop rules for openings: the metal left about them, measured on a flat and judged."""
