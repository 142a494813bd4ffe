"""Every way to finger a small score, one by one: what the engine has to agree with."""

from collections.abc import Iterator
from itertools import combinations, product

from midifret.fingering import Choices, OpenStrings, Weights
from midifret.fingering.events import timeline
from midifret.fingering.hand import Hand
from midifret.fingering.playable import left_out
from midifret.fingering.search import Search, State
from midifret.neck import Neck
from midifret.terms.score import Score

MOST_WAYS = 30_000


class TooMany(Exception):
    """More ways than can be tried."""


def valid(puts: list[tuple[int, int, int]]) -> bool:
    """Whether fingers can stand so: written anew, from the rules in `forms.fingerings`."""
    strings = [string for string, _, _ in puts]
    if len(set(strings)) < len(strings):
        return False
    down = [put for put in puts if put[2]]
    for (s1, f1, g1), (s2, f2, g2) in combinations(down, 2):
        if g1 == g2:
            if f1 != f2:
                return False
            if g1 > 1 and abs(s1 - s2) > 1:
                return False
            low, high = min(s1, s2), max(s1, s2)
            for string, fret, finger in puts:
                if low < string < high and fret <= f1 and finger != g1:
                    return False
        elif (f1 < f2 and g1 > g2) or (f1 > f2 and g1 < g2):
            return False
    for finger in (2, 3, 4):
        if sum(put[2] == finger for put in down) > 2:
            return False
    frets = [fret for _, fret, _ in down]
    return not frets or max(frets) - min(frets) <= 5


class Brute:
    """All ways through a score; what a step costs is asked of the cost by parts, once for each pair."""

    def __init__(self, score: Score, neck: Neck, weights: Weights, choices: Choices) -> None:
        self.score, self.neck, self.choices = score, neck, choices
        self.hand = Hand(neck, weights, choices)
        self.line = timeline(score, choices.quarter_bpm)
        self.out, _ = left_out(self.hand, score.notes, self.line)
        self.search = Search(self.hand, score.notes, self.line, self.out)
        self._costs: dict[object, float] = {}
        self._played: list[object] = []
        self._ways = 0

    def least(self) -> float:
        """The sum of the cheapest way."""
        return min(sum(costs) for costs in self.ways())

    def hardest_least(self) -> tuple[float, float]:
        """The hardest move of the way on which it is least, then the sum."""
        return min((round(max(costs), 9), sum(costs)) for costs in self.ways())

    def by_fingering(self) -> list[float]:
        """The least cost of each fingering that differs in a place or finger, rising."""
        least: dict[object, float] = {}
        start = State(0.0, 0, self.hand.form(()), (), None)
        for costs in self._from(start, 0, []):
            key = tuple(self._played)
            least[key] = min(least.get(key, float("inf")), sum(costs))
        return sorted(least.values())

    def ways(self) -> Iterator[list[float]]:
        """The costs of the events, for every way."""
        start = State(0.0, 0, self.hand.form(()), (), None)
        yield from self._from(start, 0, [])

    def _from(self, state: State, number: int, costs: list[float]) -> Iterator[list[float]]:
        if number == len(self.line.events):
            self._ways += 1
            if self._ways > MOST_WAYS:
                raise TooMany
            yield list(costs)
            return
        for after in self._after(state, number):
            key = (number, state.form.puts, state.position, state.notes)
            key += (after.form.puts, after.position, after.notes)
            if key not in self._costs:
                self._costs[key] = sum(self.search.parts(after, number).values())
            costs.append(self._costs[key])
            new = self.line.events[number].new
            self._played.append(
                tuple((i, p) for i, p in zip(after.notes, after.form.puts, strict=True) if i in new)
            )
            yield from self._from(after, number + 1, costs)
            self._played.pop()
            costs.pop()

    def _after(self, state: State, number: int) -> Iterator[State]:
        new = [i for i in self.line.events[number].new if i not in self.out.get(number, ())]
        on = [i for i in state.notes if self.line.ends[i] > number]
        at = dict(zip(state.notes, state.form.puts, strict=True))
        for many in range(len(on) + 1):
            for kept in combinations(on, many):
                notes = sorted([*kept, *new], key=lambda i: (self.score.notes[i].midi, i))
                options = [[at[i]] if i in kept else self._puts(i) for i in notes]
                for puts in product(*options):
                    if valid(list(puts)):
                        for position in range(1, self.neck.last_fret + 1):
                            if all(
                                not finger
                                or -(finger > 1)
                                <= position + finger - 1 - fret
                                <= 1 + (finger > 2 and len({p[2] for p in puts if p[1] == fret}) > 2)
                                for _, fret, finger in puts
                            ):
                                form = self.hand.form(tuple(puts))
                                yield State(0.0, position, form, tuple(notes), state)

    def _puts(self, index: int) -> list[tuple[int, int, int]]:
        never = self.choices.open_strings is OpenStrings.NEVER
        return [
            (place.string, place.fret, finger)
            for place in self.neck.places(self.score.notes[index].midi)
            for finger in ((1, 2, 3, 4) if place.fret else (0,))
            if finger or not never
        ]
