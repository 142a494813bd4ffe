"""`midifret scores`: the player's own scores by position and level, those already read last."""

import textwrap
from collections.abc import Mapping
from typing import Any

import click

from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document, warn
from midifret.cli.score_options import voices_of
from midifret.cli.shelf import OnShelf, Shelf, open_shelf
from midifret.cli.shelf_choices import NOTHING_CHOSEN, FileChoice
from midifret.drills.fields import position_number
from midifret.gear.melody import load_levels
from midifret.neck import Neck
from midifret.neck.position import last_position
from midifret.reading.build import DRILL_PREFIX, position_name
from midifret.scores import Octave
from midifret.show.words import counted
from midifret.terms import BadInput

_WIDTH = 78


@click.command("scores")
@click.argument("files", nargs=-1, metavar="[FILE]...")
@click.option(
    "--position",
    metavar="N",
    default=None,
    help="Only what lies in this position, 5 or V; 0 is the open one.",
)
@click.option("--level", type=int, default=None, help="Only what is of this level or easier.")
@click.option(
    "--octave",
    type=click.Choice([octave.value for octave in Octave]),
    default=None,
    help="From now on, how the pitches of FILE stand, or of all files that do not say: written, an octave "
    "above what sounds, or sounding.",
)
@click.option(
    "--part", default=None, metavar="PART", help="From now on, the part of FILE: 2, a name, 1+2 or all."
)
@click.option("--voices", default=None, metavar="1,2", help="From now on, only these voices of FILE.")
@click.option("--tune", type=click.IntRange(1), default=None, help="From now on, this tune of an ABC file.")
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    files: tuple[str, ...],
    position: str | None,
    level: int | None,
    octave: str | None,
    part: str | None,
    voices: str | None,
    tune: int | None,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """List the scores in the folder `scores` of your home, by how hard they are and where they lie.

    Levels are those of `midifret melody`. A position is named where at most one note in twenty is out of
    reach. What was read already comes last. Files that cannot be read are named with the reason.

    FILE, as the list names it, with --octave, --part, --voices or --tune says how that file is to be read;
    this is remembered. A file that does not say its octave is read in the one that fits a guitar better.
    """
    app = app_of(context)
    number = None if position is None else _position(position, app.guitar(guitar).neck)
    wanted = None if octave is None else Octave(octave)
    choice = FileChoice(wanted, part, _voices(voices), tune)
    if files and choice == NOTHING_CHOSEN:
        raise BadInput(f"nothing is said of {files[0]}", allowed="--octave, --part, --voices or --tune")
    if not files and choice != FileChoice(octave=wanted):
        raise BadInput("part, voices and tune are chosen of a file", allowed="midifret scores FILE --part 2")
    if files:
        shelf = shelf_of(app, guitar, player, chosen=dict.fromkeys(files, choice))
    else:
        shelf = shelf_of(app, guitar, player, octave=wanted)
    levels = len(load_levels(app.home))
    if level is not None and not 1 <= level <= levels + 1:
        raise BadInput(f"there is no level {level}", allowed=f"1 to {levels + 1}")
    chosen = tuple(
        one
        for one in shelf.scores
        if (number is None or one.fit(number) is not None) and (level is None or one.hardness.level <= level)
    )
    if as_json:
        print_document(scores_document(shelf, chosen))
        return 0
    for line in scores_lines(shelf, chosen, filtered=number is not None or level is not None):
        click.echo(line)
    return 0


def shelf_of(
    app: App,
    guitar: str | None,
    player: str | None,
    *,
    chosen: Mapping[str, FileChoice] | None = None,
    octave: Octave | None = None,
) -> Shelf:
    """Look through the player's scores, with what is chosen of files from now on.

    Raises BadInput for an unknown guitar, player or file.
    """
    neck = app.guitar(guitar).neck
    fingerprints: frozenset[str] = frozenset()
    read: dict[str, int] = {}
    if app.settings.database_url or app.home.book.exists():
        with app.open_book() as book:
            name = player or app.settings.player
            if player is not None or name in {known.name for known in book.players()}:
                fingerprints = book.given_fingerprints(name)
                read = {mark.drill: mark.times for mark in book.reading_marks(name, DRILL_PREFIX)}
    elif player is not None:
        raise BadInput(
            f"there is no player {player!r}: the practice book in {app.home.root} is still empty",
            allowed="add the player with: midifret players --add NAME",
        )
    return open_shelf(
        app.home,
        neck,
        load_levels(app.home),
        fingerprints=fingerprints,
        read_drills=read,
        chosen=chosen,
        octave=octave,
        say=lambda file: warn(f"reading {file}"),
    )


