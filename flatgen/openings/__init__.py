"""Shop rules that are watched on a flat: metal left about its openings. Knows flats, no definitions."""
