"""A player's guitar: its neck, which channel each string sends on, and what its pedals and signals mean."""

from dataclasses import dataclass

from midifret.neck import Neck
from midifret.terms import Place, Wiring
from midifret.terms.control import Control


@dataclass(frozen=True, slots=True)
class ControlBinding:
    """A pedal or button: a controller or a program change that gives an order.

    number: controller or program number, 0 to 127. channel: 0 to 15, or None for any.
    A controller acts when its value rises to `least_value` or more.
    """

    control: Control
    is_program: bool
    number: int
    channel: int | None = None
    least_value: int = 64


@dataclass(frozen=True, slots=True)
class SignalBinding:
    """A plucked signal: two places sounded together give an order."""

    control: Control
    places: tuple[Place, Place]


@dataclass(frozen=True, slots=True)
class Guitar:
    """Everything the program knows about one guitar.

    wiring: what its messages mean.
    port: part of the name of its MIDI input, or an empty text.
    signal_within_s: two notes of a signal lie at most so far apart.
    """

    name: str
    title: str
    neck: Neck
    wiring: Wiring
    port: str = ""
    controls: tuple[ControlBinding, ...] = ()
    signals: tuple[SignalBinding, ...] = ()
    signal_within_s: float = 0.08

    @property
    def assumed_neck(self) -> Neck | None:
        """The neck on which places have to be assumed, because the guitar tells no strings; else None."""
        return None if self.wiring.knows_strings else self.neck


def channel_map(channel_of_string: tuple[int, ...]) -> tuple[int | None, ...]:
    """Turn the channels of strings 1, 2, 3 ... (0 to 15, each once) into a string for each channel."""
    strings: list[int | None] = [None] * 16
    for string, channel in enumerate(channel_of_string, start=1):
        if not 0 <= channel <= 15:
            raise ValueError(f"channels go from 1 to 16, not {channel + 1}")
        if strings[channel] is not None:
            raise ValueError(
                f"channel {channel + 1} is given to string {strings[channel]} and to string {string}"
            )
        strings[channel] = string
    return tuple(strings)
