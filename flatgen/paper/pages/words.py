"""All words of frame, title block, tables and pages, in one place."""

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
    """Number and count of sheets.

    >>> sheet(2, 12)
    '2 / 12'
    """
    return f"{number} / {count}"


def continued(head: str) -> str:
    """Head of a table that continues from the block before.

    >>> continued("Bends")
    'Bends (continued)'
    """
    return f"{head} (continued)" if head else ""


def program(name: str, fingerprint: str) -> str:
    """The program and the fingerprint of the part.

    >>> program("flatgen 0.1.0", "3f2a")
    'Made with flatgen 0.1.0, fingerprint 3f2a'
    """
    program_name = f"Made with {name}" if name.strip() else ""
    return ", ".join(p for p in (program_name, f"fingerprint {fingerprint}" if fingerprint.strip() else "") if p)
