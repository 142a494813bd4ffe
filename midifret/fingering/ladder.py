"""The same music in successive positions: where it can be played, how hard, and in which order to climb."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from statistics import median

from midifret.fingering.choices import Choices, OpenStrings
from midifret.fingering.engine import finger
from midifret.fingering.values import Fingering
from midifret.fingering.weights import Weights
from midifret.neck import Neck, in_reach
from midifret.neck.position import FRETS_OF_A_HAND
from midifret.terms.score import Score

# A position in which more of the notes than this lie out of reach is none to read the piece in [ours].
MOST_OUTSIDE = 0.25
# A position that asks for more than so many times the effort of the middle one is left for later [ours].
MOST_EFFORT = 2.0


class NotYet(StrEnum):
    """Why a position has no place in the order of climbing."""

    NOTHING = "nothing"  # no note of it can be played there
    OUTSIDE = "outside"  # more than MOST_OUTSIDE of what can be played lies out of reach
    EFFORT = "effort"  # more than MOST_EFFORT times the effort of the middle one of the positions


@dataclass(frozen=True, slots=True)
class Rung:
    """A score in one position.

    position: 0 is the open one. fingering: of the whole score, the hand kept there.
    notes: how many are played; in_reach: under hand or stretch. open_strings: notes on open strings, in
    positions from 1 on only those that neither reaches. stretches: the fourth finger reaches a fret further.
    outside: notes for which the hand has to leave the position, each a counted shift. left_out: notes that no
    hand can strike together with the others.
    effort: cost for each note, by the weights of fingering, what goes against the position left out; it
    compares positions of one piece.
    order: from 1, in which order to climb; None for a position that comes last, if ever: not_yet says why.
    """

    position: int
    fingering: Fingering
    notes: int
    in_reach: int
    open_strings: int
    stretches: int
    outside: int
    left_out: int
    effort: float
    order: int | None = None
    not_yet: NotYet | None = None

    @property
    def whole(self) -> bool:
        """Whether the position holds every note, open strings included where the rule allows them."""
        return self.outside == 0 and self.left_out == 0


def climb(
    score: Score,
    neck: Neck,
    weights: Weights | None = None,
    *,
    positions: Iterable[int] | None = None,
    quarter_bpm: float | None = None,
) -> tuple[Rung, ...]:
    """Finger a score in each position and say in which order to climb; the rungs come by position.

    In the open position open strings are a matter of course; from position 1 on an open string is played only
    where neither hand nor stretch reaches the note, and a note with no such place is a counted shift. The
    order goes upwards from the open position, as the method does. Positions that leave more than a quarter
    outside, or ask for more than twice the effort of the middle one of the others, are given no place in it.
    positions: those to try; None for all of the neck that have a hand's room. neck: as `neck_for` gives it.
    Raises BadInput as `finger` does.
    """
    last = neck.last_fret - FRETS_OF_A_HAND + 1
    tried = range(last + 1) if positions is None else sorted(set(positions))
    usual = Choices() if quarter_bpm is None else Choices(quarter_bpm=quarter_bpm)
    rungs = []
    for position in tried:
        opened = OpenStrings.FREELY if position == 0 else OpenStrings.NEEDED
        choices = replace(usual, position=position, open_strings=opened)
        rungs.append(_rung(score, neck, position, finger(score, neck, choices, weights)))
    return _ordered(rungs)


def _rung(score: Score, neck: Neck, position: int, fingering: Fingering) -> Rung:
    played = [(note, found) for note, found in zip(score.notes, fingering.notes, strict=True) if found.place]
    reached = stretches = opened = outside = 0
    for note, found in played:
        assert found.place is not None
        reach = {way.place: way for way in in_reach(neck, position, note.midi)}.get(found.place)
        if found.place.fret == 0:
            opened += 1
        if reach is None and found.place.fret != 0:
            outside += 1
            continue
        reached += 1
        stretches += reach is not None and reach.stretch
    against = sum(value for name, value in fingering.parts if name == "against")
    count = len(played)
    return Rung(
        position,
        fingering,
        count,
        reached,
        opened,
        stretches,
        outside,
        len(score.notes) - count,
        (fingering.cost - against) / count if count else 0.0,
    )


def _ordered(rungs: list[Rung]) -> tuple[Rung, ...]:
    within = [rung for rung in rungs if rung.notes and rung.outside <= MOST_OUTSIDE * rung.notes]
    middle = median(rung.effort for rung in within) if within else 0.0
    climbed = [rung for rung in within if rung.effort <= MOST_EFFORT * middle]
    order = {rung.position: number for number, rung in enumerate(climbed, start=1)}
    made = []
    for rung in rungs:
        not_yet = None
        if not rung.notes:
            not_yet = NotYet.NOTHING
        elif rung not in within:
            not_yet = NotYet.OUTSIDE
        elif rung.position not in order:
            not_yet = NotYet.EFFORT
        made.append(replace(rung, order=order.get(rung.position), not_yet=not_yet))
    return tuple(made)
