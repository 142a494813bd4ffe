"""The cheapest way through a whole score: exact dynamic programming over what the hand holds."""

from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from midifret.fingering import costs
from midifret.fingering.choices import Kept
from midifret.fingering.events import Event, Timeline
from midifret.fingering.forms import Form, Put
from midifret.fingering.hand import Asked, Hand, Stance
from midifret.terms.score import PositionMark, ScoreNote

Pools = dict[tuple[tuple[int, ...], tuple[Put, ...]], list[tuple[float, float, "State"]]]


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
        self._keep_printed = bool(hand.choices.kept & {Kept.FINGERS, Kept.STRINGS})
        self._keep_positions = Kept.POSITIONS in hand.choices.kept

    def struck(self, number: int) -> tuple[int, ...]:
        """The notes that are struck at an event and can be played."""
        out = self.left_out.get(number)
        new = self.line.events[number].new
        return new if not out else tuple(index for index in new if index not in out)

    def mark(self, event: Event) -> PositionMark | None:
        """The printed position or barre that is to be kept at an event, without its times."""
        mark = event.mark
        if mark is None or not self._keep_positions:
            return None
        return PositionMark(Fraction(0), mark.position, mark.barre)

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

    def goes_against(self, state: State, index: int) -> bool:
        """Whether a note that is struck in a state is not played as the player chose."""
        if self.hand.locked not in (None, state.position):
            return True
        asked = self.asked((index,), (index,))[0]
        put = state.form.puts[state.notes.index(index)]
        return "against" in self.hand.put_parts(put, state.position, asked, None)

    def together(self, kept: tuple[int, ...], new: tuple[int, ...]) -> tuple[int, ...]:
        """Held and new notes in the one order in which forms are kept: rising."""
        return tuple(sorted(kept + new, key=lambda index: (self.notes[index].midi, index)))

    def let_go(self, index: int, event: Event) -> float:
        """What it costs to let a note go before its end, or to lift a finger that could stay."""
        left = self.notes[index].end_quarter - event.onset_quarter
        if left <= 0:
            return self.hand.weights.lift
        return self.hand.weights.let_go * min(1.0, float(left))

    def best(self) -> State:
        """The last state of the cheapest way through all events."""
        layer = [self.start()]
        for number in range(len(self.line.events)):
            layer = self.step(layer, number)
        return min(layer, key=_cost)

    def start(self) -> State:
        """The hand before the first event: anywhere."""
        return State(0.0, 0, self.hand.form(()), (), None)

    def step(self, layer: list[State], number: int) -> list[State]:
        """The states after one event more."""
        event = self.line.events[number]
        new = self.struck(number)
        mark = self.mark(event)
        hurry = self.hand.hurry(event.time_s)
        last = number + 1 == len(self.line.events)
        hurry_next = 0.0 if last else self.hand.hurry(self.line.events[number + 1].time_s)
        after: list[State] = []
        for (kept, puts), states in self.pools(layer, number).items():
            notes = self.together(kept, new)
            stances = self.hand.stances(self.asked(notes, new), mark).get(puts)
            if stances:
                states.sort(key=_first)
                self._moves(after, states, stances, notes, event, hurry, hurry_next)
        return after

    def pools(self, layer: list[State], number: int) -> Pools:
        """The states before an event by which notes they hold through it, and where.

        Each with its cost and what it costs to let go the other notes.
        """
        event, ends = self.line.events[number], self.line.ends
        pools: Pools = {}
        subsets: dict[tuple[int, ...], list[tuple[tuple[int, ...], tuple[int, ...], float]]] = {}
        for state in layer:
            ways = subsets.get(state.notes)
            if ways is None:
                ways = subsets[state.notes] = self._ways_to_hold(state.notes, ends, number, event)
            puts = state.form.puts
            for kept, spots, price in ways:
                key = (kept, tuple([puts[spot] for spot in spots]))
                pools.setdefault(key, []).append((state.cost + price, price, state))
        return pools

    def _ways_to_hold(
        self, notes: tuple[int, ...], ends: tuple[int, ...], number: int, event: Event
    ) -> list[tuple[tuple[int, ...], tuple[int, ...], float]]:
        """Which notes may be held on: (notes, where they stand among `notes`, the price of the others)."""
        prices = {spot: self.let_go(index, event) for spot, index in enumerate(notes) if ends[index] > number}
        ways = []
        for many in range(len(prices), -1, -1):
            for spots in combinations(prices, many):
                price = sum([prices[spot] for spot in prices if spot not in spots])
                ways.append((tuple(notes[spot] for spot in spots), spots, price))
        return ways

    def _moves(
        self,
        after: list[State],
        states: list[tuple[float, float, State]],
        stances: list[Stance],
        notes: tuple[int, ...],
        event: Event,
        hurry: float,
        hurry_next: float,
    ) -> None:
        """Add for each stance the cheapest way to it, unless it is not needed.

        From another position with the same form the hand can come to all that follows, by no more than a
        shift in the time of the next move: a state that is dearer than that other by so much is left out.
        """
        hand = self.hand
        reached: dict[Form, list[tuple[int, float]]] = {}
        unguided = hand.weights.unguided
        free_next = hand.weights.free_hand * hurry_next
        move, known = hand.move, hand.moves
        free = hand.weights.free_hand * hurry
        rows: dict[int, list[float]] = {}
        least = min(free, hurry)
        slurs = event.slurred_from
        begun = [
            (cost, state.position, state.form.number << 24, state.form, state) for cost, _, state in states
        ]
        for stance in stances:
            best, best_state = float("inf"), None
            position, form = stance.position, stance.form
            number = form.number
            row = rows.get(position)
            if row is None:
                row = rows[position] = [0.0, *hand.shift[position][1:]]
            others = reached.setdefault(form, [])
            for there, total in others:
                more = row[there] * free_next if form.bare else (row[there] + unguided) * hurry_next
                best = min(best, total + more - stance.cost)
            for cost, there, high, before, state in begun:
                if cost >= best:
                    break
                shift = row[there]
                if cost + shift * least >= best:
                    continue
                fingers = known.get(high | number)
                if fingers is None:
                    fingers = move(before, form)
                price = cost + fingers[0] * hurry + fingers[2]
                if there != position and there:
                    price += shift * free if before.bare else (shift + fingers[1]) * hurry
                if slurs:
                    price += self.slur(state, form, notes, slurs)
                if price < best:
                    best, best_state = price, state
            if best_state is not None:
                others.append((position, best + stance.cost))
                after.append(State(best + stance.cost, position, form, notes, best_state))

    def way_to(self, state: State) -> list[State]:
        """The states on the way to a state, one for each event."""
        way = []
        current: State | None = state
        while current is not None and current.before is not None:
            way.append(current)
            current = current.before
        return way[::-1]

    def parts(self, state: State, number: int) -> dict[str, float]:
        """What a state of an event adds to the cost, with the move to it, by named part."""
        before, event, w = state.before, self.line.events[number], self.hand.weights
        assert before is not None
        parts = self.hand.stance_parts(
            state.form, state.position, self.asked(state.notes, self.struck(number)), self.mark(event)
        )
        hurry = self.hand.hurry(event.time_s)
        moves = self.hand.move_parts(before.form, state.form)
        for name in costs.UNHURRIED:
            if name in moves:
                parts[name] = moves.pop(name)
        unguided = moves.pop("unguided", 0.0)
        if before.position not in (0, state.position):
            capo = self.hand.neck.capo
            factor = w.free_hand if before.form.bare else 1.0
            length = costs.shift_length(before.position, state.position, capo)
            moves["shift"] = w.shift * length * factor
            moves["shift_begun"] = w.shift_begun * factor
            moves["unguided"] = unguided
        for name, value in moves.items():
            parts[name] = parts.get(name, 0.0) + value * hurry
        for index in before.notes:
            if self.line.ends[index] > number and index not in state.notes:
                name = "let_go" if self.notes[index].end_quarter > event.onset_quarter else "lift"
                parts[name] = parts.get(name, 0.0) + self.let_go(index, event)
        if event.slurred_from:
            parts["slur"] = self.slur(before, state.form, state.notes, event.slurred_from)
        return parts

    def move(
        self,
        state: State,
        stance: Stance,
        notes: tuple[int, ...],
        event: Event,
        hurry: float,
    ) -> float:
        """What it costs to get from a state to a stance, without what is let go."""
        hand, start = self.hand, state.position
        price, unguided, barre = hand.move(state.form, stance.form)
        if start not in (0, stance.position):
            shift = hand.shift[start][stance.position]
            price += shift * hand.weights.free_hand if state.form.bare else shift + unguided
        price = price * hurry + barre
        if event.slurred_from:
            price += self.slur(state, stance.form, notes, event.slurred_from)
        return price

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


def _cost(state: State) -> float:
    return state.cost


def _first(entry: tuple[float, float, State]) -> float:
    return entry[0]
