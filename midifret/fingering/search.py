"""The cheapest way through a whole score: exact dynamic programming over what the hand holds."""

from dataclasses import dataclass
from itertools import combinations

from midifret.fingering.choices import Kept
from midifret.fingering.events import Event, Timeline
from midifret.fingering.forms import Form, Put
from midifret.fingering.hand import Asked, Hand, Stance
from midifret.terms.score import ScoreNote


@dataclass(slots=True, eq=False)
class State:
    """The hand after an event. notes: those that sound, as indexes, in the order of the form's puts.

    cost: of the cheapest way here. before: the state on that way at the event before.
    """

    cost: float
    position: int
    form: Form
    notes: tuple[int, ...]
    before: "State | None"


class Search:
    """One search. notes: of the score. left_out: of each event, what no hand can play there."""

    def __init__(
        self,
        hand: Hand,
        notes: tuple[ScoreNote, ...],
        line: Timeline,
        left_out: dict[int, frozenset[int]],
    ) -> None:
        """Take what all events share."""
        self.hand = hand
        self.notes = notes
        self.line = line
        self.left_out = left_out
        self.most_seen = 0
        self._keep_printed = bool(hand.choices.kept & {Kept.FINGERS, Kept.STRINGS})
        self._keep_positions = Kept.POSITIONS in hand.choices.kept

    def struck(self, number: int) -> tuple[int, ...]:
        """The notes that are struck at an event and can be played."""
        out = self.left_out.get(number)
        new = self.line.events[number].new
        return new if not out else tuple(index for index in new if index not in out)

    def mark(self, event: Event) -> int | None:
        """The printed position that is to be kept at an event."""
        return event.mark.position if self._keep_positions and event.mark is not None else None

    def asked(self, notes: tuple[int, ...], new: tuple[int, ...]) -> tuple[Asked, ...]:
        """The notes as the hand meets them."""
        struck = set(new)
        return tuple(
            Asked(
                self.notes[index].midi,
                index in struck,
                self.notes[index].harmonic,
                self.notes[index].printed if self._keep_printed and index in struck else None,
            )
            for index in notes
        )

    def together(self, kept: tuple[int, ...], new: tuple[int, ...]) -> tuple[int, ...]:
        """Held and new notes in the one order in which forms are kept: rising."""
        return tuple(sorted(kept + new, key=lambda index: (self.notes[index].midi, index)))

    def let_go(self, index: int, event: Event) -> float:
        """What it costs to let a note go at an event that is written to be held through it."""
        left = self.notes[index].end_quarter - event.onset_quarter
        return self.hand.weights.let_go * min(1.0, float(left))

    def best(self) -> State | None:
        """The last state of the cheapest way through all events; None for a score without notes."""
        layer = [State(0.0, 0, self.hand.form(()), (), None)]
        for number in range(len(self.line.events)):
            layer = self.step(layer, number)
        return min(layer, key=lambda state: state.cost)

    def step(self, layer: list[State], number: int) -> list[State]:
        """The states after one event more."""
        event = self.line.events[number]
        new = self.struck(number)
        mark = self.mark(event)
        hurry = self.hand.hurry(event.time_s)
        after: list[State] = []
        for (kept, puts), states in self._pools(layer, number).items():
            notes = self.together(kept, new)
            stances = self.hand.stances(self.asked(notes, new), mark).get(puts)
            if stances:
                states.sort(key=_first)
                self._moves(after, states, stances, notes, event, hurry)
        self.most_seen = max(self.most_seen, len(after))
        return after

    def _pools(
        self, layer: list[State], number: int
    ) -> dict[tuple[tuple[int, ...], tuple[Put, ...]], list[tuple[float, State]]]:
        """The states before an event by which notes they hold through it, and where."""
        event, ends = self.line.events[number], self.line.ends
        pools: dict[tuple[tuple[int, ...], tuple[Put, ...]], list[tuple[float, State]]] = {}
        subsets: dict[tuple[int, ...], list[tuple[tuple[int, ...], tuple[int, ...], float]]] = {}
        for state in layer:
            ways = subsets.get(state.notes)
            if ways is None:
                ways = subsets[state.notes] = self._ways_to_hold(state.notes, ends, number, event)
            puts = state.form.puts
            for kept, spots, price in ways:
                key = (kept, tuple([puts[spot] for spot in spots]))
                pools.setdefault(key, []).append((state.cost + price, state))
        return pools

    def _ways_to_hold(
        self, notes: tuple[int, ...], ends: tuple[int, ...], number: int, event: Event
    ) -> list[tuple[tuple[int, ...], tuple[int, ...], float]]:
        """Which notes may be held on: (notes, where they stand among `notes`, the price of the others)."""
        on = [spot for spot, index in enumerate(notes) if ends[index] > number]
        ways = []
        for many in range(len(on), -1, -1):
            for spots in combinations(on, many):
                price = sum(self.let_go(notes[spot], event) for spot in on if spot not in spots)
                ways.append((tuple(notes[spot] for spot in spots), spots, price))
        return ways

    def _moves(
        self,
        after: list[State],
        states: list[tuple[float, State]],
        stances: list[Stance],
        notes: tuple[int, ...],
        event: Event,
        hurry: float,
    ) -> None:
        """Add for each stance the cheapest way to it."""
        hand = self.hand
        shift, move, known = hand.shift, hand.move, hand._moves
        free = hand.weights.free_hand
        slurs = event.slurred_from
        for stance in stances:
            best, best_state = float("inf"), None
            position, form = stance.position, stance.form
            number = form.number
            for cost, state in states:
                if cost >= best:
                    break
                start = state.position
                fingers = known.get(state.form.number << 24 | number)
                if fingers is None:
                    fingers = move(state.form, form)
                price = fingers[0]
                if start != position and start:
                    price += (
                        shift[start][position] * free
                        if state.form.bare
                        else shift[start][position] + fingers[1]
                    )
                price = cost + price * hurry
                if slurs:
                    price += self.slur(state, form, notes, slurs)
                if price < best:
                    best, best_state = price, state
            after.append(State(best + stance.cost, position, form, notes, best_state))

    def slur(
        self, state: State, form: Form, notes: tuple[int, ...], slurs: tuple[tuple[int, int], ...]
    ) -> float:
        """What slurs cost that leave their string."""
        total = 0.0
        for index, from_index in slurs:
            if from_index in state.notes and index in notes:
                before = state.form.puts[state.notes.index(from_index)]
                if before[0] != form.puts[notes.index(index)][0]:
                    total += self.hand.weights.slur
        return total


def _first(pair: tuple[float, State]) -> float:
    return pair[0]
