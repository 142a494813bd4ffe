"""Melodies that nobody has seen: made from a seed for a level, a position and the places to be visited."""

import hashlib
import itertools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from midifret.melody.chance import MOST_SEED, Chance
from midifret.melody.form import BarPlan, Close, plan_form
from midifret.melody.level import LEAST_BARS, METERS, MOST_BARS, Level, bar_quarters
from midifret.melody.line import Moves, Slot, interval_class, move_weight
from midifret.melody.over_bars import Line, tied_over_bars, with_upbeat
from midifret.melody.rhythm import plan_rhythm
from midifret.melody.tones import LEAST_TONES, Key, Kind, Tone, key_of, tones_of
from midifret.melody.weigh import Note, Weigher, Window, notes_of, shape_of
from midifret.neck import Neck
from midifret.neck.position import last_position
from midifret.terms import BadInput, Place
from midifret.terms.score import BarStart, KeyChange, MeterChange, Score, ScoreNote

# Of so many melodies for one seed the one is taken that uses the position best [ours].
_TRIED = 5
_MOST_TRIES = 40  # a plan that cannot be filled is given up for another one
_MOST_SEEDS = 500  # tried for a melody that was not given before
_NO_PLACES: Mapping[Place, float] = {}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a melody is to be.

    position: the fret under the first finger, 0 the open position. bars, key, meter: None for what the level
    says. visit: how much each place is to be sought, 0 or more; those left out are not sought.
    """

    level: Level
    neck: Neck
    position: int
    seed: int = 0
    bars: int | None = None
    key: str | None = None
    meter: tuple[int, int] | None = None
    visit: Mapping[Place, float] = field(default_factory=lambda: _NO_PLACES)


@dataclass(frozen=True, slots=True)
class Melody:
    """A melody as it was made.

    places: where its notes lie in the position, without those that need a stretch while others do not.
    within: how many places the tones of its key have in the position, counted so.
    """

    score: Score
    level: int
    position: int
    key: str
    meter: tuple[int, int]
    seed: int
    places: frozenset[Place]
    within: int
    fingerprint: str

    @property
    def bars(self) -> int:
        """How many bars it has, an upbeat and the bar that makes up for it counted as one."""
        return len(self.score.bars) - bool(self.upbeat_quarters)

    @property
    def upbeat_quarters(self) -> Fraction:
        """How long its upbeat is, 0 without one."""
        first = self.score.bars[0]
        return (first.duration_quarter or Fraction(0)) if first.number == "0" else Fraction(0)


def compose(wanted: Wanted) -> Melody:
    """Make the melody of a seed: the same for the same values, on every machine.

    Every note is in reach of the position. Raises BadInput for bars, a key or a seed out of range, and for a
    position that has too few notes of the key.
    """
    _check(wanted)
    chance = Chance(wanted.seed)
    pools = _pools(wanted)
    key = chance.weighted({key: _worth(tones) for key, tones in pools.items()})
    meters = [wanted.meter] if wanted.meter else list(wanted.level.meters)
    meter = chance.one_of(meters)
    bars = wanted.bars or wanted.level.bars
    made = _Maker(pools[key], wanted, meter, bars)
    best: tuple[float, tuple[Note, ...], list[int]] | None = None
    found = 0
    for _ in range(_MOST_TRIES):
        drawn = made.draw(chance)
        if drawn is None:
            continue
        found += 1
        worth = made.worth(drawn[1])
        if best is None or worth > best[0]:
            best = (worth, *drawn)
        if found == _TRIED:
            break
    if best is None:
        raise BadInput(
            f"no melody of level {wanted.level.number} in {key.name} can be made "
            f"in position {wanted.position}",
            allowed="another key, position or level",
        )
    line = Line(best[1], tuple(made.tones[number] for number in best[2]))
    line = tied_over_bars(line, meter, wanted.level.ties, chance)
    if chance.yes(wanted.level.upbeats):
        level = wanted.level
        line = with_upbeat(line, meter, made.tones, level.intervals, level.range_semitones, chance)
    tones = [*line.tones, *([line.upbeat] if line.upbeat else [])]
    score = _score(line, key, meter, bars, wanted)
    return Melody(
        score,
        wanted.level.number,
        wanted.position,
        key.name,
        meter,
        wanted.seed,
        frozenset(place for tone in tones for place in _best_places(tone)),
        len({place for tone in made.tones if tone.kind is Kind.OF_KEY for place in _best_places(tone)}),
        fingerprint(score),
    )


def compose_unseen(wanted: Wanted, given: Collection[str]) -> Melody:
    """Make a melody whose fingerprint is not among those given before; seeds go up from `wanted.seed`.

    Raises BadInput as `compose` does, and where there is none left.
    """
    for step in range(_MOST_SEEDS):
        melody = compose(replace(wanted, seed=(wanted.seed + step) % (MOST_SEED + 1)))
        if melody.fingerprint not in given:
            return melody
    raise BadInput(
        f"no melody of level {wanted.level.number} in position {wanted.position} is left that was not given",
        allowed="more bars, another key or a higher level",
    )


def fingerprint(score: Score) -> str:
    """Mark a tune: alike for the same intervals and rhythm in any key. 32 hexadecimal digits."""
    if not score.notes:
        return hashlib.sha256(b"").hexdigest()[:32]
    first = score.notes[0]
    text = ";".join(
        f"{note.onset_quarter - first.onset_quarter}:{note.duration_quarter}:{note.midi - first.midi}"
        for note in score.notes
    )
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _check(wanted: Wanted) -> None:
    if wanted.bars is not None and not LEAST_BARS <= wanted.bars <= MOST_BARS:
        raise BadInput(f"a melody of {wanted.bars} bars", allowed=f"{LEAST_BARS} to {MOST_BARS} bars")
    if not 0 <= wanted.seed <= MOST_SEED:
        raise BadInput(f"the seed {wanted.seed} is out of range", allowed=f"0 to {MOST_SEED}")
    last = last_position(wanted.neck)
    if not 0 <= wanted.position <= last:
        raise BadInput(
            f"this neck has no position {wanted.position}",
            allowed=f"0 (the open position) to {last}",
        )
    if wanted.meter is not None and not wanted.level.cells_in(wanted.meter):
        known = [m for m in METERS if wanted.level.cells_in(m)]
        raise BadInput(
            f"level {wanted.level.number} has no rhythms for {wanted.meter[0]}/{wanted.meter[1]}",
            allowed=", ".join(f"{beats}/{beat_type}" for beats, beat_type in known),
        )
    for place, weight in wanted.visit.items():
        if not 0 <= weight < float("inf"):
            raise BadInput(f"the place {place} cannot be sought by {weight}", allowed="0 or more")


def _pools(wanted: Wanted) -> dict[Key, tuple[Tone, ...]]:
    """The tones of each key that comes into question, without stretches where a level does without."""
    names = (wanted.key,) if wanted.key is not None else wanted.level.keys
    found: dict[Key, tuple[Tone, ...]] = {}
    for name in names:
        try:
            key = key_of(name)
        except ValueError as error:
            message, _, allowed = str(error).partition("; write ")
            raise BadInput(message, allowed=allowed) from None
        outside = wanted.level.accidentals > 0
        tones: tuple[Tone, ...] = ()
        for stretch in (True,) if wanted.level.stretch else (False, True):
            tones = tones_of(
                wanted.neck, wanted.position, key, outside_key=outside, visit=wanted.visit, stretch=stretch
            )
            if tones:
                break
        if tones and any(tone.degree == 0 for tone in tones):
            found[key] = tones
    if not found:
        keys = wanted.key or ", ".join(names)
        raise BadInput(
            f"position {wanted.position} has too few notes of {keys} side by side",
            allowed=f"a position with {LEAST_TONES} or more, for example 5",
        )
    return found


def _worth(tones: Sequence[Tone]) -> float:
    """How good a key is here: many tones, few stretches, many places that are sought."""
    own = [tone for tone in tones if tone.kind is Kind.OF_KEY]
    stretched = sum(tone.needs_stretch for tone in own)
    return len(own) / (1 + 0.5 * stretched) * (1 + 2 * sum(tone.visit for tone in tones) / len(tones))


def _best_places(tone: Tone) -> tuple[Place, ...]:
    easy = tuple(one.place for one in tone.reached if not one.stretch)
    return easy or tuple(one.place for one in tone.reached)


class _Maker:
    """Draws melodies of one key, meter and length."""

    def __init__(self, tones: tuple[Tone, ...], wanted: Wanted, meter: tuple[int, int], bars: int) -> None:
        self.tones = tones
        self._level = wanted.level
        self._meter = meter
        self._bars = bars
        self._moves = Moves(tones, wanted.level.intervals)
        self._row = [tone for tone in tones if tone.kind is Kind.OF_KEY]

    def draw(self, chance: Chance) -> tuple[tuple[Note, ...], list[int]] | None:
        """Draw one melody: its notes and their tones; None where the plan could not be filled."""
        plans = plan_form(self._bars, chance)
        rhythm = plan_rhythm(plans, self._level, self._meter, chance)
        notes = notes_of(plans, rhythm)
        windows = self._windows(plans, chance)
        slots = Weigher(self.tones, self._level, self._meter, plans, windows).slots(notes)
        filler = _Filler(self._moves, self._level, plans, notes, windows)
        drawn = filler.fill(slots, chance)
        return None if drawn is None else (notes, drawn)

    def worth(self, drawn: Sequence[int]) -> float:
        """How well a melody uses the position and the places that are sought; trills count against it."""
        used = {self.tones[number] for number in drawn}
        row = set(self._row)
        sought = sum(tone.visit for tone in self._row)
        share = len(used & row) / len(row)
        visited = sum(tone.visit for tone in used & row) / sought if sought else 0.0
        turns = sum(drawn[n : n + 2] == drawn[n + 2 : n + 4] for n in range(len(drawn) - 3))
        highest = max(self.tones[number].midi for number in drawn)
        peaks = sum(self.tones[number].midi == highest for number in drawn)
        return share + 2 * visited - 0.05 * turns - 0.02 * (peaks > 3)

    def _windows(self, plans: Sequence[BarPlan], chance: Chance) -> list[Window]:
        """Draw the range of the melody and within it the range of each phrase."""
        whole = self._drawn_rows(self._row, self._level.range_semitones, chance, tonic=True)
        windows: list[Window] = []
        for phrase in range(plans[-1].phrase + 1):
            own = [plan for plan in plans if plan.phrase == phrase]
            closes = own[-1].closes or Close.FULL
            shape = shape_of(closes, chance)
            if own[0].same_as is not None:
                model = windows[plans[own[0].same_as].phrase]
                has_tonic = any(
                    t.degree == 0 and model.low_index <= t.index <= model.high_index for t in whole
                )
                if has_tonic:
                    windows.append(Window(model.low_index, model.high_index, shape))
                    continue
            tonic = closes is Close.FULL or phrase + 1 <= plans[-1].phrase
            row = self._drawn_rows(whole, self._level.phrase_range_semitones, chance, tonic=tonic)
            windows.append(Window(row[0].index, row[-1].index, shape))
        return windows

    def _drawn_rows(
        self, tones: Sequence[Tone], most_semitones: int, chance: Chance, *, tonic: bool
    ) -> list[Tone]:
        """Draw neighbouring tones as wide as allowed, those with places that are sought more often."""
        rows: dict[int, float] = {}
        found: list[list[Tone]] = []
        for low, first in enumerate(tones):
            row = [tone for tone in tones[low:] if tone.midi - first.midi <= most_semitones]
            if found and row[-1] is found[-1][-1]:
                break
            if tonic and not any(tone.degree == 0 for tone in row):
                continue
            rows[len(found)] = (0.2 + sum(tone.visit for tone in row)) / len(row)
            found.append(row)
        return found[chance.weighted(rows)]


class _Filler:
    """Fills the notes of a plan with tones: new ones drawn together, repeated ones copied."""

    def __init__(
        self,
        moves: Moves,
        level: Level,
        plans: Sequence[BarPlan],
        notes: Sequence[Note],
        windows: Sequence[Window],
    ) -> None:
        self._moves = moves
        self._level = level
        self._plans = plans
        self._notes = notes
        self._windows = windows
        self._by_index = {(tone.index, tone.kind): n for n, tone in enumerate(moves.tones)}
        self._of_bar: list[list[int]] = [[] for _ in plans]
        for n, note in enumerate(notes):
            self._of_bar[note.bar].append(n)

    def fill(self, slots: Sequence[Slot], chance: Chance) -> list[int] | None:
        """Return the tone of each note, or None where something does not fit."""
        drawn: list[int] = []
        open_bars: list[int] = []
        for bar, plan in enumerate(self._plans):
            if plan.same_as is None:
                open_bars.append(bar)
                continue
            if not self._draw(open_bars, drawn, slots, chance, next_bar=bar):
                return None
            open_bars = []
            source = [drawn[n] for n in self._of_bar[plan.same_as]]
            copied = self._stepped(source, plan, chance) if plan.sequence else source
            if copied is None:
                open_bars.append(bar)
            elif not self._joins(drawn, copied, slots, bar):
                return None
            else:
                drawn += copied
        return drawn if self._draw(open_bars, drawn, slots, chance, next_bar=None) else None

    def _draw(
        self,
        bars: Sequence[int],
        drawn: list[int],
        slots: Sequence[Slot],
        chance: Chance,
        *,
        next_bar: int | None,
    ) -> bool:
        """Draw the notes of some bars in a row; what comes after them is known where it is a copy."""
        numbers = [n for bar in bars for n in self._of_bar[bar]]
        if not numbers:
            return True
        own = [slots[n] for n in numbers]
        before = self._before(drawn)
        after: tuple[int, bool] | None = None
        plan = None if next_bar is None else self._plans[next_bar]
        if plan is not None and not plan.sequence and plan.same_as is not None:
            source = self._of_bar[plan.same_as][0]
            if source >= numbers[0]:
                # The copy begins as these bars do: settle their first tone, then draw the rest towards it.
                first = self._moves.draw(own, chance, before=before)
                if first is None:
                    return False
                at = source - numbers[0]
                own[at] = replace(own[at], weights={first[at]: 1.0})
                after = (first[at], True)
            else:
                after = (drawn[source], True)
        found = self._moves.draw(own, chance, before=before, after=after)
        if found is None:
            return False
        drawn += found
        return True

    def _before(self, drawn: Sequence[int]) -> tuple[int, int] | None:
        if not drawn:
            return None
        tones = self._moves.tones
        kind = interval_class(tones[drawn[-2]], tones[drawn[-1]]) if len(drawn) > 1 else 0
        return drawn[-1], kind

    def _stepped(self, source: Sequence[int], plan: BarPlan, chance: Chance) -> list[int] | None:
        """The same notes a step or two higher or lower, wherever all of them fit; None where nowhere."""
        window = self._windows[plan.phrase]
        tones = self._moves.tones
        ways: dict[tuple[int, ...], float] = {}
        for steps, weight in ((-1, 1.0), (1, 1.0), (-2, 0.6), (2, 0.6)):
            moved = []
            for number in source:
                tone = tones[number]
                index = tone.index + steps
                other = self._by_index.get((index, tone.kind), self._by_index.get((index, Kind.OF_KEY)))
                if other is None or not window.low_index <= index <= window.high_index:
                    break
                moved.append(other)
            else:
                line = [tones[number] for number in (source[-1], *moved)]
                pairs = itertools.pairwise(line)
                if all(move_weight(a, b, self._level.intervals) > 0 for a, b in pairs):
                    ways[tuple(moved)] = weight
        if not ways:
            return None
        way = chance.weighted(ways)
        return list(way)

    def _joins(self, drawn: Sequence[int], copied: Sequence[int], slots: Sequence[Slot], bar: int) -> bool:
        tones = self._moves.tones
        return not drawn or move_weight(tones[drawn[-1]], tones[copied[0]], self._level.intervals) > 0


def _score(line: Line, key: Key, meter: tuple[int, int], bars: int, wanted: Wanted) -> Score:
    bar, upbeat = bar_quarters(meter), line.upbeat_quarters
    struck: list[ScoreNote] = []
    if line.upbeat is not None:
        tone = line.upbeat
        struck.append(ScoreNote(1, Fraction(0), upbeat, tone.midi, tone.pitch, bar="0", ident="n1"))
    for number, (note, tone) in enumerate(zip(line.notes, line.tones, strict=True)):
        if number in line.tied:
            longer = struck[-1].duration_quarter + note.length
            struck[-1] = replace(struck[-1], duration_quarter=longer)
            continue
        n = len(struck) + 1
        length = note.length - (upbeat if number == len(line.notes) - 1 else 0)
        at = upbeat + note.bar * bar + note.at
        struck.append(ScoreNote(n, at, length, tone.midi, tone.pitch, bar=str(note.bar + 1), ident=f"n{n}"))
    starts = [BarStart(Fraction(0), "0", duration_quarter=upbeat)] if upbeat else []
    starts += [
        BarStart(
            upbeat + number * bar,
            str(number + 1),
            duration_quarter=bar - (upbeat if number == bars - 1 else 0),
        )
        for number in range(bars)
    ]
    return Score(
        title=f"Melody {wanted.level.number}-{wanted.seed} in {key.name}",
        composer="",
        source="",
        notes=tuple(struck),
        meters=(MeterChange(Fraction(0), *meter),),
        keys=(KeyChange(Fraction(0), key.fifths, key.mode),),
        tuning_midis=wanted.neck.tuning.open_midi,
        capo=wanted.neck.capo,
        bars=tuple(starts),
    )
