"""The road of each command, for the command line and for ``import flatgen`` alike."""
