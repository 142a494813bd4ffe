"""The virtual guitar: what a simulated player plucks, as the messages that a given guitar would send."""

import heapq
from collections.abc import Sequence
from typing import Protocol, runtime_checkable

from midifret.clock import Clock
from midifret.gear.guitar import Guitar
from midifret.players import Action, Pluck, TimedPluck
from midifret.terms import Judged, Place, Prompt, TimedMessage
from midifret.wire.converter import Converter
from midifret.wire.scenarios import CLEAN, Scenario
from midifret.wire.strokes import Moved, Struck

_AGAIN_VELOCITY, _AGAIN_HOLD_S = 90, 0.4
# Following a tempo moves a beat by less; a count-in of four beats at 400 to the minute lasts 0.6 s [calc].
_OTHER_BEAT_S = 0.5


class Answering(Protocol):
    """Who plays: a simulated player, or a script of one's own."""

    def answer(self, prompt: Prompt) -> Sequence[Action]:
        """What is plucked or typed after the cue of a prompt, in the order of time."""
        ...


@runtime_checkable
class OnBeats(Protocol):
    """Who plays in tempo."""

    @property
    def in_tempo(self) -> bool:
        """Whether this exercise is: its cues are then answered on the beats alone."""
        ...

    def on_beat(self, prompt: Prompt, due_s: float) -> Sequence[TimedPluck]:
        """What is plucked for a prompt that is due then, in the order of time."""
        ...


class Sink(Protocol):
    """Where messages can be sent to."""

    def send(self, data: bytes) -> None:
        """Send one message now."""
        ...


