"""Templates at true scale: the flat on sheets of paper to tape together, or on a plotter's roll."""
