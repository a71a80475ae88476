"""Where things stand: this checkout, its demo profiles, and real parts beside it (skipped where they are absent)."""

from __future__ import annotations

from pathlib import Path

TESTS = Path(__file__).resolve().parent
ROOT = TESTS.parent
PROFILES = ROOT / "profiles"
PARTS = ROOT.parent / "shared" / "parts"
