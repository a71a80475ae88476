"""What a file that is whole looks like, told by readers that are not flatgen's own writers."""

from __future__ import annotations

import json
import xml.etree.ElementTree as Xml
from pathlib import Path

ENDS = (".flat.dxf", ".formed.step", ".flat.svg", ".layout.pdf", ".sheet.pdf", ".json")
"""The usual files of a part, by the ends of their names."""


def files_in(folder: Path) -> list[Path]:
    """All files of a folder and its folders, hidden ones as well."""
    return sorted(p for p in folder.rglob("*") if not p.is_dir()) if folder.exists() else []


def parts_in(folder: Path) -> list[Path]:
    """Files that are still on their way to a name."""
    return [p for p in files_in(folder) if p.name.endswith(".part")]


def why_not_whole(path: Path, *, closely: bool = True) -> str:
    """What is wrong with a finished file; empty where it is whole. ``closely`` lets ezdxf audit a DXF."""
    try:
        if path.name.endswith(".dxf"):
            return _dxf(path, closely)
        if path.name.endswith(".step"):
            text = path.read_bytes()
            good = text.startswith(b"ISO-10303-21;") and text.rstrip().endswith(b"END-ISO-10303-21;")
            return "" if good else f"{path.name}: STEP without its end"
        if path.name.endswith(".svg"):
            root = Xml.fromstring(path.read_bytes())
            return "" if root.tag.endswith("svg") else f"{path.name}: no svg but {root.tag}"
        if path.name.endswith(".pdf"):
            return _pdf(path, closely)
        if path.name.endswith(".json"):
            held = json.loads(path.read_bytes().decode("utf-8"))
            return "" if held["files"] and held["fingerprint"] else f"{path.name}: JSON without its files"
    except Exception as error:
        return f"{path.name}: {type(error).__name__}: {error}"
    return f"{path.name}: no file that flatgen writes"


def _pdf(path: Path, closely: bool) -> str:
    text = path.read_bytes()
    if not (text.startswith(b"%PDF-") and text.rstrip().endswith(b"%%EOF")):
        return f"{path.name}: PDF without its end"
    if not closely:
        return ""
    import pypdfium2

    document = pypdfium2.PdfDocument(text)
    pages = len(document)
    document.close()
    return "" if pages else f"{path.name}: PDF without a page"


def _dxf(path: Path, closely: bool) -> str:
    import ezdxf

    if not path.read_bytes().rstrip().endswith(b"EOF"):
        return f"{path.name}: DXF without its end"
    if not closely:
        return ""
    found = ezdxf.readfile(path).audit()
    return f"{path.name}: {found.errors[0].message}" if found.errors else ""
