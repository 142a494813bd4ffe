"""`midifret guitars`: the guitars and tunings that are set up, and where one's own belong."""

import click

from midifret.cli.app import app_of, json_option, print_document
from midifret.gear import guitar_names, load_guitar, load_tunings
from midifret.neck import pitch_name, spell


@click.command("guitars")
@json_option
@click.pass_context
def command(context: click.Context, as_json: bool) -> int:
    """List the guitars and the tunings, shipped ones and your own."""
    app = app_of(context)
    guitars = [load_guitar(name, app.home) for name in guitar_names(app.home)]
    tunings = load_tunings(app.home)
    if as_json:
        print_document(
            {
                "guitars": [
                    {
                        "guitar": guitar.name,
                        "title": guitar.title,
                        "tuning": guitar.neck.tuning.name,
                        "strings": guitar.neck.strings,
                        "frets": guitar.neck.frets,
                        "capo": guitar.neck.capo,
                        "channels": [
                            guitar.channel_of(string) + 1 for string in range(1, guitar.neck.strings + 1)
                        ],
                        "bend_range_semitones": guitar.bend_range_semitones,
                        "port": guitar.port,
                    }
                    for guitar in guitars
                ],
                "tunings": [
                    {"tuning": tuning.name, "title": tuning.title, "open_midi": list(tuning.open_midi)}
                    for tuning in tunings
                ],
                "folder": str(app.home.guitars),
            }
        )
        return 0
    language = app.settings.language
    click.echo("Guitars")
    for guitar in guitars:
        chosen = "*" if guitar.name == app.settings.guitar else " "
        capo = f", capo on fret {guitar.neck.capo}" if guitar.neck.capo else ""
        click.echo(f" {chosen} {guitar.name:<18} {guitar.title} ({guitar.neck.frets} frets{capo})")
    click.echo("\nTunings, strings from the last to the first")
    for tuning in tunings:
        names = " ".join(pitch_name(spell(midi)[0], language) for midi in reversed(tuning.open_midi))
        click.echo(f"   {tuning.name:<18} {names:<17} {tuning.title}")
    click.echo(f"\nYour own guitars belong in {app.home.guitars}, one file each,")
    click.echo(f"your own tunings in {app.home.tunings}, your settings in {app.home.settings}.")
    return 0