class VirtualGuitar:
    """Plays by the cues of a run, or by plucks and slides put in by hand.

    Nothing happens by itself: what is due by some time is handed out, or sent, when asked for.
    """

    def __init__(
        self,
        guitar: Guitar,
        player: Answering | None = None,
        *,
        scenario: Scenario = CLEAN,
        seed: int = 0,
        again_after_s: float | None = None,
    ) -> None:
        """Take up a guitar.

        player: answers the cues; without one, cues do nothing. scenario, seed: the faults of its converter.
        again_after_s: a cue that is still the last one so long after it was answered is answered again, at
        each of its places in turn: a converter may have swallowed a note, or answered for the player.
        """
        self._guitar = guitar
        self._player = player
        self.converter = Converter(guitar, scenario, seed)
        self._typing: list[tuple[float, int, str]] = []
        self._planned: list[tuple[float, int, Pluck]] = []  # plucks that have not begun
        self._beats: dict[int, tuple[frozenset[int], float]] = {}  # by prompt: its plucks, and when it is due
        self._counted = 0
        self._again_after_s = again_after_s
        self._again_s: float | None = None  # when to answer again
        self._open: Prompt | None = None
        self._tries = 0

    def cue(self, prompt: Prompt, time_s: float) -> None:
        """Let the player answer a prompt cued then; what was still to come for an earlier one is dropped.

        In tempo a cue is only seen: the player plays on the beats.
        """
        if isinstance(self._player, OnBeats) and self._player.in_tempo:
            return
        self._planned.clear()
        self._typing.clear()
        self._open = self._again_s = None
        if self._player is None:
            return
        actions = self._player.answer(prompt)
        if self._again_after_s is not None and prompt.judged is not Judged.NAME:
            last_s = max((action.after_cue_s for action in actions), default=0.0)
            self._open, self._tries = prompt, 0
            self._again_s = time_s + last_s + self._again_after_s
        for action in actions:
            if isinstance(action, Pluck):
                self._plan(time_s + action.after_cue_s, action)
            else:
                entry = (time_s + action.after_cue_s, self._count(), action.text)
                heapq.heappush(self._typing, entry)

    def beat(self, prompt: Prompt, due_s: float) -> None:
        """Let the player play a prompt that is due then, whatever is cued meanwhile.

        Told again, the later told time holds; what was plucked already is plucked once more only where the
        new time is that of another beat, as after a pause.
        """
        if not isinstance(self._player, OnBeats):
            return
        planned, told_s = self._beats.get(prompt.n, (frozenset(), due_s))
        left = [entry for entry in self._planned if entry[1] not in planned]
        begun = len(self._planned) - len(left) < len(planned)
        if begun and due_s - told_s < _OTHER_BEAT_S:
            return
        self._planned = left
        heapq.heapify(self._planned)
        plucks = self._player.on_beat(prompt, due_s)
        self._beats[prompt.n] = (frozenset(self._plan(each.time_s, each.pluck) for each in plucks), due_s)

    def pluck(self, place: Place, time_s: float, *, velocity: int = 90, hold_s: float = 0.4) -> None:
        """Put in one plucked note by hand. Raises ValueError for a place that the guitar has not."""
        if not self._guitar.neck.has(place):
            raise ValueError(f"the guitar has no place {place}")
        self._plan(time_s, Pluck(0.0, place, velocity, hold_s))

    def slide(self, string: int, to_fret: int, start_s: float, *, over_s: float = 0.1) -> None:
        """Slide the finger of the note that sounds then to another fret, told as bends up to the bend range.

        To be called when everything before `start_s` has been handed out. Raises ValueError where no note
        sounds on the string, or the way is longer than the bend range.
        """
        sounds = self.converter.sounding(string, start_s)
        if sounds is None:
            raise ValueError(f"nothing sounds on string {string}")
        place = Place(string, to_fret)
        if not self._guitar.neck.has(place):
            raise ValueError(f"the guitar has no place {place}")
        semitones = self.converter.bend_of(place)
        if abs(semitones) > self.converter.bend_range_semitones:
            raise ValueError(f"{semitones} semitones are more than the bend range")
        self.converter.stroke(Moved(start_s, place, sounds[1], over_s))

    def due(self, now_s: float) -> list[TimedMessage]:
        """Return, once, the messages of everything up to now, in the order of time."""
        while self._again_s is not None and self._again_s <= now_s:
            self._again_s = self._answer_again(self._again_s)
        while self._planned and self._planned[0][0] <= now_s:
            time_s, _, pluck = heapq.heappop(self._planned)
            time_s = max(time_s, self.converter.now_s)  # planned too late for its time
            self.converter.stroke(Struck(time_s, pluck.place, pluck.velocity, time_s + pluck.hold_s))
        return self.converter.due(now_s)

    def send_due(self, now_s: float, sink: Sink) -> int:
        """Send what is due through a port; return how many messages that were."""
        messages = self.due(now_s)
        for message in messages:
            sink.send(message.data)
        return len(messages)

    def typed_due(self, now_s: float) -> list[tuple[float, str]]:
        """Return, once, the names typed up to now, each with its time."""
        typed = []
        while self._typing and self._typing[0][0] <= now_s:
            time_s, _, text = heapq.heappop(self._typing)
            typed.append((time_s, text))
        return typed

    def next_s(self) -> float | None:
        """When the next thing is due, for whoever waits; None if nothing is to come."""
        times = [entries[0][0] for entries in (self._planned, self._typing) if entries]
        times += [] if self._again_s is None else [self._again_s]
        sent_s = self.converter.next_s()
        return min(times if sent_s is None else [*times, sent_s], default=None)

    def _answer_again(self, time_s: float) -> float | None:
        """Plan the next of the places that answer the open cue; return when to do so again."""
        prompt = self._open
        assert prompt is not None
        assert self._again_after_s is not None
        places = [place for place in prompt.places if self._guitar.neck.has(place)]
        if not places:
            return None
        place = places[self._tries % len(places)]
        self._tries += 1
        if prompt.held is not None:
            self._plan(time_s, Pluck(0.0, prompt.held, _AGAIN_VELOCITY, 2 * _AGAIN_HOLD_S))
            time_s += _AGAIN_HOLD_S
        self._plan(time_s, Pluck(0.0, place, _AGAIN_VELOCITY, _AGAIN_HOLD_S))
        return time_s + self._again_after_s

    def _count(self) -> int:
        self._counted += 1
        return self._counted

    def _plan(self, time_s: float, pluck: Pluck) -> int:
        """Plan a pluck; return by which number it is known."""
        count = self._count()
        heapq.heappush(self._planned, (time_s, count, pluck))
        return count


class VirtualSource:
    """A virtual guitar as a live run sees a port: in process, without any MIDI system."""

    def __init__(self, guitar: VirtualGuitar, clock: Clock, name: str = "virtual guitar") -> None:
        """Let a guitar be heard on a clock."""
        self._guitar = guitar
        self._clock = clock
        self._name = name

    @property
    def name(self) -> str:
        """Who plays."""
        return self._name

    def poll(self) -> list[TimedMessage]:
        """Everything that is due."""
        return self._guitar.due(self._clock.now_s())

    def connected(self, *, at_once: bool = False) -> bool:
        """Always: there is no cable."""
        return True

    @property
    def trouble(self) -> str:
        """Never any."""
        return ""

    @property
    def last_there_s(self) -> float:
        """Now."""
        return self._clock.now_s()

    def close(self) -> None:
        """Nothing is held."""
