"""Shared by all tests: seeded property tests, and a way to run commands in this process."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, settings

QUIET = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
settings.register_profile("house", derandomize=True, deadline=None, database=None, suppress_health_check=QUIET)
settings.load_profile("house")


@dataclass(frozen=True)
class Ran:
    """What a command left: exit status and what it printed."""

    exit_code: int
    stdout: str
    stderr: str


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """Run a command of flatgen through its real entry point, in this process."""

    def call(*arguments: str) -> Ran:
        from flatgen.cli import app as cli

        monkeypatch.setattr(sys, "argv", ["flatgen", *arguments])
        capsys.readouterr()
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        printed = capsys.readouterr()
        code = stopped.value.code
        return Ran(code if isinstance(code, int) else 0 if code is None else 1, printed.out, printed.err)

    return call
