"""The commands about a brake: what it can bend, and how a part is bent on it. Neither needs a solid."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from flatgen.cli.options import AsJson, Folder, Hold, Order, Profiles, SetUpName, ShopFile, Tables
from flatgen.cli.terminal import Row, each, new_console, own_tables, print_json
from flatgen.core.garbage_collection import gc_paused


def plan(
    profiles: Profiles,
    shop: ShopFile = None,
    set_up: SetUpName = "",
    hold: Hold = "",
    order: Order = "",
    as_formed: Annotated[
        bool, typer.Option("--as-formed", help="with the inside radii that the brake gives, not those asked for")
    ] = False,
    why: Annotated[
        str, typer.Option("--why", metavar="LABEL", help="what keeps this bend from coming earlier, with pictures")
    ] = "",
    out: Folder = Path("out"),
    drawn: Annotated[bool, typer.Option("--pictures/--no-pictures", help="a picture of each stage, as SVG")] = True,
    png: Annotated[bool, typer.Option("--png", help="the pictures as PNG too")] = False,
    metals: Tables = None,
    as_json: AsJson = False,
) -> None:
    """The best order of bending on your brake: sight lines, held sides, leaf angles, loads, a picture of each stage."""
    from flatgen.bend_order.decide import earlier_attempts
    from flatgen.cli import print_part
    from flatgen.jobs import plan as plan_job
    from flatgen.jobs import record
    from flatgen.jobs.draw import metals_beside
    from flatgen.paper.stage_pictures import pictures

    def one(path: Path) -> Iterator[Row]:
        table, own = metals_beside(path, tuple(metals or ()))
        done = plan_job.plan(path, table, shop, set_up, hold, order, re_formed=as_formed)
        part, made = done.profile, done.schedule
        tries = earlier_attempts(done.decision, why, lambda n: part.leg_name(n) or part.leg_text(n)) if why else ()
        files: list[Path] = []
        if drawn:
            shown = pictures.stage_pictures(part, made, done.decision)
            files += pictures.write_pictures(part, shown, out / part.name, "stage", png=png)
            shown = pictures.attempt_pictures(part, tries, made.shop.safe_clearance)
            files += pictures.write_pictures(part, shown, out / part.name, f"why-{why}", png=png)

        def show(console: Any) -> None:
            print_part.heading(console, part)
            own_tables(console, own)
            if made.stages:
                print_part.stages(console, part, made)
                print_part.details(console, part, made)
            else:
                print_part.say(console, "  no bend: nothing to plan")
            print_part.reasons(console, part, why, tries)
            print_part.findings(console, done.findings)
            print_part.cautions(console)
            print_part.written(console, files)

        told = record.plan_record(part, made, done.findings) | {"files": [f.as_posix() for f in files]}
        if why:
            told["why"] = print_part.why_record(part, why, tries)
        yield done.exit_status, told, show

    with gc_paused():
        each(profiles, one, as_json)


def capacity(
    shop: ShopFile = None,
    metal: Annotated[
        list[str] | None, typer.Option("--metal", metavar="METAL", help="a metal of flatgen metals; may be repeated")
    ] = None,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="folder for capacity.svg")] = Path("out"),
    tables: Tables = None,
    as_json: AsJson = False,
) -> None:
    """What your brake can bend: thickness against length, by metal and set-up, and what limits it."""
    from flatgen.brake.capacity import capacity_curves, chart_svg, default_metals
    from flatgen.cli import print_capacity
    from flatgen.core.files import write_all
    from flatgen.jobs.draw import metals_beside
    from flatgen.jobs.plan import shop_for
    from flatgen.unfolding.received.request import metal_named

    brake = shop_for(shop or Path("shop.toml"), shop)
    known, own = metals_beside(Path(brake.path), tuple(tables or ()))
    chosen = [metal_named(name, known) for name in metal] if metal else default_metals(known)
    curves = capacity_curves(brake, chosen)
    files = write_all(out, {"capacity.svg": chart_svg(brake, curves).encode()})
    if as_json:
        print_json(print_capacity.record(brake, curves) | {"files": [f.as_posix() for f in files]})
        return
    console = new_console()
    own_tables(console, own)
    print_capacity.show(console, brake, curves)
    console.print(f"  wrote   {files[0]}", markup=False, highlight=False, soft_wrap=True)
