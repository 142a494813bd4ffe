"""The cheapest way through a whole score: exact dynamic programming over what the hand holds."""

from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from midifret.fingering import costs
from midifret.fingering.choices import Kept
from midifret.fingering.events import Event, Timeline
from midifret.fingering.forms import Form, Grip, Put
from midifret.fingering.hand import Asked, Hand, Stance
from midifret.terms.score import PositionMark, ScoreNote

Pools = dict[tuple[tuple[int, ...], tuple[Put, ...]], list[tuple[float, float, "State"]]]
PIVOTS = 5  # so many cheap states are tried against the dear ones [ours]


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
        *,
        prune: bool = True,
    ) -> None:
        """Take what all events share."""
        self.hand = hand
        self.notes = notes
        self.line = line
        self.left_out = left_out
        self.prune = prune
        self._detours: dict[int, float] = {}
        self.most_seen = self.most_made = 0
        self.most_hurry = max((hand.hurry(event.time_s) for event in line.events), default=1.0)
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
        after: list[State] = []
        for (kept, puts), states in self.pools(layer, number).items():
            notes = self.together(kept, new)
            stances = self.hand.stances(self.asked(notes, new), mark).get(puts)
            if stances:
                states.sort(key=_first)
                self._moves(after, states, stances, notes, event, hurry)
        self.most_made = max(self.most_made, len(after))
        if self.prune and number + 1 < len(self.line.events):
            after = self._pruned(after, number + 1)
        self.most_seen = max(self.most_seen, len(after))
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
        states: list[tuple[float, float, State]],
        stances: list[Stance],
        notes: tuple[int, ...],
        event: Event,
        hurry: float,
    ) -> None:
        """Add for each stance the cheapest way to it."""
        hand = self.hand
        move, known = hand.move, hand.moves
        free = hand.weights.free_hand * hurry
        rows: dict[int, list[float]] = {}
        least = min(free, hurry)
        slurs = event.slurred_from
        for stance in stances:
            best, best_state = float("inf"), None
            position, form = stance.position, stance.form
            number = form.number
            row = rows.get(position)
            if row is None:
                row = rows[position] = [0.0, *hand.shift[position][1:]]
            for cost, _, state in states:
                if cost >= best:
                    break
                shift = row[state.position]
                if cost + shift * least >= best:
                    continue
                before = state.form
                fingers = known.get(before.number << 24 | number)
                if fingers is None:
                    fingers = move(before, form)
                price = cost + fingers[0] * hurry
                if state.position != position and state.position:
                    price += shift * free if before.bare else (shift + fingers[1]) * hurry
                if slurs:
                    price += self.slur(state, form, notes, slurs)
                if price < best:
                    best, best_state = price, state
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
        price, unguided = hand.move(state.form, stance.form)
        if start not in (0, stance.position):
            shift = hand.shift[start][stance.position]
            price += shift * hand.weights.free_hand if state.form.bare else shift + unguided
        price *= hurry
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

    def _pruned(self, layer: list[State], number: int) -> list[State]:
        """Leave out states that cannot lie on the cheapest way.

        From a cheap state the hand can go on as from a dear one: let go what the dear one does not hold, and
        then do the same. `_detour` bounds what that costs more; a state dearer than that is not needed. So
        the optimum stays exact.
        """
        layer.sort(key=_cost)
        event, ends = self.line.events[number], self.line.ends
        hurry = self.hand.hurry(event.time_s)
        slurs = self.hand.weights.slur * len(event.slurred_from)
        spots: dict[tuple[int, ...], list[tuple[int, int]]] = {}
        needed: list[State] = []
        pivots: list[tuple[float, State, dict[int, Put], dict[int, float]]] = []
        for state in layer:
            cost = state.cost
            held = None
            for pivot_cost, pivot, pivot_held, prices in pivots:
                gap = cost - pivot_cost - slurs
                if gap < 0.0:
                    continue
                gap -= self._detour(pivot, state) * hurry
                if gap < 0.0:
                    continue
                if held is None:
                    held = self._held(state, spots, ends, number)
                for index, put in pivot_held.items():
                    if held.get(index) != put:
                        gap -= prices[index]
                for index, put in held.items():
                    if put[2] and pivot_held.get(index) != put:
                        gap -= self._later(state.form.grips[put[2] - 1])
                if gap >= 0.0:
                    break
            else:
                needed.append(state)
                if len(pivots) < PIVOTS:
                    held = self._held(state, spots, ends, number) if held is None else held
                    prices = {index: self.let_go(index, event) for index in held}
                    pivots.append((cost, state, held, prices))
        return needed

    def _held(
        self,
        state: State,
        spots: dict[tuple[int, ...], list[tuple[int, int]]],
        ends: tuple[int, ...],
        number: int,
    ) -> dict[int, Put]:
        """The notes that a state may hold through an event, and where. spots: what is known of others."""
        found = spots.get(state.notes)
        if found is None:
            found = spots[state.notes] = [(s, i) for s, i in enumerate(state.notes) if ends[i] > number]
        puts = state.form.puts
        return {index: puts[spot] for spot, index in found}

    def _detour(self, pivot: State, state: State) -> float:
        """The most that it costs more, in the next move, to go on from the pivot as from the other state."""
        hand = self.hand
        key = pivot.form.number << 24 | state.form.number
        fingers = self._detours.get(key)
        if fingers is None:
            fingers = self._detours[key] = self._finger_detour(pivot.form, state.form)
        if pivot.position == state.position:
            return fingers
        return fingers + hand.shift[pivot.position][state.position] + hand.weights.unguided

    def _finger_detour(self, pivot: Form, state: Form) -> float:
        """The same for the fingers alone."""
        hand, w = self.hand, self.hand.weights
        if pivot.number == state.number:
            return 0.0
        total = w.unguided
        if state.bare and not pivot.bare:
            total += hand.longest_shift * (1 - w.free_hand)
        for one, other in zip(pivot.grips, state.grips, strict=True):
            if one != other:
                total += self._lying(other)
                if other is not None:
                    total += w.press
                if one is not None:
                    total += hand.most_move + w.swap * (1 if one[1] == one[2] else 3)
        return total

    def _later(self, grip: Grip | None) -> float:
        """The most that it costs, in all later moves, to have let go what this finger holds."""
        return (self.hand.weights.unguided + self.hand.weights.press + self._lying(grip)) * self.most_hurry

    def _lying(self, grip: Grip | None) -> float:
        """What it would cost to lay this finger down again as it lies."""
        if grip is None or grip[1] == grip[2]:
            return 0.0
        return self.hand.most_barre


def _cost(state: State) -> float:
    return state.cost


def _first(entry: tuple[float, float, State]) -> float:
    return entry[0]
