"""Compare all that two checkouts of flatgen write, for a change that must move nothing.

``python -m tests.compare_outputs OLD NEW [WORK]``, in the checkout that this file belongs to: OLD and NEW are checkouts
(``git worktree add ../old COMMIT``), WORK a folder for what both write. Every command runs over the demo parts, 200
random parts, mutated definitions, shop files and metal tables, strips that are measured and learned, and the real parts
beside this checkout; all files and all printed answers are compared byte for byte. Two things are left out: where a
checkout lies, and coordinates of STEP files under 1e-12 mm, which the kernel itself does not repeat.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

RANDOM_PARTS, MUTANTS, SHOPS, TABLES = 200, 300, 150, 40
PIECE = 50
"""Mutants that one job takes."""
EVERYTHING = "cut,png,plotter,sheet-dxf,sheet-svg,sheet-png"
MOST = "cut,plotter,sheet-dxf"
ON_PAPER = ("--paper", "Letter", "--faces", "near,far", "--projection", "third", "--marks", "ticks")
IN_INCHES = ("--inches", "--inch-as", "64", "--plotter-width", "600")
WRONG = (
    ("draw", "no.toml"),
    ("draw", "profiles/shop.toml"),
    ("check", "profiles"),
    ("draw", "profiles/roof-rail.toml", "--only", "zip"),
    ("draw", "profiles/roof-rail.toml", "--paper", "B9"),
    ("draw", "profiles/roof-rail.toml", "--hold", "A=zz"),
    ("draw", "profiles/roof-rail.toml", "--order", "Q"),
    ("plan", "profiles/roof-rail.toml", "--set-up", "zz"),
    ("unfold", "profiles/roof-rail.toml"),
    ("draw", "profiles/roof-rail.toml", "profiles/roof-rail.toml"),
    ("draw", "profiles/roof-rail.toml", "--printer-scale", "a"),
    ("learn", "profiles/roof-rail.toml"),
)
Job = tuple[str, Callable[[], None]]
Run = Callable[..., None]


def write_inputs(folder: Path) -> None:
    """The parts that both checkouts are given."""
    from tests.opened_sections import opened_part
    from tests.places import PARTS, PROFILES, ROOT
    from tests.sections import random_section
    from tests.untrusted.mutants import bases, mutated

    shutil.copytree(PROFILES, folder / "profiles")
    for name in ("planned", "plain", "mutants", "shops", "tables", "real"):
        (folder / name).mkdir()
    for seed in range(RANDOM_PARTS):
        place = folder / ("planned" if seed % 4 < 2 else "plain")
        random_section(seed + 5000, place, most=7) if seed % 2 == 0 else opened_part(seed + 7000, place)
    known, shop = bases(), (PROFILES / "shop.toml").read_bytes()
    (folder / "planned" / "shop.toml").write_bytes(shop)
    table = (ROOT / "flatgen" / "metal" / "data" / "metals.toml").read_bytes()[:3000].rsplit(b"\n[", 1)[0]
    for n in range(MUTANTS):
        (folder / "mutants" / f"m{n}.toml").write_bytes(mutated(known[n % len(known)], random.Random(n)))
    for n in range(SHOPS):
        (folder / "shops" / f"s{n}.toml").write_bytes(mutated(shop, random.Random(n)))
    for n in range(TABLES):
        (folder / "tables" / f"t{n}.toml").write_bytes(mutated(table, random.Random(n)))
    for path in sorted(PARTS.rglob("*.st*p")):
        shutil.copy(path, folder / "real" / path.name)


def jobs(inputs: Path, run: Run) -> Iterator[Job]:
    """Each in a folder of its own, which is the working folder while it runs."""
    for path in sorted((inputs / "profiles").glob("*.toml")):
        if path.name != "shop.toml":
            yield f"demo/{path.stem}", lambda p=path: demo(inputs, p.stem, run)  # type: ignore[misc]
    for path in sorted((inputs / "real").iterdir()):
        yield f"real/{path.stem}", lambda p=path: real(inputs, p, run)  # type: ignore[misc]
    for kind in ("planned", "plain"):
        for n, path in enumerate(p for p in sorted((inputs / kind).glob("*.toml")) if p.name != "shop.toml"):
            yield f"{kind}/{path.stem}", lambda p=path, n=n: drawn(p, n, run)  # type: ignore[misc]
    for low in range(0, MUTANTS, PIECE):
        yield f"mutants/{low}", lambda low=low: mutants(inputs, low, run)  # type: ignore[misc]
    for low in range(0, SHOPS, PIECE):
        yield f"shops/{low}", lambda low=low: shops(inputs, low, run)  # type: ignore[misc]
    yield "others/all", lambda: others(inputs, run)
    yield "learning/all", lambda: learning(inputs, run)


def demo(inputs: Path, name: str, run: Run) -> None:
    """A demo part through every command."""
    shutil.copytree(inputs / "profiles", "profiles")
    part, step = f"profiles/{name}.toml", f"out/{name}/{name}.formed.step"
    run("draw", part, "--also", EVERYTHING)
    run("draw", part, "--out", "o2", "--json", "--also", MOST, *ON_PAPER, *IN_INCHES)
    run("draw", part, "--out", "o3", "--as-formed")
    run("plan", part, "--png")
    run("plan", part, "--json", "--set-up", "any", "--no-pictures")
    run("plan", part, "--why", "A", "--no-pictures")
    run("check", part)
    run("strip", part)
    run("strip", part, "--json", "--out", "o4", "--width", "30 mm")
    run("strip", part, "--teaching", "--out", "o5")
    Path("alone").mkdir()
    shutil.copy(part, "alone")
    run("draw", f"alone/{name}.toml", "--out", "o6", "--also", MOST)
    run("unfold", step, "--metal", "DC01", "--out", "o7", "--also", MOST)
    run("unfold", step, "--metal", "DC01", "--shop", "profiles/shop.toml", "--out", "o8", "--json")


def real(inputs: Path, path: Path, run: Run) -> None:
    """A stranger's STEP file."""
    shutil.copy(path, ".")
    shutil.copy(inputs / "profiles" / "shop.toml", "brake.toml")
    run("unfold", path.name, "--metal", "DC01", "--out", "o1", "--skip-formed", "--inside-radius", "2 mm")
    run("unfold", path.name, "--k", "0.44", "--metal", "DC01", "--out", "o3", "--shop", "brake.toml", "--near", "+z")
    run("strip", path.name, "--metal", "DC01", "--shop", "brake.toml", "--out", "o4")


