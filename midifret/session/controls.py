"""Orders given with both hands on the guitar: pedals, buttons, and plucked signals of two notes."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from midifret.gear.guitar import ControlBinding, SignalBinding
from midifret.terms import Attack, Note
from midifret.terms.control import Control

_CONTROLLER, _PROGRAM = 0xB0, 0xC0


class PedalListener:
    """Watches the messages for controllers and program changes that give an order.

    A controller acts when it rises to its least value, once for each time it does, so that a pedal held
    down or a button that sends its value again and again gives one order.
    """

    def __init__(self, bindings: tuple[ControlBinding, ...]) -> None:
        """Start with every pedal up."""
        self._bindings = bindings
        self._down: set[tuple[int, int]] = set()

    def hear(self, data: bytes) -> Control | None:
        """Take one message and return the order that it gives, if any."""
        if not self._bindings or len(data) < 2:
            return None
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        if kind == _PROGRAM:
            return self._find(data[1], channel, is_program=True)
        if kind != _CONTROLLER or len(data) != 3:
            return None
        for binding in self._bindings:
            if binding.is_program or not _matches(binding, data[1], channel):
                continue
            pedal = (data[1], channel)
            if data[2] < binding.least_value:
                self._down.discard(pedal)
            elif pedal not in self._down:
                self._down.add(pedal)
                return binding.control
        return None

    def _find(self, number: int, channel: int, *, is_program: bool) -> Control | None:
        for binding in self._bindings:
            if binding.is_program is is_program and _matches(binding, number, channel):
                return binding.control
        return None


def _matches(binding: ControlBinding, number: int, channel: int) -> bool:
    return binding.number == number and binding.channel in (None, channel)


@dataclass(frozen=True, slots=True)
class Signal:
    """A plucked signal.

    notes: the two that made it, in the order of their onsets. time_s: when it was whole, and so holds.
    """

    control: Control
    notes: tuple[Note, Note]
    time_s: float


class SignalListener:
    """Watches the notes for two places sounded together, and nothing else with them.

    within_s: notes so far apart at most belong to one stroke. A stroke of three is a chord and no signal, so
    a signal is told only when that time has passed after its second note.
    """

    def __init__(self, bindings: tuple[SignalBinding, ...], within_s: float) -> None:
        """Start with nothing plucked."""
        self._signals = {frozenset(binding.places): binding.control for binding in bindings}
        self._within_s = within_s
        self._stroke: list[Note] = []

    def hear(self, note: Note) -> Signal | None:
        """Take one note; return the signal that its coming has shown to be whole.

        A note that was moved to, not plucked, is no part of a stroke.
        """
        if not self._signals or note.attack is not Attack.PLUCKED:
            return None
        settled = self.settled(note.onset_s)
        if self._stroke and abs(note.onset_s - self._stroke[-1].onset_s) > self._within_s:
            self._stroke.clear()
        self._stroke.append(note)
        self._stroke.sort(key=_onset)  # one that was doubtful is told after later ones
        return settled

    def revise(self, note: Note) -> None:
        """Take the note that an earlier one turned out to be."""
        self._stroke = [note if told.id == note.id else told for told in self._stroke]

    def withdraw(self, note: Note) -> None:
        """Take back a note that was not meant."""
        self._stroke = [told for told in self._stroke if told.id != note.id]

    def settled(self, now_s: float) -> Signal | None:
        """Return the signal that is whole by now, once."""
        if len(self._stroke) != 2 or now_s - self._stroke[1].onset_s <= self._within_s:
            return None
        first, second = self._stroke
        self._stroke.clear()
        if first.place is None or second.place is None:
            return None
        control = self._signals.get(frozenset((first.place, second.place)))
        return None if control is None else Signal(control, (first, second), second.onset_s + self._within_s)


def _onset(note: Note) -> float:
    return note.onset_s


def without_signals(
    notes: Iterable[Note], bindings: tuple[SignalBinding, ...], within_s: float
) -> list[Note]:
    """Leave out of a recording's notes, in the order of onsets, those that made up a signal."""
    listener = SignalListener(bindings, within_s)
    kept = list(notes)
    found = [listener.hear(note) for note in kept] + [listener.settled(math.inf)]
    made_of = {note.id for signal in found if signal is not None for note in signal.notes}
    return [note for note in kept if note.id not in made_of]
