"""The form of a melody: phrases that ask and answer, ideas that come again, chords under them."""

from dataclasses import dataclass
from enum import Enum

from midifret.melody.chance import Chance

PHRASE_BARS = 4  # the usual length [common practice, no source]
# How often what can come again does [ours].
_PARALLEL = 0.65  # an answer that begins as the question did
_SEQUENCE = 0.45  # a first bar at once repeated a step or more away
_RETURN = 0.75  # a last phrase that begins as the first one did
_RHYTHM_AGAIN = 0.6  # a bar that takes the rhythm of an earlier one
# Chords by degree from 0. Within a phrase mostly the three that hold the key [common practice, no source].
_WITHIN = {0: 4.0, 3: 3.0, 4: 2.0, 5: 1.5, 1: 1.5}
_BEFORE_LAST = {4: 4.0, 3: 1.0, 1: 1.0}


class Close(Enum):
    """How a phrase ends."""

    OPEN = "open"  # on a tone of the dominant: a question
    FULL = "full"  # on the tonic


@dataclass(frozen=True, slots=True)
class BarPlan:
    """What one bar is to be.

    phrase: from 0. chords: the degree of the chord under its first and its second half. same_as: the bar
    whose notes it repeats, so many steps away; None for notes of its own. rhythm_of: the bar whose rhythm it
    takes. closes: how a phrase ends in it, None within a phrase.
    """

    phrase: int
    chords: tuple[int, int]
    same_as: int | None = None
    sequence: bool = False
    rhythm_of: int | None = None
    closes: Close | None = None


def phrase_lengths(bars: int) -> tuple[int, ...]:
    """Divide bars into phrases of about four, the longer ones first."""
    count = max(1, (bars + PHRASE_BARS // 2 - 1) // PHRASE_BARS)
    least, more = divmod(bars, count)
    return tuple(least + (number < more) for number in range(count))


def plan_form(bars: int, chance: Chance) -> tuple[BarPlan, ...]:
    """Plan every bar: each second phrase answers, the last one always; ideas come again."""
    lengths = phrase_lengths(bars)
    plans: list[BarPlan] = []
    starts: list[int] = []
    for phrase, length in enumerate(lengths):
        last = phrase == len(lengths) - 1
        closes = Close.FULL if last or phrase % 2 else Close.OPEN
        starts.append(len(plans))
        model = _model(phrase, last, chance)
        model_length = lengths[model] if model is not None else 0
        first = None if model is None else starts[model]
        plans += _phrase(phrase, length, closes, first, model_length, len(plans), chance)
    return tuple(plans)


def _model(phrase: int, last: bool, chance: Chance) -> int | None:
    """The earlier phrase as which this one begins."""
    if last and phrase > 1 and chance.yes(_RETURN):
        return 0
    if phrase % 2 and chance.yes(_PARALLEL):
        return phrase - 1
    return None


def _phrase(
    phrase: int,
    length: int,
    closes: Close,
    first: int | None,
    model_length: int,
    at: int,
    chance: Chance,
) -> list[BarPlan]:
    chords = _chords(length, closes, chance)
    sequence = length >= 4 and first is None and chance.yes(_SEQUENCE)
    plans = []
    for bar in range(length):
        closing = closes if bar == length - 1 else None
        same_as = rhythm_of = None
        stepped = False
        if first is not None and bar < min(length, model_length) // 2:
            same_as = first + bar
        elif sequence and bar == 1:
            same_as, stepped = at, True
        elif closing is None and bar > 0 and chance.yes(_RHYTHM_AGAIN):
            rhythm_of = at if bar % 2 == 0 or chance.yes(0.5) else at + bar - 1
        plans.append(BarPlan(phrase, chords[bar], same_as, stepped, rhythm_of, closing))
    return plans


def _chords(length: int, closes: Close, chance: Chance) -> list[tuple[int, int]]:
    """Two chords a bar: from the tonic, over others, to the dominant or home."""
    chords = [(0, 0)]
    for _ in range(max(0, length - 3)):
        chord = chance.weighted(_WITHIN)
        other = chance.weighted(_WITHIN) if chance.yes(0.3) else chord
        chords.append((chord, other))
    if length >= 3:
        before = chance.weighted(_BEFORE_LAST) if closes is Close.FULL else chance.weighted(_WITHIN)
        chords.append((before, 4 if closes is Close.FULL else before))
    if length >= 2:
        chords.append((4, 4) if closes is Close.OPEN else (0, 0))
    if length == 2 and closes is Close.FULL:
        chords[0] = (0, 4)
    return chords
