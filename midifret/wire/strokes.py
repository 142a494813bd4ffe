"""What a hand does to the strings, and what a converter made of it: the two ends of the faulty guitar."""

from dataclasses import dataclass

from midifret.terms import Attack, Glitch, Place


@dataclass(frozen=True, slots=True)
class Struck:
    """A string plucked. A chord is several of them at about the same time.

    velocity: 1 to 127. until_s: when the finger lets go, or the string is damped.
    """

    time_s: float
    place: Place
    velocity: int
    until_s: float


@dataclass(frozen=True, slots=True)
class Moved:
    """The finger of a sounding string goes to another fret without a pluck.

    place: where it goes. over_s: how long it takes; 0 for a hammer-on or a pull-off, more for a slide.
    until_s: when the finger lets go there.
    """

    time_s: float
    place: Place
    until_s: float
    over_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Shaken:
    """Vibrato of a sounding string.

    cents: how far to either side of the fret. over_s: how long it goes on.
    """

    time_s: float
    string: int
    cents: float
    over_s: float


Stroke = Struck | Moved | Shaken


@dataclass(frozen=True, slots=True)
class Played:
    """The truth about one note that was meant.

    onset_s: when the hand had done it. sent_s: when the converter has told it, note-on or last bend.
    velocity: as it was sent; of the pluck before, where the string was moved. soft: no louder than glitches.
    """

    onset_s: float
    place: Place
    midi: int
    attack: Attack
    velocity: int
    sent_s: float
    soft: bool = False


@dataclass(frozen=True, slots=True)
class Made:
    """The truth about one note that the converter made up.

    sent_s: when its note-on was sent. string: on which it was told. midi: as it sounds. lasted_s: as planned;
    a pluck of the same string may have ended it before.
    """

    sent_s: float
    string: int
    midi: int
    velocity: int
    glitch: Glitch
    lasted_s: float
