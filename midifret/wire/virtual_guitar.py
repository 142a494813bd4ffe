"""The virtual guitar: what a simulated player plucks, as the messages that a given guitar would send."""

import heapq
from collections.abc import Sequence
from typing import Protocol

from midifret.clock import Clock
from midifret.gear.guitar import Guitar
from midifret.players import Action, Pluck
from midifret.terms import Place, Prompt, TimedMessage

_BEND_CENTRE, _BEND_TOP = 8192, 16383
# A converter that hears a pitch before it is sure of it bends it into place within two periods of E2, 24 ms.
_SETTLE_S = 0.02
_SLIDE_STEP_S = 0.005  # between two bends: a busy converter sends some two hundred a second on one string


class Answering(Protocol):
    """Who plays: a simulated player, or a script of one's own."""

    def answer(self, prompt: Prompt) -> Sequence[Action]:
        """What is plucked or typed after the cue of a prompt, in the order of time."""
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

    def __init__(self, guitar: Guitar, player: Answering | None = None, *, settles: bool = False) -> None:
        """Take up a guitar.

        player: answers the cues; without one, cues do nothing. settles: every fretted note is first told a
        semitone flat and bent into place at once, as some converters do.
        """
        self._guitar = guitar
        self._player = player
        self._settles = settles
        self._due: list[tuple[float, int, bytes]] = []
        self._typing: list[tuple[float, int, str]] = []
        self._planned: list[tuple[float, int, Pluck]] = []  # plucks that have not begun
        self._counted = 0
        self._sounding: dict[int, tuple[int, float]] = {}  # string: key, end of the note
        self._bent: set[int] = set()  # strings whose bend is away from its centre

    def cue(self, prompt: Prompt, time_s: float) -> None:
        """Let the player answer a prompt cued then; what was still to come for an earlier one is dropped."""
        self._planned.clear()
        self._typing.clear()
        if self._player is None:
            return
        for action in self._player.answer(prompt):
            if isinstance(action, Pluck):
                self._plan(time_s + action.after_cue_s, action)
            else:
                entry = (time_s + action.after_cue_s, self._count(), action.text)
                heapq.heappush(self._typing, entry)

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
        if string not in self._sounding or self._sounding[string][1] <= start_s:
            raise ValueError(f"nothing sounds on string {string}")
        key = self._sounding[string][0]
        semitones = self._guitar.neck.midi(Place(string, to_fret)) - key
        if abs(semitones) > self._guitar.wiring.bend_range_semitones:
            raise ValueError(f"{semitones} semitones are more than the bend range")
        self._bend(string, start_s, semitones, over_s)

    def due(self, now_s: float) -> list[TimedMessage]:
        """Return, once, the messages of everything up to now, in the order of time."""
        while self._planned and self._planned[0][0] <= now_s:
            time_s, _, pluck = heapq.heappop(self._planned)
            self._begin(time_s, pluck)
        messages = []
        while self._due and self._due[0][0] <= now_s:
            time_s, _, data = heapq.heappop(self._due)
            messages.append(TimedMessage(time_s, data))
        for string, (_, end_s) in list(self._sounding.items()):
            if end_s <= now_s:
                del self._sounding[string]
        return messages

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
        times = [entries[0][0] for entries in (self._planned, self._due, self._typing) if entries]
        return min(times, default=None)

    def _count(self) -> int:
        self._counted += 1
        return self._counted

    def _plan(self, time_s: float, pluck: Pluck) -> None:
        heapq.heappush(self._planned, (time_s, self._count(), pluck))

    def _send(self, time_s: float, *data: int) -> None:
        heapq.heappush(self._due, (time_s, self._count(), bytes(data)))

    def _begin(self, time_s: float, pluck: Pluck) -> None:
        string = pluck.place.string
        channel = self._guitar.wiring.channel_of(string)
        key = self._guitar.neck.midi(pluck.place)
        settles = self._settles and pluck.place.fret > 0 and self._guitar.wiring.bend_range_semitones >= 1
        self._damp(string, time_s)
        if string in self._bent:
            self._send_bend(time_s, channel, 0.0)
            self._bent.discard(string)
        told = key - 1 if settles else key
        self._send(time_s, 0x90 | channel, told, pluck.velocity)
        end_s = time_s + max(pluck.hold_s, 2 * _SETTLE_S if settles else 0.0)
        self._send(end_s, 0x80 | channel, told, 0)
        self._sounding[string] = (told, end_s)
        if settles:
            self._bend(string, time_s, 1.0, _SETTLE_S)

    def _damp(self, string: int, time_s: float) -> None:
        """End what sounds on a string: it can sound only one note."""
        before = self._sounding.pop(string, None)
        if before is None or before[1] <= time_s:
            return
        channel = self._guitar.wiring.channel_of(string)
        kept = [entry for entry in self._due if entry[0] <= time_s or entry[2][0] & 0x0F != channel]
        self._due = kept
        heapq.heapify(self._due)
        self._send(time_s, 0x80 | channel, before[0], 0)

    def _bend(self, string: int, start_s: float, semitones: float, over_s: float) -> None:
        channel = self._guitar.wiring.channel_of(string)
        self._bent.add(string)
        steps = max(1, round(over_s / _SLIDE_STEP_S))
        for step in range(1, steps + 1):
            self._send_bend(start_s + over_s * step / steps, channel, semitones * step / steps)

    def _send_bend(self, time_s: float, channel: int, semitones: float) -> None:
        raw = round(_BEND_CENTRE * (1 + semitones / self._guitar.wiring.bend_range_semitones))
        raw = min(max(raw, 0), _BEND_TOP)
        self._send(time_s, 0xE0 | channel, raw & 0x7F, raw >> 7)


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

    def connected(self) -> bool:
        """Always: there is no cable."""
        return True

    def close(self) -> None:
        """Nothing is held."""
