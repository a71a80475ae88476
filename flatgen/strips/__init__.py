"""Test strips: what was bent and measured, the log that keeps it, and what is learned from it."""
