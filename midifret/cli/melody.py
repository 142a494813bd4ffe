"""`midifret melody`: a melody that the player has not seen, for a level and a position."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import click

from midifret.book.book import Book
from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document
from midifret.cli.melody_words import melody_document, melody_lines
from midifret.drills.fields import position_number
from midifret.gear.melody import load_levels
from midifret.melody import Level, Melody, Wanted, compose, compose_unseen, seed_of
from midifret.melody.level import parse_meter
from midifret.neck import Neck
from midifret.neck.position import FRETS_OF_A_HAND, STRETCH_FRETS
from midifret.terms import BadInput, CueKind, Place
from midifret.terms.given import GivenMusic, MusicKind
from midifret.timing import State

USUAL_LEVEL, USUAL_POSITION = 1, 5
MOST_SOUGHT = 1.0
ENDINGS = (".musicxml", ".abc", ".pdf", ".png", ".svg")
# How much a place is sought by how well it is known [ours]: what is dark first, what comes by itself never.
SOUGHT = {State.DARK: 1.0, State.FOUND: 0.6, State.SLOW: 0.4, State.KNOWN: 0.1, State.AUTOMATIC: 0.0}


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a player asks of a melody; None for what level and book say.

    visit: how much each place is to be sought; None for those that the book calls dark, or none with a seed.
    """

    level: int = USUAL_LEVEL
    position: int = USUAL_POSITION
    bars: int | None = None
    key: str | None = None
    meter: tuple[int, int] | None = None
    seed: int | None = None
    visit: Mapping[Place, float] | None = None


@dataclass(frozen=True, slots=True)
class GivenMelody:
    """A melody as it was given. visit: how much each place was sought."""

    melody: Melody
    visit: Mapping[Place, float]

    @property
    def visited(self) -> tuple[Place, ...]:
        """The places that were sought and come in it."""
        return tuple(place for place in sorted(self.melody.places) if self.visit.get(place, 0.0) > 0)


