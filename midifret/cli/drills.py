"""`midifret drills`: the drills there are, by stage."""

import itertools

import click

from midifret.cli.app import app_of, guitar_option, json_option, print_document, warn
from midifret.drills import Drill, build
from midifret.drills.library import load_all
from midifret.terms import BadInput


@click.command("drills")
@guitar_option
@json_option
@click.pass_context
def command(context: click.Context, guitar: str | None, as_json: bool) -> int:
    """List the drills, shipped ones and your own, in the order of the method.

    A drill that this guitar has not the strings or frets for is listed without a number of prompts.
    """
    app = app_of(context)
    neck = app.guitar(guitar).neck
    drills, errors = load_all(app.home)
    prompts: dict[str, int | None] = {}
    for drill in drills:
        try:
            prompts[drill.name] = len(build(drill, neck).prompts)
        except BadInput:
            prompts[drill.name] = None
    if as_json:
        print_document(
            {
                "drills": [
                    {
                        "drill": drill.name,
                        "title": drill.content.title,
                        "stage": drill.content.stage,
                        "prompts": prompts[drill.name],
                    }
                    for drill in drills
                ]
            }
        )
    else:
        _list(drills, prompts)
        click.echo("\nPlay one: midifret drill NAME    See what it asks: midifret preview NAME")
        click.echo(f"Your own drills belong in {app.home.drills}")
    for error in errors:
        warn(str(error))
    return 2 if errors else 0


def _list(drills: tuple[Drill, ...], prompts: dict[str, int | None]) -> None:
    width = max((len(drill.name) for drill in drills), default=0)
    for stage, members in itertools.groupby(drills, key=lambda drill: drill.content.stage):
        click.echo(f"\n{stage}")
        for drill in members:
            count = prompts[drill.name]
            shown = "not on this guitar" if count is None else f"{count:>3} prompts"
            click.echo(f"  {drill.name:<{width}}  {shown}  {drill.content.title}")
