"""The command line: options in, a readable answer out, an exit status."""

from flatgen.cli.app import main

__all__ = ["main"]
