"""The version, in its one place: the package, its files and its answers take it from here."""

__version__ = "0.1.0"
