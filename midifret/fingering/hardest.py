"""The way whose hardest move is the least, and among those the cheapest: exact, in two passes."""

from collections.abc import Callable

from midifret.fingering.search import Search, State

ROOM = 1e-9  # sums of the same terms in another order differ by less


def hardest_least(search: Search) -> State:
    """The last state of the way that first makes its hardest single move least, and then its sum.

    A move is all that one event adds to the cost. The first pass finds how hard the hardest move has to be
    (a bottleneck path), the second the cheapest way without a harder one. Hori & Sagayama 2016 aim at the
    hardest move alone, which leaves easy passages open.
    """
    least = _run(search, _harder, float("inf")).cost
    return _run(search, _dearer, least + ROOM)


def _harder(cost: float, move: float) -> float:
    return max(cost, move)


def _dearer(cost: float, move: float) -> float:
    return cost + move


def _run(search: Search, join: Callable[[float, float], float], most: float) -> State:
    """Go through all events. join: cost so far and cost of a move. most: no move may cost more."""
    layer = [search.start()]
    for number, event in enumerate(search.line.events):
        new, mark = search.struck(number), search.mark(event)
        hurry = search.hand.hurry(event.time_s)
        after: list[State] = []
        for (kept, puts), states in search.pools(layer, number).items():
            notes = search.together(kept, new)
            stances = search.hand.stances(search.asked(notes, new), mark).get(puts, [])
            states.sort(key=lambda entry: entry[2].cost)
            for stance in stances:
                best, best_state = float("inf"), None
                for _, price, state in states:
                    if state.cost >= best:
                        break
                    move = price + search.move(state, stance, notes, event, hurry) + stance.cost
                    if move <= most and (total := join(state.cost, move)) < best:
                        best, best_state = total, state
                if best_state is not None:
                    after.append(State(best, stance.position, stance.form, notes, best_state))
        layer = after
    return min(layer, key=lambda state: state.cost)
