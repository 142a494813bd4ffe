"""Drills in tempo: the options of the command line, the beat, and the tempo that a player owns."""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import click

from midifret.book.book import Book
from midifret.cli.click_output import ClickWishes, open_click
from midifret.cli.gathering import gathered
from midifret.cli.passes import LADDER_PASS_NOTES, SEARCH_PASS_NOTES, Climb, Passes, Search
from midifret.clock import Clock
from midifret.drills.timed import put_in_tempo
from midifret.gear import ClickSettings
from midifret.reading.bars import beat_quarter, meter_of
from midifret.session.around import Finished
from midifret.session.conductor import Conductor
from midifret.session.followed import FollowedBeat
from midifret.session.followed_reading import FollowedReading
from midifret.session.reading_beat import own_beat
from midifret.tempo import STEADY_SHARE, OwnedTempo, PassResult, check_tempo, owned_tempo
from midifret.terms import BadInput, Exercise, Tempo, Unavailable
from midifret.terms.figures import OwnedTempoKept
from midifret.wire.click import ClickOutput
from midifret.wire.clock_in import ABSENT_AFTER_S, ClockIn, open_clock_in
from midifret.wire.ports import PortSource

Command = TypeVar("Command", bound=Callable[..., Any])
# Where a search or a ladder begins if nobody says: a walking pace, which most know as an easy one [ours].
START_BPM = 60.0
_POLL_S = 0.002


@dataclass(frozen=True, slots=True)
class TempoWishes:
    """What a command line says of tempo.

    tempo_bpm: None leaves it to the drill. window_ms: None likewise. free: no tempo, whatever the drill says.
    find: look for the owned tempo. ladder_minutes: climb for so long. follow: part of the name of the port
    whose MIDI clock gives the beat.
    """

    tempo_bpm: float | None = None
    window_ms: float | None = None
    free: bool = False
    find: bool = False
    ladder_minutes: float | None = None
    follow: str | None = None

    def __post_init__(self) -> None:
        """Refuse what contradicts itself. Raises BadInput."""
        ways = {
            "--free": self.free,
            "--find-tempo": self.find,
            "--ladder": self.ladder_minutes is not None,
            "--follow-clock": self.follow is not None,
        }
        asked = [name for name, wished in ways.items() if wished]
        if len(asked) > 1 or ((self.free or self.follow is not None) and self.tempo_bpm is not None):
            both = asked if len(asked) > 1 else [*asked, "--tempo"]
            raise BadInput(f"{' and '.join(both)} cannot go together", allowed="one of them")
        if self.free and self.window_ms is not None:
            raise BadInput(
                "--free and --window cannot go together", allowed="a window is for notes on a beat"
            )
        if self.window_ms is not None and not math.isfinite(self.window_ms):
            raise BadInput(f"a window of {self.window_ms:g} ms cannot be used", allowed="10 to 2000 ms")
        if self.follow is not None and not self.follow.strip():
            raise BadInput("--follow-clock names no port", allowed="part of the name of a MIDI input")


_BEAT_NAMES = ("tempo_bpm", "window_ms", "follow")
_BEAT_OPTIONS = (
    click.option("--tempo", "tempo_bpm", type=float, default=None, metavar="BPM", help="Play on a beat."),
    click.option(
        "--window",
        "window_ms",
        type=click.FloatRange(10, 2000),
        default=None,
        metavar="MS",
        help="How early or late a note may be.",
    ),
    click.option(
        "--follow-clock",
        "follow",
        default=None,
        metavar="PART",
        help="Take the beat from the MIDI clock of a port.",
    ),
)


def tempo_options(command: Command) -> Command:
    """Add --tempo, --window, --follow-clock, --free, --find-tempo and --ladder; they become `wishes`."""
    options = (
        *_BEAT_OPTIONS,
        click.option("--free", is_flag=True, help="In free tempo, though the drill has one."),
        click.option("--find-tempo", "find", is_flag=True, help="Find the fastest tempo at 90% right."),
        click.option(
            "--ladder",
            "ladder_minutes",
            type=click.FloatRange(0.5, 120),
            default=None,
            metavar="MINUTES",
            help="Up in tempo after clean passes, down after bad ones.",
        ),
    )
    names = (*_BEAT_NAMES, "free", "find", "ladder_minutes")
    return gathered(command, options, names, "wishes", TempoWishes)


