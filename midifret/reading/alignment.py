"""What was played put beside what is written, note by note, whatever the player does.

The best path through a table whose cells say how much of the score has been played, found with each new
note as in on-line score following by dynamic programming (Dannenberg 1984; any order within a chord as in
Bloch & Dannenberg 1985; jumps to any place, as in score following by hidden Markov models, Nakamura et al.
2015 [all from memory]). The path that is best in the end is the best over all, but for cells left out because
they were worse by more than `beam` than the best of their time.
"""

import heapq
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from midifret.reading.events import Event, Wanted
from midifret.terms import Note


@dataclass(frozen=True, slots=True)
class Costs:
    """What each departure from the score costs; playing the right note costs nothing.

    The unit is one extra note. All are [ours], by these reasons; the tests measure them on simulated players.
    extra: the unit. repeated: the note just played, struck again: a stammer is commoner than a stray note.
    missed: a little more than extra, so that after a wrong note the score waits before it goes on.
    missed_of_chord: for each further note left out of a chord: less than extra, so that a chord is not
        waited for where the music goes on; with extra more than wrong.
    wrong: less than an extra and a missed note together, so that a wrong note stands for the right one;
    near: one octave, fret or string off, which more surely does. elsewhere: right pitch at another place.
    slipped: as far off as the note before it, which stood for its own: the hand is in another octave or
        position; less than extra, so that a whole passage that slipped is followed.
    missed_on: taken off each event left out after another one: those who leave out much leave out what lies
        together.
    late_in_chord: for a note of a chord that comes more than CHORD_S after its first.
    back_to_bar: back to the beginning of any bar: three notes that fit outweigh it; back, ahead: to anywhere
    else, back or ahead: four or five do. breath: off a jump after a silence of BREATH_S, for who starts again
    has mostly stopped before. a_bar: for each bar jumped over, the first note excepted: most who start
    again do so near by, and in a long piece chance finds any few notes somewhere.
    jumps_back, jumps_ahead: among how many events with the pitch of a note a jump is looked for, the nearest;
    the first of the score is always one.
    beam: cells worse than the best by more are left out: more than the dearest jump, so that none is lost
    before the notes after it can tell. most_cells: how many are kept at most.
    """

    extra: float = 1.0
    repeated: float = 0.6
    missed: float = 1.1
    missed_of_chord: float = 0.8
    wrong: float = 1.6
    near: float = 1.3
    slipped: float = 0.5
    missed_on: float = 0.05
    elsewhere: float = 0.15
    late_in_chord: float = 0.3
    back_to_bar: float = 2.0
    back: float = 3.0
    ahead: float = 4.5
    breath: float = 1.1
    a_bar: float = 0.1
    jumps_back: int = 12
    jumps_ahead: int = 6
    beam: float = 5.0
    most_cells: int = 80


# The notes of one chord come within this time: a slow roll of six strings, 50 ms from one to the next [ours].
CHORD_S = 0.25
# Most silences before a restart are longer than a slow beat [ours].
BREATH_S = 1.0

COSTS: Final = Costs()


class Kind(StrEnum):
    """What a note was, put beside the score."""

    MATCHED = "matched"  # it stands for the note of that number, right or wrong
    EXTRA = "extra"
    REPEATED = "repeated"  # the note before, struck again
    SKIPPED = "skipped"  # no note: the player went on without playing


class Step:
    """One note on a path, or a skip; never changed once it is made.

    n: number of the prompt that the note stands for, 0 for none. event, mask: how far the score is played
    then: all before the event, and of its notes those whose bits are set; event 0 is the beginning, the first
    of the score is 1. jumped: the path left the order of the score here.
    """

    __slots__ = (
        "began_s",
        "depth",
        "event",
        "jumped",
        "kind",
        "mask",
        "n",
        "note",
        "off",
        "parent",
        "struck",
    )

    def __init__(
        self,
        parent: "Step | None",
        note: Note | None,
        kind: Kind,
        n: int,
        event: int,
        mask: int,
        *,
        off: int = 0,
        jumped: bool = False,
    ) -> None:
        """Follow the parent. off: how many semitones the note sounds above what it stands for."""
        self.parent = parent
        self.note = note
        self.kind = kind
        self.n = n
        self.event = event
        self.mask = mask
        self.jumped = jumped
        # Notes that stand for none leave it as it was.
        self.off: int = off if kind is Kind.MATCHED or parent is None else parent.off
        self.depth: int = 0 if parent is None else parent.depth + 1
        matched = kind is Kind.MATCHED and note is not None
        same = parent is not None and parent.event == event and not jumped
        # When the event began, and the pitch last played for the score.
        self.began_s: float = (
            parent.began_s
            if parent is not None and (same or not matched)
            else 0.0
            if note is None
            else note.onset_s
        )
        self.struck: int = (
            note.midi if note is not None and matched else 0 if parent is None else parent.struck
        )

    def steps(self) -> list["Step"]:
        """The path up to here, in the order of playing."""
        found: list[Step] = []
        step: Step = self
        while step.parent is not None:
            found.append(step)
            step = step.parent
        found.reverse()
        return found


