"""The tones of a key that a hand in a position reaches: the matter of which a melody is made."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from midifret.neck import Neck, ReachedPlace, Scale, in_reach, parse_scale
from midifret.terms import Place, SpelledPitch
from midifret.terms.pitch import STEP_SEMITONES

_STEPS = "CDEFGAB"
LEAST_TONES = 5  # of a key, side by side: with fewer there is no melody to be made [ours]
# Tones outside the key that melodies touch on their way to the next one, by degree from 0: raised ones go up,
# lowered ones down [common practice, no source].
_RAISED_IN = {"major": (0, 1, 3, 4), "minor": (3,)}
_LOWERED_IN = {"major": (6, 5), "minor": (1,)}


class Kind(Enum):
    """How a tone stands to its key."""

    OF_KEY = "of the key"
    RAISED_MINOR = "raised in minor"  # sixth and seventh degree on their way up
    RAISED = "raised"
    LOWERED = "lowered"


@dataclass(frozen=True, slots=True)
class Tone:
    """One pitch that can be played.

    index: of its letter on the staff, seven an octave. degree: of the key, 0 the tonic. reached: where.
    visit: how much it is to be sought, 0 to 1.
    """

    midi: int
    pitch: SpelledPitch
    index: int
    degree: int
    kind: Kind
    reached: tuple[ReachedPlace, ...]
    visit: float = 0.0

    @property
    def needs_stretch(self) -> bool:
        """Whether only a stretched finger reaches it."""
        return all(place.stretch for place in self.reached)


@dataclass(frozen=True, slots=True)
class Key:
    """A key as music is written in it. fifths: its sharps, flats negative."""

    name: str
    scale: Scale
    fifths: int
    mode: str


def key_of(text: str) -> Key:
    """Read a key such as `G major` or `e minor`. Raises ValueError, saying what is allowed."""
    allowed = "a tonic and major or minor, for example G major"
    words = text.split()
    mode = words[-1].lower() if words else ""
    if len(words) != 2 or mode not in _RAISED_IN:
        raise ValueError(f"{text!r} is not a key for melodies; write {allowed}")
    try:
        scale = parse_scale(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a key for melodies; write {allowed}") from None
    signs = [alter for _, alter in scale.notes]
    if any(abs(alter) > 1 for alter in signs):
        raise ValueError(f"{text!r} has more than seven signs; write {allowed}")
    tonic = text.split()[0]
    return Key(f"{tonic[0].upper()}{tonic[1:]} {mode}", scale, sum(signs), mode)


def tones_of(
    neck: Neck,
    position: int,
    key: Key,
    *,
    outside_key: bool = False,
    stretch: bool = True,
    visit: Mapping[Place, float] | None = None,
) -> tuple[Tone, ...]:
    """The longest row of neighbouring tones of a key in reach of a position, and what belongs to them.

    outside_key: with the raised and lowered tones that lie between them. stretch: with tones that only a
    stretched finger reaches. visit: how much a place is to be sought, 0 or more. Sorted by pitch; empty where
    the position has fewer than five such neighbours.
    """
    maker = _Tones(neck, position, key, visit or {}, stretch=stretch)
    row: list[Tone] = []
    best: list[Tone] = []
    for index in range(7 * 10):
        tone = maker.tone(index, 0, Kind.OF_KEY)
        row = [*row, tone] if tone is not None else []
        if len(row) > len(best):
            best = row
    if len(best) < LEAST_TONES:
        return ()
    found: list[Tone | None] = [*best]
    for tone in best:
        if key.mode == "minor" and tone.degree in (5, 6):
            found.append(maker.tone(tone.index, 1, Kind.RAISED_MINOR))
        if outside_key and tone.degree in _RAISED_IN[key.mode]:
            found.append(maker.tone(tone.index, 1, Kind.RAISED))
        if outside_key and tone.degree in _LOWERED_IN[key.mode]:
            found.append(maker.tone(tone.index, -1, Kind.LOWERED))
    lowest, highest = best[0].midi, best[-1].midi
    inside = [tone for tone in found if tone is not None and lowest <= tone.midi <= highest]
    return tuple(sorted(inside, key=lambda tone: (tone.midi, tone.index)))


class _Tones:
    """Makes the tones of one key in one position."""

    def __init__(
        self, neck: Neck, position: int, key: Key, visit: Mapping[Place, float], *, stretch: bool
    ) -> None:
        self._neck = neck
        self._position = position
        self._key = key
        self._visit = visit
        self._stretch = stretch
        self._most = max(visit.values(), default=0.0) or 1.0
        self._degrees = {step: degree for degree, (step, _) in enumerate(key.scale.notes)}
        self._alters = dict(key.scale.notes)

    def tone(self, index: int, change: int, kind: Kind) -> Tone | None:
        """The tone on a line or space, changed by semitones; None where it is not in reach."""
        octave, number = divmod(index, 7)
        step = _STEPS[number]
        alter = self._alters[step] + change
        pitch = SpelledPitch(step, alter, octave - 1)
        midi = 12 * octave + STEP_SEMITONES[step] + alter
        if abs(alter) > 2 or not 0 <= midi <= 127:
            return None
        reached = in_reach(self._neck, self._position, midi)
        if not reached or (not self._stretch and all(place.stretch for place in reached)):
            return None
        best = tuple(place for place in reached if not place.stretch) or reached
        visit = max(self._visit.get(place.place, 0.0) for place in best) / self._most
        return Tone(midi, pitch, index, self._degrees[step], kind, reached, visit)