def drawn(path: Path, number: int, run: Run) -> None:
    """A random part, with the demo's brake beside it or without."""
    planned = path.parent.name == "planned"
    shutil.copy(path, ".")
    if planned:
        shutil.copy(path.parent / "shop.toml", ".")
    run("check", path.name)
    run("draw", path.name, "--also", MOST if number % 4 == 0 else "cut")
    if planned:
        run("plan", path.name, "--json")
    if planned and number % 5 == 0:
        run("strip", path.name)
    if number % 10 == 0:
        run("unfold", f"out/{path.stem}/{path.stem}.formed.step", "--metal", "DC01", "--out", "o7")


def mutants(inputs: Path, low: int, run: Run) -> None:
    """Definitions with slips: their messages."""
    for n in range(low, low + PIECE):
        shutil.copy(inputs / "mutants" / f"m{n}.toml", ".")
        run("check", f"m{n}.toml")
        if n % 5 == 0:
            run("draw", f"m{n}.toml", "--only", "dxf,json")


def shops(inputs: Path, low: int, run: Run) -> None:
    """Shop files with slips."""
    shutil.copy(inputs / "profiles" / "roof-rail.toml", ".")
    for n in range(low, low + PIECE):
        shutil.copy(inputs / "shops" / f"s{n}.toml", ".")
        run("plan", "roof-rail.toml", "--shop", f"s{n}.toml", "--no-pictures")


def others(inputs: Path, run: Run) -> None:
    """Help, metals, files to begin from, capacity, and what is refused."""
    shutil.copytree(inputs / "profiles", "profiles")
    for command in ("", "start", "draw", "unfold", "check", "metals", "plan", "capacity", "strip", "learn", "learned"):
        run(*filter(None, (command, "--help")))
    for arguments in (("metals",), ("metals", "--json"), ("metals", "6061-T6"), ("metals", "nometal")):
        run(*arguments)
    for arguments in (("start", "mine"), ("start", "--shop"), ("start", "mine"), ("start", "a/b")):
        run(*arguments)
    run("capacity", "--shop", "profiles/shop.toml")
    run("capacity", "--shop", "profiles/shop.toml", "--json", "--metal", "DC01")
    run("learned", "--shop", "profiles/shop.toml")
    for arguments in WRONG:
        run(*arguments)
    for n in range(TABLES):
        shutil.copy(inputs / "tables" / f"t{n}.toml", ".")
        run("metals", "--metals", f"t{n}.toml")


def learning(inputs: Path, run: Run) -> None:
    """Strips measured, learned, and what becomes of the parts."""
    shutil.copytree(inputs / "profiles", "profiles")
    shop = ("--shop", "profiles/shop.toml")
    for turn, name in enumerate(("roof-rail", "roof-rail", "pier-channel", "eave-angle")):
        run("strip", f"profiles/{name}.toml")
        form = sorted(Path(f"out/{name}-strip").glob("*.form*.toml"))[-1]
        form.write_text(filled_in(form.read_text("utf-8"), random.Random(turn)), "utf-8")
        run("learn", str(form), *shop)
        run("learn", str(form), "--as-measured", *shop, "--json")
        run("learned", *shop, "--report", "--out", f"report{turn}")
        run("learned", *shop, "--json")
        run("draw", f"profiles/{name}.toml", "--out", f"d{turn}")
        run("plan", f"profiles/{name}.toml", "--json", "--no-pictures")
        run("check", f"profiles/{name}.toml")
        step = f"d{turn}/{name}/{name}.formed.step"
        run("unfold", step, "--metal", "6061-T6", *shop, "--out", f"u{turn}")


