"""`midifret places`: where a note can be played."""

from typing import Any

import click
from rich.console import Console

from midifret.cli.app import app_of, guitar_option, json_option, print_document
from midifret.drills.fields import position_number
from midifret.neck import Language, Neck, ReachedPlace, in_reach, parse_name, pitch_name
from midifret.show.neck import Mark, legend, small_neck
from midifret.show.report import print_rows
from midifret.show.run_figures import place_document
from midifret.show.words import place_words
from midifret.terms import BadInput, SpelledPitch


@click.command("places")
@click.argument("note")
@click.option("--position", metavar="N", default=None, help="Only where a hand in that position reaches it.")
@guitar_option
@json_option
@click.pass_context
def command(
    context: click.Context, note: str, position: str | None, guitar: str | None, as_json: bool
) -> int:
    """List where NOTE can be played.

    NOTE is a name, for example F# or Bb: every octave of it; with a number, F#3, it is one pitch, in
    octaves as they sound (E4 is the open first string). A position is a number or a Roman numeral, 0 the
    open position.
    """
    app = app_of(context)
    neck = app.guitar(guitar).neck
    step, alter, octave = _read(note, app.settings.language)
    hand = None if position is None else _position(position, neck)
    octaves = range(-1, 10) if octave is None else (octave,)
    pitches = [SpelledPitch(step, alter, each) for each in octaves]
    found = [(pitch, reached) for pitch in pitches for reached in _reached(neck, pitch.midi, hand)]
    if as_json:
        print_document(_document(note, None if octave is None else pitches[0].midi, neck, found))
        return 0
    name = pitch_name(pitches[0], app.settings.language)
    where = "" if hand is None else f" in position {position}"
    if not found:
        click.echo(f"{name} lies nowhere on this neck{where}.")
        return 0
    click.echo(f"{name}{where}:")
    for _, reached in found:
        extra = "  (the fourth finger stretches)" if reached.stretch else ""
        extra = "  (open, for it is nowhere else in reach)" if reached.open_only else extra
        click.echo(f"  {place_words(reached.place)}{extra}")
    console = Console()
    marks = {reached.place: Mark.SHOWN for _, reached in found}
    print_rows(console, ((), *small_neck(neck, marks, console.width), legend(marks.values())))
    return 0


def _reached(neck: Neck, midi: int, position: int | None) -> tuple[ReachedPlace, ...]:
    if position is None:
        return tuple(ReachedPlace(place) for place in neck.places(midi))
    return in_reach(neck, position, midi)


def _read(note: str, language: Language) -> tuple[str, int, int | None]:
    """Read a name in the player's language, or else in English."""
    try:
        return parse_name(note, language)
    except ValueError as error:
        try:
            return parse_name(note)
        except ValueError:
            raise BadInput(str(error)) from None


def _position(text: str, neck: Neck) -> int:
    try:
        position = position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None
    if position > neck.last_fret:
        raise BadInput(f"there is no position {text} here", allowed=f"0 (open) to {neck.last_fret}")
    return position


def _document(
    note: str, midi: int | None, neck: Neck, found: list[tuple[SpelledPitch, ReachedPlace]]
) -> dict[str, Any]:
    """What `places --json` prints: the note as asked, its MIDI number if it has an octave, and its places."""
    return {
        "note": note,
        "midi": midi,
        "places": [
            {
                **place_document(reached.place),
                "stretch": reached.stretch,
                "open_only": reached.open_only,
                "midi": neck.midi(reached.place),
                "name": str(pitch),
            }
            for pitch, reached in found
        ],
    }
