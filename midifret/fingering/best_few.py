"""The k cheapest ways through a score that differ in a string, fret or finger: exact."""

from midifret.fingering.search import Search, State

# A way as its history: the number of the history before, and what was played since.
_History = tuple[int, object]


def best_few(search: Search, k: int) -> list[State]:
    """The last states of the k cheapest ways, cheapest first; fewer where there are no more.

    Each state keeps the k cheapest histories that end in it, histories being told apart by their fingers and
    places alone: every history among the k best of a state passes with its beginning through the k best of
    the state before, so none is lost.
    """
    numbers: dict[_History, int] = {}
    layer: list[list[tuple[State, int]]] = [[(search.start(), 0)]]
    for number, event in enumerate(search.line.events):
        new, mark = search.struck(number), search.mark(event)
        hurry = search.hand.hurry(event.time_s)
        by_state = {id(ways[0][0]): ways for ways in layer}
        after: list[list[tuple[State, int]]] = []
        for (kept, puts), states in search.pools([ways[0][0] for ways in layer], number).items():
            notes = search.together(kept, new)
            stances = search.hand.stances(search.asked(notes, new), mark).get(puts, [])
            states.sort(key=lambda entry: entry[0])
            for stance in stances:
                played = tuple(
                    (index, put) for index, put in zip(notes, stance.form.puts, strict=True) if index in new
                )
                best: dict[int, State] = {}
                worst = float("inf")
                for cost, price, first in states:
                    if cost >= worst:
                        break
                    move = price + search.move(first, stance, notes, event, hurry) + stance.cost
                    for state, history in by_state[id(first)]:
                        total = state.cost + move
                        if total >= worst:
                            break
                        mine = numbers.setdefault((history, played), len(numbers) + 1)
                        known = best.get(mine)
                        if known is None or total < known.cost:
                            best[mine] = State(total, stance.position, stance.form, notes, state)
                            if len(best) > k:
                                del best[max(best, key=lambda one: best[one].cost)]
                            if len(best) == k:
                                worst = max(one.cost for one in best.values())
                ways = [(state, history) for history, state in best.items()]
                after.append(sorted(ways, key=lambda way: way[0].cost))
        layer = after
    found: dict[int, State] = {}
    for ways in layer:
        for state, history in ways:
            if history not in found or state.cost < found[history].cost:
                found[history] = state
    return sorted(found.values(), key=lambda state: state.cost)[:k]
