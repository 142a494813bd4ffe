"""How a guitar reaches the program: which string sends where, how it is encoded, what may be a glitch."""

from dataclasses import dataclass, field
from enum import StrEnum

NO_STRINGS: tuple[int | None, ...] = (None,) * 16


class Encoding(StrEnum):
    """What a MIDI channel stands for."""

    PER_STRING = "per-string"  # a channel of its own for each string (mode 4, or an explicit list)
    ONE_CHANNEL = "one-channel"  # every note on any one channel: the string is not known
    MPE = "mpe"  # a channel for each sounding note, whatever its string (MPE 1.1): the string is not known


@dataclass(frozen=True, slots=True)
class Thresholds:
    """What tells a note that was meant from one that a converter made up. Setting up a guitar measures some.

    Every default is [ours] unless a source stands beside it.
    """

    # A note no louder than this may be a glitch. Glitches are soft (facts of converters); a plucked note of
    # ordinary strength lies above 40 on converters set as their manuals say [common practice, no source].
    soft_velocity: int = 32
    # A soft note that ends before this was not meant: false notes last under about 50 ms (converter support
    # notes, from memory).
    short_s: float = 0.050
    # No note stays doubtful longer than this after its onset: the 60 ms that the project promises, less two
    # looks of a live loop that looks each millisecond.
    doubt_s: float = 0.058
    # The same fret of a string is not struck twice within this. The fastest repeats that anybody plays are
    # about 70 ms apart (14 a second) [common practice, no source], less 10 ms of a converter's jitter.
    repeat_s: float = 0.060
    # A string struck makes its neighbours speak within this: twice the difference between the usual two
    # periods of E2 and of E4, 24.3 and 6.1 ms (ISO 16; facts of converters).
    together_s: float = 0.036
    # A neighbour's false note has at most this share of the velocity of the string that was struck.
    crosstalk_share: float = 0.5
    # A finger that leaves a string makes it speak open within this.
    lift_off_s: float = 0.080
    # A note of any strength that ends before this was not meant. Zero leaves them alone: grace notes in files
    # that notation programs write last 2 ms. A guitar whose converter guesses is given one period of its
    # lowest string, E2: 12.1 ms (ISO 16), in which no pitch can be known.
    least_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Wiring:
    """What the messages of one guitar mean.

    channels: for each of 16 channels the string that sends on it, or None; all None unless PER_STRING.
    bend_range_semitones: at full bend, until the guitar says otherwise (RPN 0).
    controller_channel: 0 to 15; bends and controllers on it hold for all strings (mode 4's channel below the
        base), or None.
    transpose_semitones: what has to be added to the numbers sent to have the sounding pitch.
    cents: for strings 1, 2, ... how far each open string is from its pitch; empty for none.
    """

    channels: tuple[int | None, ...] = NO_STRINGS
    bend_range_semitones: float = 2.0
    encoding: Encoding = Encoding.PER_STRING
    controller_channel: int | None = None
    transpose_semitones: int = 0
    cents: tuple[float, ...] = ()
    thresholds: Thresholds = field(default_factory=Thresholds)

    @property
    def knows_strings(self) -> bool:
        """Whether the channel of a note tells its string."""
        return self.encoding is Encoding.PER_STRING

    def channel_of(self, string: int) -> int:
        """The channel, 0 to 15, on which a string sends; 0 where strings have none of their own.

        Raises ValueError for a string that the map leaves out.
        """
        return self.channels.index(string) if self.knows_strings else 0