# Where the score may stand: by event and mask, what it costs and how it was reached.
Cells = dict[tuple[int, int], tuple[float, Step]]


class Follower:
    """Puts notes beside one score. It holds no state: cells in, cells out, so that one can go back."""

    def __init__(self, events: Sequence[Event], costs: Costs = COSTS) -> None:
        """Take the events of a score; at least one."""
        if not events:
            raise ValueError("there is nothing to follow")
        self._events = events
        self._costs = costs
        self._full = [0, *((1 << len(event.notes)) - 1 for event in events)]
        self._left_out = [0.0, *(left_out(event, costs) for event in events)]
        self._midis = {wanted.n: wanted.midi for event in events for wanted in event.notes} | {0: 0}
        self._by_pitch: dict[int, list[int]] = {}
        for number, event in enumerate(events, start=1):
            for midi in {wanted.midi for wanted in event.notes}:
                self._by_pitch.setdefault(midi, []).append(number)

    @property
    def last(self) -> int:
        """Number of the last event."""
        return len(self._events)

    def event(self, number: int) -> Event:
        """The event of a number, from 1."""
        return self._events[number - 1]

    def is_whole(self, step: Step) -> bool:
        """Whether all notes of the event that a step has reached are played."""
        return step.mask == self._full[step.event]

    def start(self) -> Cells:
        """Nothing is played yet."""
        return {(0, 0): (0.0, Step(None, None, Kind.SKIPPED, 0, 0, 0))}

    def best(self, cells: Cells) -> Step:
        """The likeliest of the cells; of equal ones that which waits."""
        return min(cells.values(), key=_cost)[1]

    def hear(self, cells: Cells, note: Note) -> Cells:
        """Return where the score may stand after one more note."""
        costs = self._costs
        cheapest, best = min(cells.values(), key=_cost)
        limit = cheapest + costs.beam
        frontier = self._frontier(cells, limit)
        found: dict[tuple[int, int], tuple[float, Step, Kind, int, bool]] = {}
        midi, onset_s = note.midi, note.onset_s

        # Extra, or one more note of the same chord.
        for key, (cost, step) in cells.items():
            repeats = step.struck == midi and step.note is not None and step.note.midi == midi
            extra = cost + (costs.repeated if repeats else costs.extra)
            if extra <= limit + costs.extra:
                known = found.get(key)
                if known is None or extra < known[0]:
                    found[key] = (extra, step, Kind.REPEATED if repeats else Kind.EXTRA, 0, False)
            event, mask = key
            if mask != self._full[event]:
                late = costs.late_in_chord if onset_s - step.began_s > CHORD_S else 0.0
                for bit, wanted in enumerate(self._events[event - 1].notes):
                    if not mask >> bit & 1:
                        whole = cost + late + self._apart(wanted, note, step)
                        self._put(found, (event, mask | 1 << bit), whole, step, wanted.n)

        # The first note of the event after one that is done with.
        for event, (cost, step) in frontier.items():
            if event < len(self._events):
                bit, wanted, apart = self._nearest(self._events[event], note, step)
                self._put(found, (event + 1, 1 << bit), cost + apart, step, wanted.n)

        # A jump: only a note that fits tells of one.
        if best.depth:
            before_s = best.note.onset_s if best.note is not None else onset_s
            off = costs.breath if onset_s - before_s >= BREATH_S else 0.0
            here = self._events[max(best.event, 1) - 1].bar
            for event in self._targets(midi, best.event):
                there = self._events[event - 1]
                if event > best.event:
                    jump = costs.ahead
                else:
                    jump = costs.back_to_bar if there.begins_bar else costs.back
                far = 0.0 if event == 1 else costs.a_bar * abs(there.bar - here)
                cost = cheapest + jump - off + far
                if cost > limit:
                    continue
                bit, wanted, apart = self._nearest(there, note, best)
                self._put(found, (event, 1 << bit), cost + apart, best, wanted.n, jumped=True)
        return self._kept(found, note)

    def skip(self, cells: Cells) -> Cells:
        """Return where the score stands after the player has left what comes next."""
        cost, step = min(cells.values(), key=_cost)
        event = step.event if step.mask != self._full[step.event] else min(step.event + 1, self.last)
        after = Step(step, None, Kind.SKIPPED, 0, event, self._full[event])
        return {(event, after.mask): (cost, after)}

    def _targets(self, midi: int, here: int) -> list[int]:
        """The events that a jump may lead to: the nearest ones that hold a pitch, and the first of all."""
        holding = self._by_pitch.get(midi, [])
        at = bisect_right(holding, here)
        back, ahead = self._costs.jumps_back, self._costs.jumps_ahead
        found = holding[max(0, at - back) : at + ahead]
        return found if not holding or holding[0] != 1 or at <= back else [1, *found]

    def _frontier(self, cells: Cells, limit: float) -> dict[int, tuple[float, Step]]:
        """For each event what it costs to be done with it, what is left of it missed."""
        costs, full = self._costs, self._full
        frontier: dict[int, tuple[float, Step]] = {}
        for (event, mask), (cost, step) in cells.items():
            whole = cost + costs.missed_of_chord * (full[event] & ~mask).bit_count()
            if whole <= limit and (event not in frontier or whole < frontier[event][0]):
                frontier[event] = (whole, step)
        for event in sorted(frontier):
            cost, step = frontier[event]
            for later in range(event + 1, len(full)):
                cost += self._left_out[later] - (costs.missed_on if later > event + 1 else 0.0)
                known = frontier.get(later)
                if cost > limit or (known is not None and known[0] <= cost - costs.missed_on):
                    break
                if known is None or cost < known[0]:
                    frontier[later] = (cost, step)
        return frontier

    def _apart(self, wanted: Wanted, note: Note, before: Step) -> float:
        """What it costs to take a note for a written one, after that step."""
        costs = self._costs
        off = note.midi - wanted.midi
        place = note.place
        if off == 0:
            return 0.0 if place is None or place in wanted.places else costs.elsewhere
        if off % 12 == 0 or (place in wanted.near if place is not None else abs(off) == 1):
            usual = costs.near
        else:
            usual = costs.wrong
        return min(usual, costs.slipped) if off == before.off else usual

    def _nearest(self, event: Event, note: Note, before: Step) -> tuple[int, Wanted, float]:
        """Which note of an event another one is most likely taken for: (its bit, itself, the cost)."""
        best = 0, event.notes[0], self._apart(event.notes[0], note, before)
        for bit in range(1, len(event.notes)):
            apart = self._apart(event.notes[bit], note, before)
            if apart < best[2]:
                best = bit, event.notes[bit], apart
        return best

    def _put(
        self,
        found: dict[tuple[int, int], tuple[float, Step, Kind, int, bool]],
        key: tuple[int, int],
        cost: float,
        step: Step,
        n: int,
        *,
        jumped: bool = False,
    ) -> None:
        known = found.get(key)
        if known is None or cost < known[0]:
            found[key] = (cost, step, Kind.MATCHED, n, jumped)

    def _kept(self, found: dict[tuple[int, int], tuple[float, Step, Kind, int, bool]], note: Note) -> Cells:
        costs = self._costs
        limit = min(entry[0] for entry in found.values()) + costs.beam
        near = [(key, entry) for key, entry in found.items() if entry[0] <= limit]
        if len(near) > costs.most_cells:
            near = heapq.nsmallest(costs.most_cells, near, key=lambda item: item[1][0])
        midi, midis = note.midi, self._midis
        return {
            key: (cost, Step(parent, note, kind, n, *key, off=midi - midis[n], jumped=jumped))
            for key, (cost, parent, kind, n, jumped) in near
        }


