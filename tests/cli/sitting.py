"""A practice session in simulated time: a player of known knowledge, a guitar in process, set replies."""

import datetime as dt
import itertools
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from midifret.book.book import Book
from midifret.cli import block_runs, drill, running
from midifret.cli.app import App
from midifret.cli.block_runs import BlockRuns
from midifret.cli.practising import Practised, Practising
from midifret.cli.run_options import RunWishes
from midifret.cli.running import Table
from midifret.clock import SimulatedClock
from midifret.files import Home
from midifret.gear.guitar import Guitar
from midifret.players.player import Action, Pluck, TimedPluck, TypedName
from midifret.session.around import Finished, Setting
from midifret.session.conductor import Conductor
from midifret.session.interlude import Interlude, InterludeKind, Reply
from midifret.session.reading_beat import own_beat
from midifret.session.screen import Press
from midifret.show.line_view import SilentView
from midifret.terms import CueKind, Exercise, Judged, Place, Prompt
from midifret.terms.calibration import ViewKind
from midifret.wire.click import SilentClick
from midifret.wire.virtual_guitar import VirtualGuitar, VirtualSource

from .playing import NECK

BEGAN = dt.datetime(2026, 11, 2, 17, 0, tzinfo=dt.UTC)
POLL_S = 0.05
# After this a place that was asked with a limit of 10 s or more is over, and in a drill it is found.
LONG_S = 12.0


@dataclass
class Knower:
    """Plays what is known at once, and what is not one fret off, and right only after a long search.

    knows: whether a place is. silent: plays nothing at all where it is not.
    """

    knows: Callable[[Place], bool]
    recall_s: float = 0.9
    silent: bool = False
    in_tempo: bool = False
    asked: list[Prompt] = field(default_factory=list)

    def answer(self, prompt: Prompt) -> tuple[Action, ...]:
        if self.in_tempo:
            return ()
        self.asked.append(prompt)
        place = prompt.places[0]
        shown = CueKind.PLACE in prompt.cue and prompt.judged is not Judged.NAME
        if prompt.judged is Judged.NAME:
            return (TypedName(self.recall_s, prompt.pitch.step.lower() + "#" * prompt.pitch.alter),)
        if shown or not prompt.cue or self.knows(place):  # in a walk each place follows from the last
            return (Pluck(self.recall_s, place, 90, 0.3),)
        if self.silent:
            return ()
        wrong = Place(place.string, place.fret + 1)
        return (Pluck(2.5, wrong, 90, 0.3), Pluck(LONG_S, place, 90, 0.3))

    def on_beat(self, prompt: Prompt, due_s: float) -> tuple[TimedPluck, ...]:
        return (TimedPluck(due_s, Pluck(0.0, prompt.places[0], 90, 0.2)),)


class Ending(SimulatedClock):
    """Time that ends an hour into a run: nobody would ever move on."""

    until_s = float("inf")

    def wait_s(self, seconds: float) -> None:
        assert self.now_s() < self.until_s, "the run stands still"
        super().wait_s(seconds)


class WallClock:
    """The wall clock that goes with a simulated clock."""

    def __init__(self, clock: SimulatedClock, began: dt.datetime = BEGAN) -> None:
        self.clock = clock
        self.began = began

    def __call__(self) -> dt.datetime:
        return self.began + dt.timedelta(seconds=self.clock.now_s())