def filled_in(form: str, rng: random.Random) -> str:
    """A form with numbers near those that were planned."""
    tables = []
    for table in re.split(r"(?m)^(?=\[\[)", form):
        planned = dict(re.findall(r'(?m)^(\w+) = "?([\d.]+)', table))
        values = {}
        if "asked" in planned:
            values["got"] = f'"{float(planned["asked"]) + rng.uniform(-0.15, 0.15):.2f} mm"'
        if "nominal" in planned:
            values |= {"thickness": f'"{float(planned["nominal"]) + 0.01:.3f} mm"', "sheet": '"batch 1"'}
        if "blank" in planned:
            values["blank_got"] = f'"{float(planned["blank"]) + rng.uniform(-0.05, 0.05):.2f} mm"'
        if "angle" in planned:
            angle = float(planned["angle"])
            values |= {"angle_got": f"{angle + rng.uniform(-0.4, 0.4):.2f}", "angle_set": f"{angle * 1.04 + 0.8:.1f}"}
            values |= {"place": '"middle"', "radius_got": f'"{float(planned["inside_radius"]) + 0.1:.2f} mm"'}
        for key, value in values.items():
            table = re.sub(rf'(?m)^{key} = "".*$', f"{key} = {value}", table)
        tables.append(table)
    return "".join(tables)


def run_all(inputs: Path, out: Path, before: Path, share: int) -> None:
    """Every second job of a checkout; what earlier STEP files were is unfolded again, so that noise does not spread."""
    from flatgen.cli import main

    count = 0

    def run(*arguments: str) -> None:
        nonlocal count
        count += 1
        step = Path(arguments[1]) if arguments[0] == "unfold" and arguments[1].endswith(".formed.step") else None
        twin = None if step is None else before / Path.cwd().relative_to(out) / step
        if step is not None and twin is not None and step.is_file() and twin.is_file() and twin != step.resolve():
            step.with_name(f"{step.name}.own").write_bytes(step.read_bytes())
            shutil.copy(twin, step)
        printed, errors, code = io.StringIO(), io.StringIO(), 0
        sys.argv = ["flatgen", *arguments]
        with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(errors):
            try:
                main()
            except SystemExit as stopped:
                code = stopped.code if isinstance(stopped.code, int) else 0
        answer = f"{arguments}\n{code}\n{printed.getvalue()}\n{errors.getvalue()}"
        Path(f"{count:03}.answer").write_text(answer, "utf-8")

    for n, (name, job) in enumerate(jobs(inputs, run)):
        if n % 2 == share:
            (out / name).mkdir(parents=True)
            os.chdir(out / name)
            count = 0
            job()
            print(name, flush=True)


def plain(content: bytes, out: Path) -> bytes:
    """Without where it lies, and without the kernel's noise."""
    content = content.replace(str(out).encode(), b"OUT")
    if content.startswith(b"ISO-10303-21"):
        content = re.sub(rb"-?\d\.\d*E-(1[2-9]|[2-9]\d)|-0\.(?=[,)])", b"0.", content)
    return content


def differences(old: Path, new: Path) -> tuple[int, list[str]]:
    """How many files there are, and those that are not the same."""
    names = {p.relative_to(side) for side in (old, new) for p in side.rglob("*") if p.is_file() and p.suffix != ".own"}
    wrong = []
    for name in sorted(names):
        one, other = old / name, new / name
        own = other.with_name(f"{name.name}.own")
        other = own if own.is_file() else other
        if not (one.is_file() and other.is_file()):
            wrong.append(f"only in one: {name}")
        elif plain(one.read_bytes(), old) != plain(other.read_bytes(), new):
            wrong.append(f"differs: {name}")
    return len(names), wrong


def main() -> int:
    """Run both checkouts, two processes at a time, and say what is not the same."""
    old, new = (Path(a).resolve() for a in sys.argv[1:3])
    work = Path(sys.argv[3] if len(sys.argv) > 3 else "out/compared").resolve()
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True)
    write_inputs(work / "inputs")
    for name, tree in (("old", old), ("new", new)):
        settings = {"PYTHONPATH": str(tree), "COLUMNS": "200", "NO_COLOR": "1", "SOURCE_DATE_EPOCH": "1700000000"}
        command = [sys.executable, __file__, "--run", str(work / "inputs"), str(work / name), str(work / "old")]
        both = [subprocess.Popen([*command, str(n)], env={**os.environ, **settings}) for n in range(2)]
        codes = [process.wait() for process in both]
        if any(codes):
            return 1
    count, wrong = differences(work / "old", work / "new")
    print(f"{count} files and answers, {len(wrong)} differ", *wrong, sep="\n")
    return int(bool(wrong))


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit("give two checkouts: python -m tests.compare_outputs OLD NEW [WORK]")
    if sys.argv[1] == "--run":
        run_all(Path(sys.argv[2]), Path(sys.argv[3]), Path(sys.argv[4]), int(sys.argv[5]))
    else:
        sys.exit(main())
