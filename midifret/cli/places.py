"""`midifret places`: where a note can be played."""

from dataclasses import dataclass
from typing import Any

import click

from midifret.cli.app import app_of, guitar_option, json_option, print_document
from midifret.drills.fields import position_number
from midifret.neck import Language, Neck, in_reach, parse_name, pitch_name
from midifret.terms import BadInput, Place, SpelledPitch

OCTAVES = range(-1, 10)


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """A place of the note. stretch: the fourth finger has to stretch for it in the position asked for."""

    place: Place
    midi: int
    stretch: bool = False
    open_only: bool = False


@click.command("places")
@click.argument("note")
@click.option(
    "--position", metavar="N", default=None, help="Only within a position, 5 or V; 0 is the open one."
)
@guitar_option
@json_option
@click.pass_context
def command(
    context: click.Context, note: str, position: str | None, guitar: str | None, as_json: bool
) -> int:
    """List where NOTE can be played: F# in all octaves, or F#3 as sounded (E4 is the open first string)."""
    app = app_of(context)
    neck = app.guitar(guitar).neck
    step, alter, octave = _parsed(note, app.settings.language)
    number = None if position is None else _position(position, neck)
    pitches = [SpelledPitch(step, alter, o) for o in (OCTAVES if octave is None else (octave,))]
    found = [place for pitch in pitches for place in _places(neck, pitch.midi, number)]
    if as_json:
        print_document(places_document(note, None if octave is None else pitches[0].midi, found))
        return 0
    name = pitch_name(pitches[0], app.settings.language)
    where = "" if number is None else f" in position {number}" if number else " in the open position"
    if not found:
        click.echo(f"{name} cannot be played{where} on this guitar.")
        return 0
    click.echo(f"{name}{where}: {len(found)} {'place' if len(found) == 1 else 'places'}")
    for place in found:
        fret = "open" if place.place.fret == 0 else f"fret {place.place.fret}"
        extra = "  by stretching" if place.stretch else "  only as an open string" if place.open_only else ""
        click.echo(f"  string {place.place.string}  {fret}{extra}")
    return 0


def places_document(note: str, midi: int | None, found: list[FoundPlace]) -> dict[str, Any]:
    """What `places --json` prints. midi: null where the note was given without an octave."""
    return {
        "note": note,
        "midi": midi,
        "places": [
            {"string": p.place.string, "fret": p.place.fret, "stretch": p.stretch, "midi": p.midi}
            for p in found
        ],
    }


def _parsed(note: str, language: Language) -> tuple[str, int, int | None]:
    """Read the note in the player's language, or else in English, in which B is B natural."""
    try:
        return parse_name(note, language)
    except ValueError as error:
        try:
            return parse_name(note, Language.ENGLISH)
        except ValueError:
            raise BadInput(str(error)) from None


def _position(text: str, neck: Neck) -> int:
    try:
        number = position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None
    if number > neck.last_fret:
        allowed = f"positions go from 0 (open) to {neck.last_fret} here"
        raise BadInput(f"the guitar has no position {number}", allowed=allowed)
    return number


def _places(neck: Neck, midi: int, position: int | None) -> list[FoundPlace]:
    if position is None:
        return [FoundPlace(place, midi) for place in neck.places(midi)]
    return [FoundPlace(r.place, midi, r.stretch, r.open_only) for r in in_reach(neck, position, midi)]
