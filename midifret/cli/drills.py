"""`midifret drills`: the drills there are, by stage."""

from itertools import groupby
from typing import Any

import click
from rich.console import Console
from rich.table import Table
from rich.text import Text

from midifret.cli.app import app_of, guitar_option, json_option, print_document, warn
from midifret.drills import Drill, build
from midifret.drills.library import load_all
from midifret.terms import BadInput


@click.command("drills")
@guitar_option
@json_option
@click.pass_context
def command(context: click.Context, guitar: str | None, as_json: bool) -> int:
    """List the drills by stage, the shipped ones and your own."""
    app = app_of(context)
    neck = app.guitar(guitar).neck
    drills, errors = load_all(app.home)
    counted: list[tuple[Drill, int]] = []
    faults = list(errors)
    for drill in drills:
        try:
            counted.append((drill, len(build(drill, neck).prompts)))
        except BadInput as error:
            faults.append(error)
    if as_json:
        print_document(drills_document(counted))
    else:
        _print(counted)
        click.echo("\n`midifret preview NAME` shows what a drill asks. Your own drills go in")
        click.echo(f"{app.home.drills}")
    for fault in faults:
        warn(f"left out: {fault}")
    return 0


def drills_document(counted: list[tuple[Drill, int]]) -> dict[str, Any]:
    """What `drills --json` prints: for each drill its name, title, stage and number of prompts."""
    return {
        "drills": [
            {"drill": d.name, "title": d.content.title, "stage": d.content.stage, "prompts": prompts}
            for d, prompts in counted
        ]
    }


def _print(counted: list[tuple[Drill, int]]) -> None:
    console = Console(highlight=False)
    widest = max((len(drill.name) for drill, _ in counted), default=0)
    for stage, members in groupby(counted, key=lambda pair: pair[0].content.stage):
        console.print(Text(f"\n{stage}", style="bold"))
        table = Table.grid(padding=(0, 2, 0, 0))
        table.add_column(min_width=widest + 2, no_wrap=True)
        table.add_column(justify="right")
        table.add_column()
        for drill, prompts in members:
            own = "" if drill.shipped else " (your own)"
            table.add_row(Text(f"  {drill.name}"), Text(str(prompts)), Text(drill.content.title + own))
        console.print(table)
