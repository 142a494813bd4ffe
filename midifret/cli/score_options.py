"""What the commands on scores share: which part of a file, in which octave, transposed how, which bars."""

import re
import shlex
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from midifret.cli.app import App, warn
from midifret.cli.gathering import Command, gathered
from midifret.cli.shelf_choices import chosen_of
from midifret.fingering import neck_for
from midifret.fingering.printed_json import score_from_json
from midifret.neck import Neck
from midifret.scores import FIT, Choices, Octave, OctaveUnsaid, score_of
from midifret.scores.parse import parse
from midifret.terms import BadInput
from midifret.terms.score import Score

MOST_BYTES = 16 * 1024 * 1024  # of a score in JSON [ours]
_BARS = re.compile(r"(\d{1,5})(?:-(\d{1,5}))?\Z")
_MOST_SEMITONES = 48


@dataclass(frozen=True, slots=True)
class ScoreWishes:
    """What a command line says of a score, as click hands it over."""

    part: str | None = None
    voices: str | None = None
    octave: str | None = None
    transpose: str | None = None
    bars: str | None = None
    tune: int | None = None
    no_repeats: bool = False


def score_options(command: Command) -> Command:
    """Add --part, --voices, --octave, --transpose, --bars, --tune and --no-repeats; they become `wishes`."""
    options = (
        click.option(
            "--part",
            default=None,
            metavar="PART",
            help="Number or name of the part; 1+2, or all, for several as the voices of one guitar.",
        ),
        click.option(
            "--voices",
            default=None,
            metavar="1,2",
            help="Only these voices of the part; `midifret score` lists them. Of parts together they are "
            "numbered on from part to part.",
        ),
        click.option(
            "--octave",
            type=click.Choice([octave.value for octave in Octave]),
            default=None,
            help="How the pitches stand, where the file does not say.",
        ),
        click.option(
            "--transpose",
            default=None,
            metavar="SEMITONES|fit",
            help="Up, or down where negative; fit: as little as fits the guitar.",
        ),
        click.option("--bars", default=None, metavar="FROM-TO", help="Only these bars."),
        click.option("--tune", type=click.IntRange(1), default=None, help="Which tune of an ABC file."),
        click.option("--no-repeats", is_flag=True, help="Play repeats once."),
    )

    return gathered(command, options, list(ScoreWishes.__dataclass_fields__), "wishes", ScoreWishes)


def choices_of(wishes: ScoreWishes, neck: Neck) -> Choices:
    """Return what was wished for as the room of scores takes it. Raises BadInput."""
    choices = Choices(
        part=wishes.part,
        voices=() if wishes.voices is None else voices_of(wishes.voices),
        octave=None if wishes.octave is None else Octave(wishes.octave),
        transpose=_transpose(wishes.transpose),
        range_midis=neck.compass,
        repeats=not wishes.no_repeats,
        tune=wishes.tune,
    )
    if wishes.bars is None:
        return choices
    match = _BARS.match(wishes.bars.strip())
    if match is None:
        raise BadInput(f"{wishes.bars!r} are no bars", allowed="a bar, or the first and the last: 9-16")
    first = int(match[1])
    last = int(match[2]) if match[2] else first
    if last < first:
        raise BadInput(f"bars {first}-{last} run backwards", allowed="the first bar, then the last: 9-16")
    return replace(choices, first_bar=first, last_bar=last)


def read_asked(
    app: App, path: Path, wishes: ScoreWishes, neck: Neck, *, assume_octave: bool = False
) -> tuple[Score, Neck]:
    """Read a score file as wished for, and return the guitar's neck tuned as the score asks.

    What `midifret scores` keeps of the file holds where nothing else is wished for, and is told. A score in
    JSON stands as it is. assume_octave: where the file does not say its octave, take what fits a guitar
    better, as `midifret scores` does, and put that first of the score's remarks. Raises BadInput and
    Unavailable, naming the file.
    """
    if path.suffix.lower() == ".json":
        if wishes != ScoreWishes():
            raise BadInput(f"{path}: of a score in JSON nothing can be chosen", allowed="no such option")
        score = score_from_json(_bytes_of(path), str(path))
    else:
        choices = choices_of(_with_kept(app, path, wishes), neck)
        written = parse(path, choices.tune)
        try:
            score = score_of(written, str(path), choices)
        except OctaveUnsaid as unsaid:
            if not assume_octave:
                raise
            score = score_of(written, str(path), replace(choices, octave=unsaid.likely))
            score = replace(score, remarks=(_assumed(app, path, unsaid.likely), *score.remarks))
    try:
        return score, neck_for(score, neck)
    except ValueError as error:
        raise BadInput(f"{path}: {error}") from None


def _assumed(app: App, path: Path, octave: Octave) -> str:
    shelf = app.home.scores
    name = (path.relative_to(shelf) if path.is_relative_to(shelf) else path).as_posix()
    how = "an octave lower than written" if octave is Octave.WRITTEN else "as written"
    command = shlex.join(["midifret", "scores", name, "--octave", "written"])
    return (
        f"{name} does not say its octave and is taken to sound {how}; `{command}`, or sounding, settles it."
    )


def _with_kept(app: App, path: Path, wishes: ScoreWishes) -> ScoreWishes:
    """The wishes, and what was chosen of the file before where they say nothing."""
    try:
        kept = chosen_of(app.home, path)
    except BadInput as error:
        warn(f"{error}. Nothing of it is used.")
        return wishes
    if wishes.part is not None or wishes.voices is not None:
        kept = replace(kept, part=None, voices=())  # another part, or other voices of it
    if wishes.tune is not None and wishes.tune != kept.tune:
        kept = replace(kept, part=None, voices=())
    found: dict[str, Any] = {
        "octave": kept.octave.value if kept.octave is not None and wishes.octave is None else None,
        "part": kept.part,
        "voices": ",".join(map(str, kept.voices)) or None,
        "tune": kept.tune if wishes.tune is None else None,
    }
    taken = {name: value for name, value in found.items() if value is not None}
    if not taken:
        return wishes
    told = ", ".join(f"{name} {value}" for name, value in taken.items())
    warn(f"{path.name} is read as you chose with `midifret scores`: {told}.")
    return replace(wishes, **taken)


def _bytes_of(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise BadInput(f"{path}: there is no such file") from None
    except IsADirectoryError:
        raise BadInput(f"{path}: this is a folder, not a file") from None
    except OSError as error:
        raise BadInput(f"{path}: cannot be read ({error.strerror})") from None
    if len(data) > MOST_BYTES:
        raise BadInput(f"{path}: the file is too large", allowed=f"at most {MOST_BYTES >> 20} MB")
    return data


def voices_of(text: str) -> tuple[int, ...]:
    """Read numbers of voices, "1,2". Raises BadInput."""
    parts = [part.strip() for part in text.split(",")]
    if not all(part.isascii() and part.isdigit() and 1 <= int(part) <= 99 for part in parts):
        raise BadInput(f"{text!r} are no voices", allowed="numbers from 1, with commas between: 1,2")
    return tuple(map(int, parts))


def _transpose(text: str | None) -> int | str:
    if text is None:
        return 0
    if text == FIT:
        return FIT
    try:
        semitones = int(text)
    except ValueError:
        semitones = _MOST_SEMITONES + 1
    if abs(semitones) > _MOST_SEMITONES:
        raise BadInput(
            f"{text!r} is no transposition",
            allowed=f"semitones from -{_MOST_SEMITONES} to {_MOST_SEMITONES}, or fit",
        )
    return semitones