@dataclass
class Sitting:
    """One call after the other, by one player on one book."""

    home: Path
    monkeypatch: pytest.MonkeyPatch
    knower: Knower
    clock: "Ending" = field(default_factory=lambda: Ending())
    replies: dict[int, Reply] = field(default_factory=dict)  # to the interlude of that number, else the first
    interludes: list[Interlude] = field(default_factory=list)
    runs: list[tuple[Setting, Finished]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    again_after_s: float | None = None
    wall: WallClock = field(init=False)
    on_run: Callable[[Setting, Table], Table] = lambda setting, table: table

    def __post_init__(self) -> None:
        self.wall = WallClock(self.clock)
        self.monkeypatch.setattr(running, "now_utc", lambda: self.wall())
        self.monkeypatch.setattr(running, "local_zone", lambda: "UTC")
        for module in (block_runs, drill):
            self.monkeypatch.setattr(module, "play_once", self._play_once)

    def practise(self, minutes: float | None = None, *, anew: bool = False) -> Practised:
        with self.app.open_book() as book:
            return self.practising(book).practise(minutes, anew=anew)

    @property
    def app(self) -> App:
        return App(Home.of(str(self.home)))

    def practising(self, book: Book) -> Practising:
        book.ensure_player("me", created_utc=BEGAN)
        guitar = self.app.guitar(None)
        settings = self.app.settings
        runs = BlockRuns(
            self.app, book, "me", guitar, RunWishes(countdown_s=0), self._table, settings.click,
            is_terminal=False, now=self.wall,
        )  # fmt: skip
        return Practising(self.app, book, "me", runs, self._asks, self.said.append, now=self.wall)

    def _asks(self, interlude: Interlude) -> Reply:
        number = len(self.interludes)
        self.interludes.append(interlude)
        self.clock.wait_s(interlude.counts_s or 2.0)
        if number in self.replies:
            return self.replies[number]
        return Reply.SKIP if interlude.kind is InterludeKind.OFFER else interlude.options[0].reply

    def _table(self, exercise: Exercise, guitar: Guitar, opened: ExitStack) -> Table:
        def conductor(played: Exercise) -> Conductor | None:
            return None if played.tempo is None else own_beat(played, SilentClick())

        view = SilentView()
        source = VirtualSource(VirtualGuitar(guitar), self.clock)
        return Table(source, self.clock, view, poll_s=POLL_S, conductor=conductor, port="Simulated Guitar")

    def _play_once(self, app: App, book: Book, setting: Setting, table: Table) -> Finished:
        knower = replace(self.knower, in_tempo=setting.exercise.tempo is not None, asked=self.knower.asked)
        again_s = 3.0 if setting.exercise.score is not None else self.again_after_s
        virtual = VirtualGuitar(setting.guitar, knower, again_after_s=again_s)
        self.clock.until_s = self.clock.now_s() + 3600
        seated = replace(
            table,
            source=VirtualSource(virtual, self.clock),
            view=_Typing(virtual, self.clock),
            on_cue=virtual.cue,
            on_due=virtual.beat,
        )
        seated = self.on_run(setting, seated)
        finished = running.play_once(app, book, setting, seated)
        self.clock.until_s = float("inf")
        self.runs.append((setting, finished))
        return finished


class _Typing(SilentView):
    """Shows nothing; the names that the player types are its keys."""

    def __init__(self, guitar: VirtualGuitar, clock: SimulatedClock) -> None:
        self._guitar, self._clock = guitar, clock

    def keys(self) -> list[str]:
        typed = self._guitar.typed_due(self._clock.now_s())
        return [key for _, text in typed for key in (*text, "enter")]


class Quitting:
    """A view on which q is pressed some seconds into each of the first runs."""

    kind = ViewKind.TERMINAL
    paints_later = False
    shows_whole = False
    gone_s = None

    def __init__(
        self, sitting: "Sitting", quits: dict[str, int], key: str = "q", after_s: float = 8.0
    ) -> None:
        self._sitting, self._quits, self._key = sitting, quits, key
        self._at_s = sitting.clock.now_s() + after_s

    def show(self, screen: object) -> None: ...
    def painted(self) -> list[tuple[int, float | None]]:
        return []

    def presses(self) -> list[Any]:
        if self._quits["left"] and self._sitting.clock.now_s() >= self._at_s:
            self._quits["left"] -= 1
            return [Press(self._key)]
        return []


def rows(*frets: int) -> Callable[[Place], bool]:
    """Knows all places at these frets."""
    return lambda place: place.fret in frets


def titles(interludes: Sequence[Interlude]) -> list[str]:
    return [each.title for each in interludes]


def without_repeats(texts: Sequence[str]) -> list[str]:
    return [text for text, _ in itertools.groupby(texts)]


__all__ = ["BEGAN", "NECK", "Knower", "Quitting", "Sitting", "rows", "titles", "without_repeats"]