def reading_tempo_options(command: Command) -> Command:
    """Add --tempo, --window and --follow-clock; they become `in_tempo`."""
    return gathered(command, _BEAT_OPTIONS, _BEAT_NAMES, "in_tempo", TempoWishes)


def in_wished_tempo(exercise: Exercise, wishes: TempoWishes, settings: ClickSettings) -> Exercise:
    """Return the exercise in the tempo wished for, its own, or none; count-in and clicks as the settings say.

    Raises BadInput for a tempo out of range, and for an exercise that cannot be played in tempo.
    """
    if wishes.free:
        return put_in_tempo(exercise, None)
    bpm = wishes.tempo_bpm
    searches = wishes.find or wishes.ladder_minutes is not None or wishes.follow is not None
    if bpm is None and exercise.tempo is None and not searches:
        if wishes.window_ms is not None:
            raise BadInput("--window needs a tempo", allowed="with --tempo BPM, --find-tempo or --ladder")
        return exercise
    if bpm is None:
        bpm = exercise.tempo.tempo_bpm if exercise.tempo is not None else START_BPM
    check_tempo(bpm)
    own = exercise.tempo
    tempo = own or Tempo(bpm, count_in=settings.count_in_beats, parts=settings.subdivisions)
    tempo = replace(tempo, tempo_bpm=bpm)
    if wishes.window_ms is not None:
        tempo = replace(tempo, within_ms=wishes.window_ms)
    return put_in_tempo(exercise, tempo)


def check_click(exercise: Exercise, wishes: ClickWishes, *, follow: str | None) -> None:
    """Refuse options of the click where nothing would click. Raises BadInput."""
    if wishes.unheard and exercise.tempo is None:
        raise BadInput(
            f"{wishes.unheard} needs a tempo", allowed="with --tempo BPM, --find-tempo or --ladder MINUTES"
        )
    if wishes.unheard and follow is not None:
        raise BadInput(
            f"{wishes.unheard} and --follow-clock cannot go together",
            allowed="one of them; the device that gives the beat also makes it heard",
        )


def at_tempo(exercise: Exercise, tempo_bpm: float) -> Exercise:
    """Return an exercise in tempo at another one, in its own beats a minute."""
    assert exercise.tempo is not None
    return replace(exercise, tempo=replace(exercise.tempo, tempo_bpm=tempo_bpm))


def at_followed(exercise: Exercise, quarter_bpm: float) -> Exercise:
    """Return an exercise at the tempo of a clock, whose beats are quarters; a reading may have others."""
    if exercise.score is None:
        return at_tempo(exercise, quarter_bpm)
    return at_tempo(exercise, quarter_bpm / float(beat_quarter(meter_of(exercise.score))))


def passes_of(exercise: Exercise, wishes: TempoWishes) -> Passes | None:
    """Return the search or the ladder that was wished for. Raises BadInput where no pass fits."""
    if exercise.tempo is None:
        return None
    if wishes.find:
        return Search(exercise.tempo.tempo_bpm, min(SEARCH_PASS_NOTES, len(exercise.prompts)))
    if wishes.ladder_minutes is not None:
        return Climb(
            wishes.ladder_minutes,
            exercise.tempo.tempo_bpm,
            min(LADDER_PASS_NOTES, len(exercise.prompts)),
            exercise.tempo.count_in,
            exercise.tempo.notes_a_beat,
        )
    return None


class Beat:
    """Where the beat of the runs comes from: a click of our own, or another device's clock. To be closed."""

    def __init__(self, click_output: ClickOutput | None, clock_in: ClockIn | None) -> None:
        """Take over what is open; neither for runs in free tempo."""
        self._click = click_output
        self.clock_in = clock_in

    @property
    def name(self) -> str:
        """For people: what gives the beat."""
        if self.clock_in is not None:
            return f"MIDI clock of {self.clock_in.name}"
        return "" if self._click is None else self._click.name

    def conductor(self, exercise: Exercise) -> Conductor | None:
        """Return what conducts an exercise; None for one in free tempo."""
        if exercise.tempo is None:
            return None
        if self.clock_in is not None:
            if exercise.score is not None:
                return FollowedReading(exercise, self.clock_in)
            return FollowedBeat(exercise, self.clock_in)
        assert self._click is not None
        return own_beat(exercise, self._click)

    def close(self) -> None:
        """Close it."""
        for output in (self._click, self.clock_in):
            if output is not None:
                output.close()


