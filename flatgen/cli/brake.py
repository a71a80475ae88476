"""The commands about a brake: what it can bend, and how a part is bent on it. Neither needs a solid."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from flatgen.cli.options import AsJson, Folder, Hold, Order, Profiles, SetUpName, ShopFile, Tables
from flatgen.cli.terminal import Row, each, new_console, own_tables, print_json
from flatgen.core.memory import uncollected


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
    from flatgen.bend_order import decide as asked
    from flatgen.cli import print_part as answer_schedule
    from flatgen.jobs import plan as planned
    from flatgen.jobs import record
    from flatgen.jobs.draw import metals_beside
    from flatgen.paper.stage_pictures import pictures as staged

    def one(path: Path) -> Iterator[Row]:
        table, own = metals_beside(path, tuple(metals or ()))
        done = planned.plan(path, table, shop, set_up, hold, order, re_formed=as_formed)
        part, made = done.profile, done.schedule
        tries = asked.why(done.decision, why, lambda n: part.leg_name(n) or part.leg_text(n)) if why else ()
        files: list[Path] = []
        if drawn:
            shown = staged.pictures(part, made, done.decision)
            files += staged.write_pictures(part, shown, out / part.name, "stage", png=png)
            shown = staged.tried(part, tries, made.shop.safe_clearance)
            files += staged.write_pictures(part, shown, out / part.name, f"why-{why}", png=png)

        def show(console: Any) -> None:
            from flatgen.cli import print_part as answer

            answer.heading(console, part)
            own_tables(console, own)
            if made.stages:
                answer_schedule.stages(console, part, made)
                answer_schedule.details(console, part, made)
            else:
                answer_schedule.say(console, "  no bend: nothing to plan")
            answer_schedule.reasons(console, part, why, tries)
            answer.findings(console, done.findings)
            answer_schedule.cautions(console)
            answer_schedule.written(console, files)

        told = record.planned(part, made, done.findings) | {"files": [f.as_posix() for f in files]}
        if why:
            told["why"] = answer_schedule.why_record(part, why, tries)
        yield done.exit_status, told, show

    with uncollected():
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
    from flatgen.brake import capacity as chart
    from flatgen.brake import capacity as found
    from flatgen.cli import print_capacity as answer_capacity
    from flatgen.core.files import write_all
    from flatgen.jobs.draw import metals_beside
    from flatgen.jobs.plan import shop_for
    from flatgen.unfolding.received.request import metal_of

    brake = shop_for(shop or Path("shop.toml"), shop)
    known, own = metals_beside(Path(brake.path), tuple(tables or ()))
    chosen = [metal_of(name, known) for name in metal] if metal else found.usual_metals(known)
    curves = found.capacity(brake, chosen)
    files = write_all(out, {"capacity.svg": chart.chart_svg(brake, curves).encode()})
    if as_json:
        print_json(answer_capacity.record(brake, curves) | {"files": [f.as_posix() for f in files]})
        return
    console = new_console()
    own_tables(console, own)
    answer_capacity.show(console, brake, curves)
    console.print(f"  wrote   {files[0]}", markup=False, highlight=False, soft_wrap=True)
