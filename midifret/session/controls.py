"""Orders given with both hands on the guitar: pedals, buttons, and plucked signals of two notes."""

from collections import deque
from collections.abc import Iterable

from midifret.gear.guitar import ControlBinding, SignalBinding
from midifret.terms import Note
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


class SignalListener:
    """Watches the notes for two places sounded together.

    within_s: the two onsets lie at most so far apart.
    """

    def __init__(self, bindings: tuple[SignalBinding, ...], within_s: float) -> None:
        """Start with nothing plucked."""
        self._signals = {frozenset(binding.places): binding.control for binding in bindings}
        self._within_s = within_s
        self._recent: deque[Note] = deque(maxlen=8)

    def hear(self, note: Note) -> tuple[Control, tuple[int, int]] | None:
        """Take one note; where it completes a signal, return the order and the ids of both notes."""
        if not self._signals or note.place is None:
            return None
        for before in reversed(self._recent):
            if abs(note.onset_s - before.onset_s) > self._within_s or before.place is None:
                continue
            control = self._signals.get(frozenset((before.place, note.place)))
            if control is not None:
                self._recent.clear()
                return control, (before.id, note.id)
        self._recent.append(note)
        return None


def without_signals(
    notes: Iterable[Note], bindings: tuple[SignalBinding, ...], within_s: float
) -> list[Note]:
    """Leave out of a recording's notes, in the order of onsets, those that made up a signal."""
    listener = SignalListener(bindings, within_s)
    kept = list(notes)
    signals: set[int] = set()
    for note in kept:
        signal = listener.hear(note)
        if signal is not None:
            signals.update(signal[1])
    return [note for note in kept if note.id not in signals]