@click.command("melody")
@click.option("--level", type=int, default=USUAL_LEVEL, show_default=True, help="How hard, from 1.")
@click.option(
    "--position",
    metavar="N",
    default=str(USUAL_POSITION),
    show_default=True,
    help="Where it is to be played, 5 or V; 0 is the open position.",
)
@click.option("--bars", type=int, default=None, help="How many; by default what the level says.")
@click.option("--key", default=None, help='A key, for example "G major" or "F# minor".')
@click.option("--meter", default=None, help="2/4, 3/4, 4/4 or 6/8.")
@click.option("--seed", type=int, default=None, help="The same number gives the same melody again.")
@click.option(
    "--visit",
    default=None,
    metavar="PLACES",
    help='Places to be sought, "2:7 3:6=0.5". By default those that the practice book calls dark.',
)
@click.option(
    "--out", type=click.Path(path_type=Path), default=None, help="Write .musicxml, .abc, .pdf, .png or .svg."
)
@click.option("--overwrite", is_flag=True, help="Write over a file that is there already.")
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    level: int,
    position: str,
    bars: int | None,
    key: str | None,
    meter: str | None,
    seed: int | None,
    visit: str | None,
    out: Path | None,
    overwrite: bool,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Make a melody to be read at sight, every note in reach of the position.

    No melody comes twice for a player, unless --seed asks for it again. Without --seed the places that the
    practice book knows least are visited more often. Levels stand in config/melody.yaml and can be changed.
    """
    app = app_of(context)
    neck = app.guitar(guitar).neck
    wishes = Wishes(
        level=level,
        position=_position(position),
        bars=bars,
        key=key,
        meter=None if meter is None else _meter(meter),
        seed=seed,
        visit=None if visit is None else _places(visit, neck),
    )
    if out is not None:
        check_out(out, overwrite=overwrite)
    given = give_melody(app, neck, wishes, player)
    melody = given.melody
    if out is not None:
        write_melody(out, melody, neck)
    if as_json:
        print_document(melody_document(melody, given.visited))
        return 0
    levels = load_levels(app.home)
    for line in melody_lines(melody, levels[melody.level - 1], app.settings.language):
        click.echo(line)
    click.echo(f"Again: {again(given, wishes, guitar)}")
    if out is not None:
        click.echo(f"Written to {out}.")
    return 0


def give_melody(app: App, neck: Neck, wishes: Wishes, player: str | None) -> GivenMelody:
    """Make a melody for a player and keep in the book that it was given.

    Raises BadInput for wishes that cannot be met and for an unknown player.
    """
    from midifret.cli.running import known_player, now_utc

    wanted = Wanted(
        level=level_of(app, wishes.level),
        neck=neck,
        position=wishes.position,
        seed=wishes.seed or 0,
        bars=wishes.bars,
        key=wishes.key,
        meter=wishes.meter,
        visit=wishes.visit or {},
    )
    compose(wanted)  # what cannot be met is said before a book is made
    with app.open_book() as book:
        name = known_player(book, app, player)
        if wishes.seed is not None:
            melody = compose(wanted)
            book.put_given(name, _as_given(melody, now_utc()))
            return GivenMelody(melody, wanted.visit)
        if wishes.visit is None:
            wanted = replace(wanted, visit=sought(app, book, name, neck, wishes.position))
        while True:  # again only where the same tune was just given by another program
            wanted = replace(wanted, seed=seed_of(name, book.melodies_given(name)))
            melody = compose_unseen(wanted, book.given_fingerprints(name))
            if book.put_given(name, _as_given(melody, now_utc()), if_unseen=True):
                return GivenMelody(melody, wanted.visit)


def _as_given(melody: Melody, now: datetime) -> GivenMusic:
    return GivenMusic(
        MusicKind.MELODY,
        melody.fingerprint,
        melody.score.title,
        melody.position,
        melody.level,
        melody.seed,
        now,
    )


def level_of(app: App, number: int) -> Level:
    """Return a level by its number. Raises BadInput for one that is not there."""
    levels = load_levels(app.home)
    if not 1 <= number <= len(levels):
        raise BadInput(f"there is no level {number} of melodies", allowed=f"1 to {len(levels)}")
    return levels[number - 1]


def sought(app: App, book: Book, player: str, neck: Neck, position: int) -> dict[Place, float]:
    """How much each place in reach of a position is to be sought, by what the book knows of it.

    Where a place was asked on the staff, that counts; otherwise the worst that is known of it. Empty where
    all are known alike.
    """
    from midifret.cli.running import now_utc
    from midifret.cli.time_figures import KeptTimes, time_figures
    from midifret.gear.thresholds import load_thresholds

    kept = KeptTimes(newest_cued=book.newest_cued(player))
    states = time_figures(kept, load_thresholds(app.home), now=now_utc()).states
    known: dict[Place, list[State]] = {}
    on_staff: dict[Place, list[State]] = {}
    for one in states:
        known.setdefault(one.place, []).append(one.state)
        if CueKind.STAFF in one.cue:
            on_staff.setdefault(one.place, []).append(one.state)
    weights = {}
    for place in neck.all_places():
        if position <= place.fret <= position + FRETS_OF_A_HAND - 1 + STRETCH_FRETS:
            found = on_staff.get(place) or known.get(place) or [State.DARK]
            weights[place] = max(SOUGHT[state] for state in found)
    least = min(weights.values(), default=0.0)
    return {place: round(w - least, 2) for place, w in weights.items() if w > least}


def again(given: GivenMelody, wishes: Wishes, guitar: str | None) -> str:
    """The command that makes the same melody once more."""
    melody = given.melody
    words = [f"midifret melody --level {melody.level} --position {melody.position} --seed {melody.seed}"]
    if wishes.bars is not None:
        words.append(f"--bars {wishes.bars}")
    if wishes.key is not None:
        words.append(f'--key "{melody.key}"')
    if wishes.meter is not None:
        words.append(f"--meter {melody.meter[0]}/{melody.meter[1]}")
    if guitar is not None:
        words.append(f"--guitar {guitar}")
    if given.visit:
        places = " ".join(
            f"{place}" if weight == 1 else f"{place}={weight:g}"
            for place, weight in sorted(given.visit.items())
        )
        words.append(f'--visit "{places}"')
    return " ".join(words)


def check_out(path: Path, *, overwrite: bool) -> None:
    """Raise BadInput or Unavailable where no melody could be written there."""
    from midifret.pages.output import check_folder, check_new

    if path.suffix.lower() not in ENDINGS:
        told = f"the ending {path.suffix!r}" if path.suffix else "no ending"
        raise BadInput(f"{path}: {told} is nothing that a melody is written as", allowed=", ".join(ENDINGS))
    check_folder(path)
    if not overwrite:
        check_new(path)


def write_melody(path: Path, melody: Melody, neck: Neck) -> None:
    """Write a melody as the page that the ending of its name asks for. Raises Unavailable where it cannot."""
    from midifret.pages.output import write_pages

    write_pages(path, _pages(path, melody, neck))


def _pages(path: Path, melody: Melody, neck: Neck) -> Sequence[bytes]:
    ending = path.suffix.lower()
    if ending == ".abc":
        from midifret.melody.abc import to_abc

        return (to_abc(melody.score, melody.key).encode(),)
    if ending == ".musicxml":
        from midifret.pages.bars import lay_out
        from midifret.pages.beside import READING, beside
        from midifret.pages.musicxml import to_musicxml

        laid = lay_out(melody.score)
        return (to_musicxml(laid, beside(melody.score, None, neck, READING, melody.position), neck).encode(),)
    from midifret.cli.page_score import as_hand_plays
    from midifret.pages.output import format_of
    from midifret.pages.printer import printed
    from midifret.pages.score_page import score_document

    drawn = as_hand_plays(melody.score, neck.capo)
    document, _ = score_document(melody.score, neck=neck, position=melody.position, drawn=drawn)
    return printed(document, format_of(path))


def _position(text: str) -> int:
    try:
        return position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None


def _meter(text: str) -> tuple[int, int]:
    try:
        return parse_meter(text)
    except ValueError as error:
        message, _, allowed = str(error).partition("; write ")
        raise BadInput(message, allowed=allowed) from None


def _places(text: str, neck: Neck) -> dict[Place, float]:
    """Read places with or without weights, "2:7 3:6=0.5"."""
    found: dict[Place, float] = {}
    for word in text.replace(",", " ").split():
        name, equals, number = word.partition("=")
        try:
            place = Place.parse(name)
            weight = float(number) if equals else 1.0
        except ValueError:
            raise BadInput(
                f"{word!r} is no place to be sought", allowed="string:fret, for example 2:7 or 2:7=0.5"
            ) from None
        if not neck.has(place):
            allowed = f"strings 1 to {neck.strings}, frets 0 to {neck.last_fret}"
            raise BadInput(f"the guitar has no place {place}", allowed=allowed)
        if not 0 <= weight <= MOST_SOUGHT:
            raise BadInput(f"the place {place} cannot be sought by {number}", allowed=f"0 to {MOST_SOUGHT:g}")
        found[place] = weight
    return found