def scores_document(shelf: Shelf, chosen: tuple[OnShelf, ...]) -> dict[str, Any]:
    """What `scores --json` prints; a level with beyond is above those of `midifret melody`."""
    return {
        "folder": str(shelf.folder),
        "scores": [
            {
                "file": one.file,
                "title": one.read.title,
                "composer": one.read.composer,
                "bars": one.read.bars,
                "notes": one.read.measures.notes,
                "level": one.hardness.level,
                "beyond": one.hardness.beyond,
                "because": list(one.hardness.because),
                "positions": [
                    {
                        "position": fit.position,
                        "out_of_reach": fit.out,
                        "stretches": fit.stretched,
                        "open_strings": fit.opened,
                    }
                    for fit in one.fits
                ],
                "times_read": one.times_read,
                "chosen": one.choice.document,
                "octave_assumed": one.assumed.value if one.assumed else None,
            }
            for one in chosen
        ],
        "faulty": [{"file": one.file, "why": one.why} for one in shelf.faulty],
    }


def scores_lines(shelf: Shelf, chosen: tuple[OnShelf, ...], *, filtered: bool) -> list[str]:
    """The same for people."""
    if not shelf.scores and not shelf.faulty:
        return [f"There is no score in {shelf.folder}: put your own there."]
    lines: list[str] = []
    for one in chosen:
        title = ", ".join(text for text in (one.read.title, one.read.composer) if text) or one.file
        read = f", read {one.times_read} times" if one.times_read > 1 else ", read" * one.times_read
        level = "above the levels" if one.hardness.beyond else f"level {one.hardness.level}"
        lines += _wrapped(f"{title}: {level}, {counted(one.read.measures.notes, 'note')}{read}", "")
        if title != one.file:
            lines.append(f"  {one.file}")
        if one.hardness.because:
            lines += _wrapped(f"asks for {', '.join(one.hardness.because)}", "  ")
        lines += _wrapped(_positions(one), "  ")
        if how := _how_read(one):
            lines += _wrapped(how, "  ")
    if any(one.assumed for one in chosen):
        lines += ["", "Octave not said: choose with midifret scores FILE --octave written, or sounding."]
    if not chosen and filtered:
        lines.append(f"No score fits what was asked for; scores in the folder: {len(shelf.scores)}.")
    if shelf.faulty:
        lines += ["", "Not read:"] if lines else ["Not read:"]
        for faulty in shelf.faulty:
            lines += _wrapped(f"{faulty.file}: {faulty.why}", "  ")
    return lines


def _positions(one: OnShelf) -> str:
    if not one.fits:
        return "in no single position"
    return "in position " + ", ".join(
        position_name(fit.position) + (f" ({fit.out} out of reach)" if fit.out else "") for fit in one.fits
    )


def _how_read(one: OnShelf) -> str:
    """What was chosen or assumed of a file; empty for nothing."""
    if one.assumed:
        return f"octave not said, read as {one.assumed.value}"
    said = [f"{name} {value}" for name, value in one.choice.document.items() if name != "voices"]
    if one.choice.voices:
        said.append(f"voices {', '.join(map(str, one.choice.voices))}")
    return f"as you chose: {', '.join(said)}" if said else ""


def _voices(text: str | None) -> tuple[int, ...]:
    return () if text is None else voices_of(text)


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent=indent, subsequent_indent=indent + "  ") or [indent]


def _position(text: str, neck: Neck) -> int:
    try:
        number = position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None
    if number > (last := last_position(neck)):
        allowed = f"0 (the open position) to {last}"
        raise BadInput(f"the guitar has no position {number}", allowed=allowed)
    return number
