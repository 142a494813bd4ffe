"""`midifret guitars`: the guitars and tunings there are, and where one's own go."""

from typing import Any

import click

from midifret.cli.app import app_of, json_option, print_document
from midifret.files import shipped_folder
from midifret.gear import Guitar, guitar_names, load_guitar, load_tunings
from midifret.neck import Language, Tuning, pitch_name, spell
from midifret.terms import BadInput


@click.command("guitars")
@json_option
@click.pass_context
def command(context: click.Context, as_json: bool) -> int:
    """List the guitars and tunings, and say where to put your own."""
    app = app_of(context)
    guitars: list[Guitar] = []
    faults: list[BadInput] = []
    for name in guitar_names(app.home):
        try:
            guitars.append(load_guitar(name, app.home))
        except BadInput as error:
            faults.append(error)
    tunings = load_tunings(app.home)
    if as_json:
        print_document(guitars_document(guitars, tunings))
    else:
        _print(guitars, tunings, app.settings.guitar, app.settings.language)
        home = app.home
        click.echo(f"\nYour own guitars, one file each, go in {home.guitars}")
        click.echo("`midifret setup` writes one there by hearing you pluck. To write one by hand, copy")
        click.echo(f"{shipped_folder('config') / 'guitars' / 'default.yaml'} there and edit it.")
        click.echo(f"Your own tunings go in {home.tunings}")
        click.echo(f"Settings, such as which guitar is yours, go in {home.settings}")
    for fault in faults:
        click.echo(f"midifret: left out: {fault}", err=True)
    return 0


def guitars_document(guitars: list[Guitar], tunings: tuple[Tuning, ...]) -> dict[str, Any]:
    """What `guitars --json` prints.

    channels: of string 1, 2 ... as people count, 1 to 16; empty where no channel tells a string.
    """
    return {
        "guitars": [
            {
                "guitar": guitar.name,
                "title": guitar.title,
                "tuning": guitar.neck.tuning.name,
                "frets": guitar.neck.frets,
                "capo": guitar.neck.capo,
                "encoding": guitar.wiring.encoding.value,
                "channels": [guitar.wiring.channel_of(s) + 1 for s in range(1, guitar.neck.strings + 1)]
                if guitar.wiring.knows_strings
                else [],
            }
            for guitar in guitars
        ],
        "tunings": [
            {"tuning": tuning.name, "title": tuning.title, "open_midi": list(tuning.open_midi)}
            for tuning in tunings
        ],
    }


def _print(guitars: list[Guitar], tunings: tuple[Tuning, ...], chosen: str, language: Language) -> None:
    click.echo("Guitars")
    widest = max((len(guitar.name) for guitar in guitars), default=0)
    for guitar in guitars:
        neck = guitar.neck
        capo = f", capo {neck.capo}" if neck.capo else ""
        mark = "*" if guitar.name == chosen else " "
        click.echo(f"{mark} {guitar.name:<{widest}}  {guitar.title}")
        click.echo(f"  {'':<{widest}}  tuning {neck.tuning.name}, {neck.frets} frets{capo}")
    click.echo("  (* the one of your settings)\n")
    click.echo("Tunings, string 1 first")
    widest = max(len(tuning.name) for tuning in tunings)
    for tuning in tunings:
        names = " ".join(pitch_name(spell(midi)[0], language) for midi in tuning.open_midi)
        click.echo(f"  {tuning.name:<{widest}}  {names:<18}  {tuning.title}")
