"""Runs of ``draw`` in a process of their own, slowed where files are written, to be killed there."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

PARTS = 3
PART = """title = "{title}"
units = "mm"
metal = "DC01"
thickness = 1.5
inside_radius = 2
length = {length}
section = [{{ leg = 20 }}, {{ bend = 90, way = "up" }}, {{ leg = 30, name = "web" }}]
[[opening]]
leg = "web"
shape = "round"
diameter = 5
across = 15
along = 20
"""

SCRIPT = """
import os, sys, time
import cadquery, ezdxf, matplotlib, shapely
from flatgen import cli, files
pause = float(sys.argv.pop(1))
def slow(function):
    def call(*given, **named):
        time.sleep(pause)
        made = function(*given, **named)
        time.sleep(pause)
        return made
    return call
os.replace, os.fsync = slow(os.replace), slow(os.fsync)
sys.argv[0] = "flatgen"
print("ready", flush=True)
cli.main()
"""
"""Imports first and says so, so that the time of a kill falls into the work; then each step of writing is slowed."""


def write_parts(folder: Path, length: int, title: str) -> list[str]:
    """Definitions of one state; their files' names, to be given to ``draw``."""
    folder.mkdir(parents=True, exist_ok=True)
    names = [f"part{number}.toml" for number in range(PARTS)]
    for name in names:
        (folder / name).write_text(PART.format(length=length, title=title), "utf-8")
    return names


def started(folder: Path, names: list[str], pause: float, out: Path | None = None) -> subprocess.Popen[str]:
    """A run that has done its imports and begins to draw; ``pause`` [s] before and after each step of writing."""
    command = [sys.executable, "-c", SCRIPT, str(pause), "draw", *names, "--out", str(out or folder / "out")]
    pipe = subprocess.PIPE
    run = subprocess.Popen(
        command, cwd=folder, stdout=pipe, stderr=subprocess.STDOUT, text=True, encoding="utf-8", errors="replace"
    )
    assert run.stdout is not None
    said = run.stdout.readline()
    assert said.startswith("ready"), said + run.stdout.read()
    return run
