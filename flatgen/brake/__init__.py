"""The brake: its shop file, how the bends of a blank lie in it, springback, load, and what it can bend."""