def open_beat(
    exercise: Exercise, follow: str | None, settings: ClickSettings, source: PortSource, clock: Clock
) -> Beat:
    """Open what gives the beat of an exercise. follow: as in TempoWishes; the guitar's own port will do too.

    Raises Unavailable where the click's port or device, or the clock's port, is missing.
    """
    if exercise.tempo is None:
        return Beat(None, None)
    if follow is None:
        return Beat(open_click(settings, clock), None)
    if follow.casefold() in source.name.casefold():
        return Beat(None, ClockIn(source, clock.now_s(), own_port=False))
    return Beat(None, open_clock_in(follow, clock))


def followed_tempo(beat: Beat, source: PortSource, clock: Clock) -> float | None:
    """Wait for the clock that is followed, and return its tempo in beats a minute; None where none is.

    Raises Unavailable where no clock comes within some seconds, or its tempo is out of range.
    """
    if beat.clock_in is None:
        return None
    until_s, sure_s = clock.now_s() + ABSENT_AFTER_S + 1.0, math.inf
    while clock.now_s() < until_s:
        source.poll()
        beat.clock_in.turn(clock.now_s())
        reading = beat.clock_in.reading(clock.now_s())
        if reading.tempo_bpm is None or not reading.in_range:
            sure_s = math.inf
        elif sure_s == math.inf:  # a few clocks tell it roughly, a whole beat of them to a thousandth or so
            sure_s = clock.now_s() + 60 / reading.tempo_bpm
            until_s = max(until_s, sure_s + _POLL_S * 5)
        elif clock.now_s() >= sure_s:
            return reading.tempo_bpm
        clock.wait_s(_POLL_S)
    words = beat.clock_in.words(clock.now_s()) or f"No MIDI clock comes from {beat.clock_in.name}"
    raise Unavailable(words.rstrip("."), allowed="a clock that runs, or --tempo BPM for a click of our own")


def why_not_counted(exercise: Exercise, finished: Finished, own_window_ms: float) -> str:
    """Why a pass counts for no owned tempo, in a sentence; empty where it does. exercise: as played."""
    tempo = exercise.tempo
    if tempo is not None and not math.isclose(tempo.within_ms, own_window_ms, abs_tol=0.01):
        return (
            f"In a window of {tempo.within_ms:g} ms a pass does not count for the tempo you own: "
            f"those of {own_window_ms:g} ms do."
        )
    if finished.tempo_moved is not None and finished.tempo_moved > STEADY_SHARE:
        return (
            f"The clock moved by {finished.tempo_moved:.0%} of its tempo: the pass does not count for the "
            "tempo you own."
        )
    return ""


def keep_owned_tempo(
    book: Book, player: str, exercise: Exercise, guitar: str, day: dt.date, *, window_ms: float
) -> OwnedTempo | None:
    """Work out and keep the owned tempo of a drill from the passes of a day; None where there are none.

    window_ms: the drill's own; passes in another one, and at a tempo that moved, do not count.
    """
    passes = book.passes_on(player, exercise.name, day, window_ms=window_ms, most_moved=STEADY_SHARE)
    if not passes:
        return None
    owned = owned_tempo([PassResult(bpm, notes, right) for bpm, notes, right in passes])
    book.put_owned_tempo(
        player,
        OwnedTempoKept(
            drill=exercise.name,
            day=day,
            guitar=guitar,
            tempo_bpm=owned.tempo_bpm,
            low_bpm=owned.low_bpm,
            high_bpm=owned.high_bpm,
            notes=owned.notes,
            passes=owned.passes,
            doubt="" if owned.doubt is None else owned.doubt.value,
            names_cued=exercise.names_cued,
        ),
    )
    return owned
