"""Every word of frame, title block, tables and pages, in one place."""

from __future__ import annotations

OWNER = "Owner"
CREATOR = "Created by"
APPROVAL = "Approved by, signature"
DATE = "Date of issue"
KIND = "Document type"
TITLE = "Title"
NUMBER = "Identification no."
REVISION = "Revision"
SHEET = "Sheet"
TOLERANCE = "General tolerance"
SCALE = "Scale"
UNIT = "Sizes in"
PAPER = "Paper"
PROJECTION = "Projection"


def sheet(number: int, count: int) -> str:
    """Which sheet of how many.

    >>> sheet(2, 12)
    '2 / 12'
    """
    return f"{number} / {count}"


def continued(head: str) -> str:
    """Head of a table that goes on from the block before.

    >>> continued("Bends")
    'Bends (continued)'
    """
    return f"{head} (continued)" if head else ""


def program(name: str, fingerprint: str) -> str:
    """What made the sheet, and from what.

    >>> program("flatgen 0.1.0", "3f2a")
    'Made with flatgen 0.1.0, fingerprint 3f2a'
    """
    made = f"Made with {name}" if name.strip() else ""
    return ", ".join(p for p in (made, f"fingerprint {fingerprint}" if fingerprint.strip() else "") if p)
