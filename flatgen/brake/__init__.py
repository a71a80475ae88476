"""The machine that bends: what it is, what it does to a bend, and the schedule of a part on it."""
