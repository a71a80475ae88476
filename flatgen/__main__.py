"""``python -m flatgen``: the command line."""

from flatgen.cli import main

main()