@dataclass(frozen=True, slots=True)
class Aligned:
    """One played note beside the score. n: as in Step, 0 for none. jumped: the player jumped to it."""

    note: Note
    n: int
    kind: Kind
    jumped: bool = False


@dataclass(frozen=True, slots=True)
class Alignment:
    """All notes played, in the order of their onsets, and what the best path costs."""

    notes: tuple[Aligned, ...]
    cost: float


def align(
    events: Sequence[Event], notes: Iterable[Note], costs: Costs = COSTS, *, whole: bool = True
) -> Alignment:
    """Put all notes beside the score at once: the best path over all.

    whole: the piece was meant to be played to its end, so what is left of it counts as missed.
    """
    follower = Follower(events, costs)
    cells = follower.start()
    for note in sorted(notes, key=lambda note: (note.onset_s, note.id)):
        cells = follower.hear(cells, note)
    if not whole:
        cost, step = min(cells.values(), key=_cost)
    else:
        sizes = [len(event.notes) for event in events]
        left = [0.0]
        for event in reversed(events):
            left.append(left[-1] + left_out(event, costs) - (costs.missed_on if len(left) > 1 else 0.0))
        left.reverse()

        def to_end(entry: tuple[float, Step]) -> float:
            cost, step = entry
            open_notes = 0 if step.event == 0 else sizes[step.event - 1] - step.mask.bit_count()
            return cost + costs.missed_of_chord * open_notes + left[step.event]

        best = min(cells.values(), key=to_end)
        cost, step = to_end(best), best[1]
    return Alignment(aligned(step), cost)


def left_out(event: Event, costs: Costs = COSTS) -> float:
    """What it costs to leave out a whole event."""
    return costs.missed + costs.missed_of_chord * (len(event.notes) - 1)


def aligned(step: Step) -> tuple[Aligned, ...]:
    """The notes of a path."""
    return tuple(
        Aligned(step.note, step.n, step.kind, step.jumped) for step in step.steps() if step.note is not None
    )


def _cost(entry: tuple[float, Step]) -> float:
    return entry[0]
