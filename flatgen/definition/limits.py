"""What sizes a definition may have [mm, deg]: outside of these a number is a slip, or cannot be drawn true."""

from __future__ import annotations

LEAST_THICKNESS = 0.05
LARGEST_THICKNESS = 25.0
LEAST_RADIUS = 0.001
LARGEST_RADIUS = 5000.0
RADII = (LEAST_RADIUS, LARGEST_RADIUS)
LEAST_SIZE = 0.001
"""Of a leg, of the part's length and of an allowance [mm]."""
LARGEST_SIZE = 50_000.0
SIZES = (LEAST_SIZE, LARGEST_SIZE)
SIGNED_SIZES = (-LARGEST_SIZE, LARGEST_SIZE)
LEAST_FLAT = 0.001
"""Between the tangent lines of a leg, and across a bend [mm]."""
LEAST_ANGLE = 0.05
"""Of a bend [deg]; less cannot be set on a protractor, nor told from a flat by the kernel at small radii."""
LEAST_ARC = 1e-5
"""Of a bend's inside face [mm]."""
LARGEST_ANGLE = 180.0
"""Bend angles stay below [deg]."""
LARGEST_TURN = 360.0
"""Either way, of an opening or a cut [deg]."""
LARGEST_TILT = 89.0
"""Either way, of a cut's tool [deg]."""
MOST_LEGS = 500
MOST_OPENINGS = 5000
"""Of a part, all rows together."""
MOST_CUTS = 100
LEAST_OPENING = 0.01
"""Of an opening and of a tool [mm]."""
LEAST_EDGE = 0.001
"""A straight side of an opening, and metal between an opening and the part's edge [mm]."""
LONGEST_LABEL = 12
EQUAL = 1e-9
"""Angles and radii that differ by less are the same [deg, mm]."""
EDGE = 1e-9
"""A size may pass a bound by this, which is rounding [mm]."""
