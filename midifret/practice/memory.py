"""How well each place is known, now and later: an activation model estimated answer by answer."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from midifret.practice.item import ItemMemory, Trace, put_together, summed, sums
from midifret.practice.kinds import Asked, RecallKind, Remembered
from midifret.practice.rules import RULES_NUMBER, MemoryRules
from midifret.terms.place import Place

_LEAST_RECALL_S, _MOST_RECALL_S = 0.1, 30.0  # outside, the clock of the hands speaks, not memory [ours]
# Beyond this an answer is dated by a clock that was wrong: it is taken as given now [ours].
_FUTURE_S = 3600.0
_SHARE_OF_INTERVAL = 0.9
_MOST_SHIFT = 2.0  # how far a player's threshold may lie from the usual one [ours]
_FAR = 50.0  # as good as infinite, for an activation


@dataclass(frozen=True, slots=True)
class Forecast:
    """What to expect of a place at a time.

    chance: of the right place at the first try, by memory or worked out, 0 to 1. recalled: by memory alone.
    recall_s: how long a right answer takes, its median: by memory, or worked out where that is quicker.
    within: chance of being right and within the time asked about. Each with the 90% interval of what is
    likely (low, high). answers: how many the place has had.
    """

    asked: Asked
    chance: float
    recalled: float
    recalled_low: float
    recalled_high: float
    recall_s: float
    recall_low_s: float
    recall_high_s: float
    within: float
    answers: int


@dataclass(frozen=True, slots=True)
class PlayerTraits:
    """What places of one player have in common so far.

    forgetting, ease: means over places. worked_out_s, worked_out_right: of places not known by heart, with
    the weights behind them. threshold: at which activation half is recalled.
    """

    forgetting: float
    ease: float
    worked_out_s: float
    worked_out_right: float
    timed: float
    tried: float
    threshold: float
    lapse: float


@dataclass(frozen=True, slots=True)
class KeptMemory:
    """A whole memory as it can be stored. rules_number: with another, it has to be worked out again.

    newest_s: the last answer, seconds since 1970; None before the first. counted_s: counted time then.
    set_back: how often an answer was dated before the one that came before it. known: weight of what is known
    of all places, and its sums of forgetting and of ease.
    """

    rules_number: int
    newest_s: float | None
    counted_s: float
    set_back: int
    known: tuple[float, float, float]
    traits: PlayerTraits
    items: tuple[ItemMemory, ...]


class Memory:
    """The memory of one player. Answers come in as they are given; what is expected is asked for any time.

    Each answer costs about the same, however many there were. The same answers in the same order always
    give the same memory, stored on the way or not.
    """

    def __init__(self, kept: KeptMemory | None = None, *, rules: MemoryRules | None = None) -> None:
        """Begin anew, or where `kept` left off. Raises ValueError for what was kept under other rules."""
        self.rules = rules or MemoryRules()
        noise = self.rules.equations.noise
        self._grid = [(math.exp(-ease / noise), math.exp(-ease)) for ease in self.rules.ease]
        if kept is not None and kept.rules_number != RULES_NUMBER:
            raise ValueError(f"this was kept under rules {kept.rules_number}, not {RULES_NUMBER}")
        self._newest_s = kept.newest_s if kept else None
        self._counted_s = kept.counted_s if kept else 0.0
        self.set_back = kept.set_back if kept else 0
        self.items: dict[Asked, ItemMemory] = {item.asked: item for item in kept.items} if kept else {}
        self.traits = kept.traits if kept else self._first_traits()
        self._known = list(kept.known) if kept else [0.0, 0.0, 0.0]

    @property
    def kept(self) -> KeptMemory:
        """All of it, to be stored."""
        items = tuple(
            self.items[asked] for asked in sorted(self.items, key=lambda asked: (asked.kind, asked.place))
        )
        weight, forgetting, ease = self._known
        return KeptMemory(
            RULES_NUMBER,
            self._newest_s,
            self._counted_s,
            self.set_back,
            (weight, forgetting, ease),
            self.traits,
            items,
        )

    @property
    def newest_s(self) -> float | None:
        """The last answer, seconds since 1970; None before the first."""
        return self._newest_s

    def counted_at(self, at_s: float) -> float:
        """Return counted time at a moment, seconds since 1970; never less than at the last answer."""
        if self._newest_s is None:
            return self._counted_s
        return self._counted_s + self.rules.equations.counted_s(at_s - self._newest_s)

    def answer(self, given: Remembered) -> ItemMemory:
        """Take an answer, and return what is now kept of its place."""
        now_s = self.counted_at(given.at_s)
        if self._newest_s is not None and given.at_s < self._newest_s:
            self.set_back += 1
        self._counted_s, self._newest_s = now_s, given.at_s
        before = self.items.get(given.asked) or self._unasked(given.asked)
        item = self._judged(before, given, now_s)
        recall_s = given.recall_s if given.right else None
        in_time = recall_s is not None and recall_s <= self.rules.in_time_s
        gap_s = max(given.at_s - before.newest_s, 0.0) if before.answers else 0.0
        item = replace(
            item,
            answers=before.answers + 1,
            right=before.right + given.right,
            newest_s=given.at_s,
            newest_recall_s=recall_s,
            in_a_row=before.in_a_row + 1 if given.right else 0,
            in_time=before.in_time + 1 if in_time else 0,
            held_s=max(before.held_s, gap_s) if in_time else 0.0,
        )
        if given.found:
            equations = self.rules.equations
            total = summed(before.traces, now_s, before.forgetting)
            haste = equations.haste_at(math.log(total)) if total > 0 else 0.0
            laid = (*before.traces, Trace(now_s, haste))
            item = replace(item, traces=put_together(laid, self.rules.traces, now_s))
        if before.answers:
            self._count(before, -1.0)
        self.items[given.asked] = item
        self._count(item, 1.0)
        self._follow_player()
        return item

    def forecast(self, asked: Asked, at_s: float, *, within_s: float = 1.0) -> Forecast:
        """Say what to expect of a place. at_s: seconds since 1970. within_s: what `within` asks about."""
        return self.forecast_counted(asked, self.counted_at(at_s), within_s=within_s)

    def forecast_counted(self, asked: Asked, now_s: float, *, within_s: float = 1.0) -> Forecast:
        """Say the same at a counted time."""
        rules, equations = self.rules, self.rules.equations
        item = self.items.get(asked) or self._unasked(asked)
        worked_s, worked_right = self.worked_out(asked, now_s)
        weights = self._weights(item.likelihood)
        limit = math.log(within_s)
        threshold = self.traits.threshold
        chances, times = [], []
        recalled = within = 0.0
        for row, total in enumerate(sums(item.traces, now_s, rules)):
            base = math.log(total) if total > 0 else -math.inf
            for column, ease in enumerate(rules.ease):
                weight = weights[row * len(rules.ease) + column]
                chance, time_s = equations.chance(base + ease, threshold), equations.time_s(base + ease)
                recalled += weight * chance
                if weight > 1e-6:
                    within += weight * chance * _below((limit - math.log(time_s)) / rules.spread)
                chances.append((chance, weight))
                times.append((min(time_s, worked_s), weight))
        in_time = _below((limit - math.log(worked_s)) / rules.worked_out_spread)
        by_hand = (1 - recalled) * worked_right
        low, high = (1 - _SHARE_OF_INTERVAL) / 2, (1 + _SHARE_OF_INTERVAL) / 2
        chances.sort()
        times.sort()
        middle_s = _quantile(times, 0.5)
        return Forecast(
            asked,
            (1 - self.traits.lapse) * (recalled + by_hand),
            (1 - self.traits.lapse) * recalled,
            _quantile(chances, low),
            _quantile(chances, high),
            middle_s,
            middle_s * (_quantile(times, low) / middle_s) ** rules.wider,
            middle_s * (_quantile(times, high) / middle_s) ** rules.wider,
            (1 - self.traits.lapse) * (within + by_hand * in_time),
            item.answers,
        )

    def worked_out(self, asked: Asked, now_s: float) -> tuple[float, float]:
        """Return time and chance of a place that memory does not give: one step from a neighbour at best.

        A neighbour is the fret beside it on the same string, a semitone away; between B and C, and E and F,
        these are naturals both. now_s: counted time.
        """
        rules = self.rules
        best_s, best_right = self.traits.worked_out_s, self.traits.worked_out_right
        place, kind = asked.place, asked.kind
        for fret in (place.fret - 1, place.fret + 1):
            neighbour = self.items.get(Asked(Place(place.string, fret), kind)) if fret >= 0 else None
            if neighbour is None or not neighbour.in_a_row:
                continue
            chance, time_s = self.quickly(neighbour, now_s)
            if chance * rules.step_right > best_right and time_s + rules.step_s < best_s:
                best_s, best_right = time_s + rules.step_s, chance * rules.step_right
        return best_s, best_right

    def quickly(self, item: ItemMemory, now_s: float) -> tuple[float, float]:
        """Return chance and time of recall at the middle of what is likely. now_s: counted time."""
        equations = self.rules.equations
        total = summed(item.traces, now_s, item.forgetting)
        if total <= 0:
            return 0.0, equations.time_s(-math.inf)
        raised = math.log(total) + item.ease
        return equations.chance(raised, self.traits.threshold), equations.time_s(raised)

    def _judged(self, item: ItemMemory, given: Remembered, now_s: float) -> ItemMemory:
        """What an answer says of the forgetting and ease of its place, and how its likelihoods then stand."""
        rules, equations = self.rules, self.rules.equations
        worked_s, worked_right = self.worked_out(item.asked, now_s)
        timed_s = None
        if given.right and given.recall_s is not None:
            timed_s = math.log(min(max(given.recall_s, _LEAST_RECALL_S), _MOST_RECALL_S))
        by_hand = worked_right
        if timed_s is not None:
            by_hand *= _density((timed_s - math.log(worked_s)) / rules.worked_out_spread)
            by_hand /= rules.worked_out_spread
        scaled = 1 / (math.sqrt(2 * math.pi) * rules.spread)
        lapse = self.traits.lapse / (
            2 if timed_s is None else 6
        )  # times: over about six units of their logarithm
        # The equations of each cell, with all that hangs on the column alone worked out before.
        grid = self._grid
        said = item.likelihood
        found: list[float] = []
        number = 0
        for total in sums(item.traces, now_s, rules):
            base = math.log(total) if total > 0 else -_FAR
            odds_against = math.exp((self.traits.threshold - base) / equations.noise)
            longer_s = equations.scale_s * math.exp(-base)
            for harder, slower in grid:
                chance = 1 / (1 + odds_against * harder)
                if not given.right:
                    likely = (1 - chance) * (1 - worked_right) + lapse
                elif timed_s is None:
                    likely = chance + (1 - chance) * by_hand + lapse
                else:
                    z = (timed_s - math.log(longer_s * slower + equations.fixed_s)) / rules.spread
                    likely = chance * math.exp(-0.5 * z * z) * scaled + (1 - chance) * by_hand + lapse
                found.append(rules.kept * said[number] + math.log(likely))
                number += 1
        chance, time_s = self.quickly(item, now_s)
        remembered, slipped = self._why(given, chance, time_s, timed_s, by_hand, worked_right)
        if item.answers and given.at_s - item.newest_s > rules.equations.pause_s:
            right = (1 - self.traits.lapse) * (chance + (1 - chance) * worked_right)
            self._follow_threshold((chance - remembered + right - given.right) / 2)
        if item.answers >= rules.worked_out_answers:
            self._follow_lapse(slipped)
        if item.answers < rules.worked_out_answers:
            self._learn_worked_out(given, self._by_hand(item, given, now_s, timed_s, by_hand), timed_s)
        highest = max(found)
        return self._settled(replace(item, likelihood=tuple(value - highest for value in found)))

    def _why(
        self,
        given: Remembered,
        chance: float,
        time_s: float,
        timed_s: float | None,
        by_hand: float,
        worked_right: float,
    ) -> tuple[float, float]:
        """How likely memory had the place, and how likely the answer came of a slip, by what it was.

        A wrong answer may be a slip though memory had it; a right one that took as long as working out takes
        says little of memory.
        """
        rules, lapse = self.rules, self.traits.lapse
        if not given.right:
            slip = lapse / 2
            slipped = slip / ((1 - chance) * (1 - worked_right) + slip)
            return chance * slipped, slipped
        by_memory = chance
        if timed_s is not None:
            by_memory *= _density((timed_s - math.log(time_s)) / rules.spread) / rules.spread
        return by_memory / (by_memory + (1 - chance) * by_hand + lapse / 6), 0.0

    def _by_hand(
        self, item: ItemMemory, given: Remembered, now_s: float, timed_s: float | None, by_hand: float
    ) -> float:
        """How likely the place was worked out rather than remembered, by what was thought of it before."""
        chance, time_s = self.quickly(item, now_s)
        if not given.right:
            return 1 - chance
        by_memory = chance
        if timed_s is not None:
            by_memory *= _density((timed_s - math.log(time_s)) / self.rules.spread) / self.rules.spread
        return (1 - chance) * by_hand / (by_memory + (1 - chance) * by_hand + self.traits.lapse / 6)

    def _settled(self, item: ItemMemory) -> ItemMemory:
        """The same with the middle of what is likely worked out."""
        rules = self.rules
        weights = self._weights(item.likelihood)
        columns = len(rules.ease)
        forgetting = ease = squared = 0.0
        for row, rate in enumerate(rules.forgetting):
            part = weights[row * columns : (row + 1) * columns]
            share = sum(part)
            forgetting += rate * share
            for value, weight in zip(rules.ease, part, strict=True):
                ease += value * weight
                squared += value * value * weight
        variance = max(squared - ease * ease, 0.0)
        known = 1 - min(variance / rules.usual_ease[1] ** 2, 1.0)
        return replace(
            item, forgetting=forgetting, ease=ease, ease_deviation=math.sqrt(variance), weight=known
        )

    def _weights(self, likelihood: tuple[float, ...]) -> list[float]:
        """How likely each forgetting and ease is: what answers say and what is usual for the player."""
        rules = self.rules
        usual_rate, usual_ease = self.traits.forgetting, self.traits.ease
        rate_scale, ease_scale = 0.5 / rules.usual_forgetting[1] ** 2, 0.5 / rules.usual_ease[1] ** 2
        eases = [-((ease - usual_ease) ** 2) * ease_scale for ease in rules.ease]
        logs = [ease - (rate - usual_rate) ** 2 * rate_scale for rate in rules.forgetting for ease in eases]
        logs = [usual + said for usual, said in zip(logs, likelihood, strict=True)]
        highest = max(logs)
        weights = [math.exp(value - highest) for value in logs]
        total = sum(weights)
        return [weight / total for weight in weights]

    def _unasked(self, asked: Asked) -> ItemMemory:
        flat = (0.0,) * (len(self.rules.forgetting) * len(self.rules.ease))
        traits = self.traits
        return ItemMemory(
            asked, (), flat, 0, 0, 0.0, None, 0, 0, 0.0,
            traits.forgetting, traits.ease, self.rules.usual_ease[1], 0.0,
        )  # fmt: skip

    def _first_traits(self) -> PlayerTraits:
        rules = self.rules
        return PlayerTraits(
            rules.usual_forgetting[0],
            rules.usual_ease[0],
            rules.worked_out_s,
            rules.worked_out_right,
            rules.worked_out_weight,
            rules.worked_out_weight,
            rules.equations.threshold,
            rules.lapse,
        )

    def _learn_worked_out(self, given: Remembered, worked: float, timed_s: float | None) -> None:
        """Let time and chance of working out follow the player, by how likely this answer was worked out."""
        traits = self.traits
        tried = traits.tried + worked
        right = traits.worked_out_right + (given.right - traits.worked_out_right) * worked / tried
        timed, seconds = traits.timed, math.log(traits.worked_out_s)
        if timed_s is not None:
            timed += worked
            seconds += (timed_s - seconds) * worked / timed
        self.traits = replace(
            traits,
            worked_out_s=max(math.exp(seconds), self.rules.least_worked_out_s),
            worked_out_right=min(max(right, 0.05), 0.95),
            timed=min(timed, 60.0),
            tried=min(tried, 60.0),
        )

    def _follow_lapse(self, slipped: float) -> None:
        """Let the share of slips follow the player, by how likely each answer was one."""
        rules, old = self.rules, self.traits.lapse
        lapse = old + rules.lapse_step * (slipped - old)
        self.traits = replace(self.traits, lapse=min(max(lapse, rules.lapse / 2), rules.most_lapse))

    def _follow_threshold(self, surplus: float) -> None:
        """Let the threshold follow the player: up where more was expected than was.

        Half of it is what memory had, as the time of the answer tells, and half what came right: by times
        alone a player whose places come quickly or not at all would seem to slip, and by right and wrong
        alone one who slips would seem to have forgotten everything and to work it out.

        Only answers after a pause count: what is found again minutes later says little of tomorrow.
        """
        rules = self.rules
        usual = rules.equations.threshold
        threshold = self.traits.threshold + rules.threshold_step * surplus
        self.traits = replace(
            self.traits, threshold=min(max(threshold, usual - _MOST_SHIFT), usual + _MOST_SHIFT)
        )

    def _count(self, item: ItemMemory, sign: float) -> None:
        weight = sign * item.weight
        self._known[0] += weight
        self._known[1] += weight * item.forgetting
        self._known[2] += weight * item.ease

    def _follow_player(self) -> None:
        rules = self.rules
        weight = rules.first_weight + self._known[0]
        self.traits = replace(
            self.traits,
            forgetting=(rules.first_weight * rules.usual_forgetting[0] + self._known[1]) / weight,
            ease=(rules.first_weight * rules.usual_ease[0] + self._known[2]) / weight,
        )


def remember(answers: Iterable[Remembered], now_s: float, *, rules: MemoryRules | None = None) -> Memory:
    """Work a memory out from all answers, in whatever order they come.

    now_s: seconds since 1970. What is dated more than an hour later was dated by a wrong clock and is taken
    as given now: it was given, and nobody knows when.
    """
    memory = Memory(rules=rules)
    for given in sorted((dated(given, now_s) for given in answers), key=order_of):
        memory.answer(given)
    return memory


def is_future(given: Remembered, now_s: float) -> bool:
    """Whether an answer is dated so much later than now that its clock was wrong."""
    return given.at_s > now_s + _FUTURE_S


def dated(given: Remembered, now_s: float) -> Remembered:
    """Return an answer as it is taken now: see `remember`."""
    return replace(given, at_s=now_s) if is_future(given, now_s) else given


def order_of(given: Remembered) -> tuple[float, RecallKind, Place, bool, float, bool]:
    """Return the key by which answers are put in order; the same answers always come in the same."""
    asked = given.asked
    recall_s = -math.inf if given.recall_s is None else given.recall_s
    return given.at_s, asked.kind, asked.place, given.right, recall_s, given.found


def _below(z: float) -> float:
    """The share of a normal distribution below so many deviations."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


def _density(z: float) -> float:
    return math.exp(-0.5 * min(z * z, 1000.0)) / math.sqrt(2 * math.pi)


def _quantile(weighted: list[tuple[float, float]], share: float) -> float:
    """The value at a share of all weight, drawn between two. weighted: rising, weights adding to 1."""
    below = 0.0
    last, last_at = weighted[0][0], 0.0
    for value, weight in weighted:
        middle = below + weight / 2
        if middle >= share and weight > 0:
            part = (share - last_at) / (middle - last_at) if middle > last_at else 1.0
            return last + (value - last) * part
        if weight > 0:
            last, last_at = value, middle
        below += weight
    return weighted[-1][0]
