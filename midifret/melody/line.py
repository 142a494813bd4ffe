"""Which tone follows which: draws a line of tones exactly by weights, from what came before to what follows.

The weight of a line is a product of what each tone, each interval and each pair of intervals weighs; a line
is drawn with a probability in proportion to it, by sums over all that can follow, worked out from the end.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from midifret.melody.chance import Chance
from midifret.melody.tones import Kind, Tone

# What an interval leaves behind for the next one: its size and direction in a few classes.
NO_MOVE, SAME, UP_STEP, DOWN_STEP, UP_THIRD, DOWN_THIRD, UP_LEAP, DOWN_LEAP = range(8)
_CLASSES = 8
_TRITONE, _SEVENTHS = 6, (10, 11)
# After a leap of a fourth or more the line steps back; after a third it may go on to outline a chord (melodic
# gap-fill and return to the middle after leaps: Meyer 1973; von Hippel & Huron 2000, from memory). The
# weights themselves are [ours].
_AFTER_LEAP = {
    "step back": 1.0,
    "third back": 0.4,
    "same": 0.25,
    "step on": 0.1,
    "on": 0.02,
    "leap back": 0.08,
}
_AFTER_THIRD = {
    "step back": 1.0,
    "third back": 0.3,
    "same": 0.5,
    "step on": 0.7,
    "third on": 0.45,
    "leap": 0.25,
}
_AFTER_STEP = {"step on": 1.1, "step back": 0.8, "same": 0.8, "third": 0.9, "leap": 0.8}
_SAME_TWICE = 0.2
# After a short note leaps are rare, and so is the same note again [ours].
_QUICK = {UP_LEAP: 0.15, DOWN_LEAP: 0.15, SAME: 0.4}


@dataclass(frozen=True, slots=True)
class Slot:
    """One note to be: what each tone weighs there.

    weights: by the place of the tone in the row of tones; a tone that is missing does not come. fresh: a
    phrase begins here, so that what went before binds less. quick: the note before is short, so that leaps
    from it are rare.
    """

    weights: Mapping[int, float]
    fresh: bool = False
    quick: bool = False


def interval_class(before: Tone, after: Tone) -> int:
    """The class of the interval from one tone to another."""
    steps = after.index - before.index
    if steps == 0:
        return SAME
    size = min(abs(steps), 3)
    up = steps > 0
    return {1: (DOWN_STEP, UP_STEP), 2: (DOWN_THIRD, UP_THIRD), 3: (DOWN_LEAP, UP_LEAP)}[size][up]


def follows_weight(last: int, following: int) -> float:
    """What the class of an interval weighs after the class of the one before."""
    if last == NO_MOVE:
        return 1.0
    if last == SAME:
        return _SAME_TWICE if following == SAME else 1.0
    size, up = _size(last), _up(last)
    next_size = _size(following)
    on = _up(following) == up
    if size == 3:
        if next_size == 0:
            return _AFTER_LEAP["same"]
        if on:
            return _AFTER_LEAP["step on" if next_size == 1 else "on"]
        return _AFTER_LEAP[("step back", "third back", "leap back")[next_size - 1]]
    if size == 2:
        if next_size in (0, 3):
            return _AFTER_THIRD["leap" if next_size else "same"]
        return _AFTER_THIRD[f"{'step' if next_size == 1 else 'third'} {'on' if on else 'back'}"]
    if next_size == 0:
        return _AFTER_STEP["same"]
    if next_size == 1:
        return _AFTER_STEP["step on" if on else "step back"]
    return _AFTER_STEP["third" if next_size == 2 else "leap"]


def _size(kind: int) -> int:
    return (0, 0, 1, 1, 2, 2, 3, 3)[kind]


def _up(kind: int) -> bool:
    return kind in (UP_STEP, UP_THIRD, UP_LEAP)


def move_weight(before: Tone, after: Tone, intervals: Mapping[int, float]) -> float:
    """What the move from one tone to the next weighs, whatever came before; 0 where it does not come."""
    semitones = after.midi - before.midi
    steps = after.index - before.index
    if not _leads_on(before, after):
        return 0.0
    outside = {Kind.RAISED, Kind.LOWERED} & {before.kind, after.kind}
    if outside:
        # Such tones come by step or by sliding from the tone that they change.
        return intervals.get(2, 0.0) if 0 < abs(semitones) <= 2 and abs(steps) <= 1 else 0.0
    number = abs(steps) + 1
    weight = intervals.get(number, 0.0)
    if number > 1 and abs(semitones) in (_TRITONE, *_SEVENTHS):
        weight *= 0.1
    if number == 2 and abs(semitones) == 3:
        return 0.0  # an augmented second
    if number == 1 and semitones:
        return 0.0
    return weight if number == 1 else weight / 2  # up and down


def _leads_on(before: Tone, after: Tone) -> bool:
    """Whether a tone that has to go somewhere goes there."""
    steps = after.index - before.index
    semitones = after.midi - before.midi
    if before.kind is Kind.RAISED:
        return steps == 1 and semitones == 1
    if before.kind is Kind.LOWERED:
        return steps == -1 and semitones == -1
    if before.kind is Kind.RAISED_MINOR:
        if before.degree == 5:
            return steps == 1 and after.kind is Kind.RAISED_MINOR
        return (steps == 1 and after.degree == 0) or (steps == 0 and semitones == 0)
    if after.kind is Kind.RAISED_MINOR and after.degree == 5:
        return steps == 1  # from the fifth degree up
    return not (after.kind is Kind.RAISED_MINOR and before.kind is Kind.OF_KEY and before.degree in (5, 6))


class Moves:
    """All moves between the tones of a row, worked out once."""

    def __init__(self, tones: Sequence[Tone], intervals: Mapping[int, float]) -> None:
        """Work them out."""
        self.tones = tuple(tones)
        self._follows = [[follows_weight(last, kind) for kind in range(_CLASSES)] for last in range(_CLASSES)]
        plain = [self._moves_of(tone, intervals) for tone in self.tones]
        self._moves = {
            False: plain,
            True: [[(b, kind, w * _QUICK.get(kind, 1.0)) for b, kind, w in moves] for moves in plain],
        }

    def _moves_of(self, before: Tone, intervals: Mapping[int, float]) -> list[tuple[int, int, float]]:
        """Each tone that can follow one, the class of that move and its weight."""
        found = []
        for number, after in enumerate(self.tones):
            weight = move_weight(before, after, intervals)
            if weight > 0:
                found.append((number, interval_class(before, after), weight))
        return found

    def draw(
        self,
        slots: Sequence[Slot],
        chance: Chance,
        *,
        before: tuple[int, int] | None = None,
        after: tuple[int, bool] | None = None,
    ) -> list[int] | None:
        """Draw the tones of some slots, as places in the row; None where nothing fits.

        before: the tone before the first slot and the class of the move to it; None at the beginning.
        after: the tone that follows the last slot, and whether a phrase begins with it.
        """
        ahead = self._ahead(slots, after)
        found: list[int] = []
        for slot, sums in zip(slots, ahead, strict=True):
            choices: dict[tuple[int, int], float]
            if before is None:
                choices = {(NO_MOVE, a): w * sums[NO_MOVE][a] for a, w in slot.weights.items()}
            else:
                tone, last = before
                choices = {}
                for b, kind, weight in self._moves[slot.quick][tone]:
                    own = slot.weights.get(b, 0.0)
                    if own <= 0:
                        continue
                    if slot.fresh:
                        choices[NO_MOVE, b] = weight * own * sums[NO_MOVE][b]
                    else:
                        choices[kind, b] = weight * self._follows[last][kind] * own * sums[kind][b]
            if sum(choices.values()) <= 0:
                return None
            kind, chosen = chance.weighted(choices)
            found.append(chosen)
            before = (chosen, kind)
        return found

    def _ahead(self, slots: Sequence[Slot], after: tuple[int, bool] | None) -> list[list[dict[int, float]]]:
        """For each slot what all that can follow weighs, by class of the move to it and tone, scaled to 1."""
        behind = None if after is None else Slot({after[0]: 1.0}, fresh=after[1])
        following: list[dict[int, float]] | None = None
        ahead: list[list[dict[int, float]]] = []
        for slot in reversed(slots):
            sums: list[dict[int, float]] = [{} for _ in range(_CLASSES)]
            for a in slot.weights:
                totals = [1.0] * _CLASSES if behind is None else self._totals(a, behind, following)
                for last, total in enumerate(totals):
                    sums[last][a] = total
            most = max((max(row.values(), default=0.0) for row in sums), default=0.0)
            if most > 0:
                sums = [{a: value / most for a, value in row.items()} for row in sums]
            following = sums
            ahead.append(sums)
            behind = slot
        return ahead[::-1]

    def _totals(self, a: int, behind: Slot, following: list[dict[int, float]] | None) -> list[float]:
        """What can follow a tone weighs, by the class of the move to that tone."""
        by_kind = [0.0] * _CLASSES
        for b, kind, weight in self._moves[behind.quick][a]:
            own = behind.weights.get(b)
            if own is None:
                continue
            counted = NO_MOVE if behind.fresh else kind
            by_kind[counted] += weight * own * (1.0 if following is None else following[counted][b])
        if behind.fresh:
            return [by_kind[NO_MOVE]] * _CLASSES
        return [
            sum(row[kind] * total for kind, total in enumerate(by_kind) if total) for row in self._follows
        ]
