"""What follows from what was heard: tuning, channels, bend range and thresholds. Functions of values only."""

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from midifret.neck import Tuning
from midifret.session.hook_up.ear import BEND_CENTRE, PLUCK_S, SETTLED_S, Heard, RawNote
from midifret.terms import Thresholds

# Full bends that converters can be set to [common practice, no source].
RANGES_SEMITONES = (1, 2, 3, 4, 5, 7, 12, 24, 48)
# A slide of two frets that comes within this share of what a range would give is sure: 12 cents of 200, more
# than a finger pulls a string off its fret, less than half the way to the next range (4 and 5 are a quarter
# apart). [ours]
SURE_SHARE = 0.06
SLIDE_FRETS = 2
# A string may arrive so far from its pitch and still be taken for it; beyond, another tuning fits better.
_NEAR_SEMITONES = 0.75
_OCTAVE = 12
MOST_OFFSET = 36  # what a guitar's file takes: three octaves
# Bends smaller than this are the converter's unrest, not a slide: a 48th of a semitone at the widest range
# that is usual, 48, and an eighth of one at 12 [ours].
LEAST_STEPS = 100
# A bend that stayed so long had arrived at a fret [ours].
_STAYED_S = 0.06
# The bend that belongs to a new note-on lies so close to it: five messages of a DIN cable (MIDI 1.0).
_ONE_CHANGE_S = 0.005


@dataclass(frozen=True, slots=True)
class TuningMatch:
    """The tuning that fits best.

    tuning: None where none does. offset: semitones by which all strings arrive higher than its open strings.
    """

    tuning: Tuning | None
    offset: int = 0


def match_tuning(pitches: Mapping[int, float], strings: int, tunings: Sequence[Tuning]) -> TuningMatch:
    """Find the tuning of so many strings that the pitches heard belong to.

    pitches: by string, MIDI numbers with their fraction; strings that did not arrive are left out.
    A tuning fits where every string lies within 75 cents of it after one offset in whole semitones for all of
    them. Of several the one without offset is taken, then the nearest, then the first. With one string alone
    only the standard distance from a tuning without offset counts.
    """
    best: tuple[tuple[bool, float, int], TuningMatch] | None = None
    for number, tuning in enumerate(tunings):
        if len(tuning.open_midi) != strings or not pitches:
            continue
        off = {string: pitch - tuning.open_midi[string - 1] for string, pitch in pitches.items()}
        offset = math.floor(statistics.median(off.values()) + 0.5)
        worst = max(abs(each - offset) for each in off.values())
        if worst >= _NEAR_SEMITONES or abs(offset) > MOST_OFFSET:
            continue
        # What lies within 10 cents of each other is alike: the order of the files decides.
        rank = (offset != 0, round(worst, 1), number)
        if best is None or rank < best[0]:
            best = (rank, TuningMatch(tuning, offset))
    return best[1] if best is not None else TuningMatch(None)


def cents_off(pitches: Mapping[int, float], match: TuningMatch) -> dict[int, float]:
    """How far each string is from its pitch; from the nearest semitone where no tuning is known."""
    if match.tuning is None:
        return {string: (pitch - math.floor(pitch + 0.5)) * 100 for string, pitch in pitches.items()}
    opens = match.tuning.open_midi
    return {string: (p - match.offset - opens[string - 1]) * 100 for string, p in pitches.items()}


def open_pitches(
    pitches: Mapping[int, float], match: TuningMatch, strings: int, standard: Sequence[int]
) -> tuple[int, ...]:
    """The open strings as they arrive, string 1 first, in whole semitones.

    A string that did not arrive is taken from the tuning that fits, or else lies as far from its nearest
    neighbour as in `standard`.
    """
    if match.tuning is not None:
        return tuple(midi + match.offset for midi in match.tuning.open_midi)
    known = {string: math.floor(pitch + 0.5) for string, pitch in pitches.items()}
    found = []
    for string in range(1, strings + 1):
        nearest = min(known, key=lambda other: abs(other - string))
        found.append(known[nearest] + standard[string - 1] - standard[nearest - 1])
    return tuple(found)


def assumed_channels(channels: Mapping[int, int], strings: int) -> tuple[int, ...] | None:
    """The channel of each string, string 1 first, with those of strings that did not arrive filled in.

    channels: by string, 0 to 15. What rises or falls by one from string to string, one channel perhaps left
    out, goes on so; else the first free channel is taken. None where two strings share a channel.
    """
    if len(set(channels.values())) < len(channels):
        return None
    found = dict(channels)
    for string in (s for s in range(1, strings + 1) if s not in channels):
        guesses = [
            channels[near] + direction * (string - near)
            for near in sorted(channels, key=lambda other: abs(other - string))
            for direction in _directions(channels)
        ]
        free = [c for c in (*guesses, *range(16)) if 0 <= c < 16 and c not in found.values()]
        found[string] = free[0]
    return tuple(found[string] for string in range(1, strings + 1))


def _directions(channels: Mapping[int, int]) -> tuple[int, ...]:
    steps = [channels[b] - channels[a] for a, b in pairwise(sorted(channels))]
    return (-1,) if sum(step < 0 for step in steps) > len(steps) / 2 else (1,)


@dataclass(frozen=True, slots=True)
class Slide:
    """What a slide of two frets told.

    by_bends, by_notes: how the way was sent. range_semitones: what full bend must be, not rounded; None where
    the bends do not tell.
    """

    by_bends: bool
    by_notes: bool
    range_semitones: float | None = None

    @property
    def moved(self) -> bool:
        """Whether anything moved at all."""
        return self.by_bends or self.by_notes


def has_moved(notes: Sequence[RawNote]) -> bool:
    """Whether the pitch of a string moved, by bends or by new notes, once it had settled after the pluck."""
    first = notes[0]
    settled_s = first.onset_s + SETTLED_S
    bends = [_settled_start(first)]
    bends += [bend for note in notes for time_s, bend in note.path if time_s > settled_s]
    return max(bends) - min(bends) >= LEAST_STEPS or any(note.key != first.key for note in notes)


def _settled_start(note: RawNote) -> int:
    """The bend, in steps, at which a note had settled after its pluck."""
    return [bend for time_s, bend in note.path if time_s <= note.onset_s + SETTLED_S][-1]


def sliding_voice(notes: Sequence[RawNote], now_s: float, *, channel: int | None) -> list[RawNote]:
    """Of all that came during a slide the notes of the string that slid, from its pluck on.

    channel: of that string; without one, or without notes on it, the loudest that came first is taken for it,
    with all on its channel, or where there is none with all within an octave.
    A leap of more than two semitones, or a rest, is no slide: a new pluck, or a finger that let the string
    go. Of several such stretches the last that moved is taken, or the last.
    """
    first = [note for note in notes if note.onset_s <= notes[0].onset_s + PLUCK_S]
    begun = max(first, key=lambda note: (note.length_s(now_s) >= SETTLED_S, note.velocity))
    if channel is None:
        own = [n for n in notes if n.onset_s >= begun.onset_s and abs(n.key - begun.key) <= _OCTAVE]
    else:
        own = [note for note in notes if note.channel == channel]
        own = own or [note for note in notes if note.channel == begun.channel]
    stretches: list[list[RawNote]] = [[own[0]]]
    for before, note in pairwise(own):
        rest_s = 0.0 if before.end_s is None else note.onset_s - before.end_s
        if abs(note.key - before.key) > SLIDE_FRETS or rest_s > _STAYED_S:
            stretches.append([])
        stretches[-1].append(note)
    return next((each for each in reversed(stretches) if has_moved(each)), stretches[-1])


def read_slide(notes: Sequence[RawNote], now_s: float) -> Slide:
    """Read a slide up two frets (and perhaps back) from the notes of its string, in order.

    Bends alone: the furthest up that was held, less where the note began, is two semitones. A bend that stops
    at its end leaves open whether the way was longer: a range of 1 without new note-ons is taken for 2.
    New note-ons with bends: just before and just after a new note-on the pitch is the same, and where the
    slide turned it is two semitones from the start. Two such readings have to agree. New note-ons alone tell
    nothing of the range.
    """
    first = notes[0]
    start = _settled_start(first)
    by_notes = any(note.key != first.key for note in notes)
    bends = [bend for note in notes for time_s, bend in note.path if time_s > first.onset_s + SETTLED_S]
    by_bends = bool(bends) and max(start, *bends) - min(start, *bends) >= LEAST_STEPS
    if not by_bends:
        return Slide(False, by_notes)
    if not by_notes:
        furthest = _furthest_held(notes, start, now_s, direction=1)
        if furthest < LEAST_STEPS:
            furthest = _furthest_held(notes, start, now_s, direction=-1)
        return Slide(True, False, SLIDE_FRETS * BEND_CENTRE / abs(furthest) if furthest else None)
    readings = [reading for pair in pairwise(notes) if (reading := _across(*pair)) is not None]
    turn = max(notes, key=lambda note: abs(note.key - first.key))
    keys = turn.key - first.key
    at_turn = [note for note in notes if note.key == turn.key]
    furthest = _furthest_held(at_turn, start, now_s, direction=1 if keys > 0 else -1)
    if abs(keys) < SLIDE_FRETS and furthest * keys >= LEAST_STEPS:
        readings.append((SLIDE_FRETS - abs(keys)) * BEND_CENTRE / abs(furthest))
    agree = len(readings) > 1 and max(readings) <= min(readings) * (1 + 2 * SURE_SHARE)
    return Slide(True, True, statistics.median(readings) if agree else None)


def _across(before: RawNote, after: RawNote) -> float | None:
    """The bend range if the pitch was the same on both sides of a new note-on; None where that is open."""
    left = [bend for time_s, bend in before.path if time_s < after.onset_s - _ONE_CHANGE_S]
    arrived = [bend for time_s, bend in after.path if time_s <= after.onset_s + _ONE_CHANGE_S]
    keys = after.key - before.key
    if not left or not keys:
        return None
    way = left[-1] - arrived[-1]
    return keys * BEND_CENTRE / way if way * keys >= LEAST_STEPS else None


def _furthest_held(notes: Sequence[RawNote], start: int, now_s: float, *, direction: int) -> float:
    """The bend furthest from the start, in steps, that was held for a while; the furthest if none was.

    direction: 1 looks up only (a finger that lets go at the end lets the pitch fall far), -1 down only.
    """
    held: list[tuple[float, int]] = []
    for note in notes:
        end_s = now_s if note.end_s is None else note.end_s
        times = [*(time_s for time_s, _ in note.path[1:]), max(end_s, note.path[-1][0])]
        held += [
            (until_s - from_s, bend - start) for (from_s, bend), until_s in zip(note.path, times, strict=True)
        ]
    way = max((bend for _, bend in held if bend * direction >= 0), key=abs, default=0)
    # A finger is not quite still: what lies within a tenth of the furthest bend counts as the same fret.
    at_the_end = [(seconds, bend) for seconds, bend in held if way and bend / way >= 0.9]
    stayed_s = sum(seconds for seconds, _ in at_the_end)
    if stayed_s < _STAYED_S:
        return float(way)
    return sum(seconds * bend for seconds, bend in at_the_end) / stayed_s


def nearest_range(reading_semitones: float) -> tuple[int, float]:
    """The usual bend range nearest to a reading, by ratio, and how far off it is as a share."""
    best = min(RANGES_SEMITONES, key=lambda usual: abs(math.log(reading_semitones / usual)))
    return best, abs(reading_semitones / best - 1)


@dataclass(frozen=True, slots=True)
class Noise:
    """A note that came without a pluck. velocity: 1 to 127. length_s: how long it sounded."""

    velocity: int
    length_s: float


# The most that may be doubtful: half as loud again as the shipped limit, for strings plucked on request are
# plucked more firmly than in playing [ours].
_MOST_SOFT = 48
_SPARE_S = 0.005
_MOST_CROSSTALK = 0.8


def derive_thresholds(noises: Sequence[Noise], plucks: Sequence[Heard], shipped: Thresholds) -> Thresholds:
    """Derive from the noise of fingers and from the plucks what may be a glitch [ours].

    soft_velocity: half-way between the loudest noise and the softest pluck; without noise as shipped. At most
        48, and always below the softest pluck.
    short_s: 5 ms more than the longest noise that is no louder than that, at least as shipped, at most the
        time after which no note may be doubtful any longer, and 5 ms less than the shortest pluck.
    crosstalk_share, together_s: where a pluck made other channels speak, a twentieth more than the greatest
        share of its velocity, and 5 ms more than the greatest delay; at least as shipped, at most 0.8 and the
        time of doubt.
    Times are whole milliseconds, shares whole per cent, as the guitar's file has them.
    """
    softest = min((pluck.velocity for pluck in plucks), default=127)
    loudest = max((noise.velocity for noise in noises), default=0)
    soft = (loudest + softest) // 2 if noises else shipped.soft_velocity
    soft = max(0, min(soft, _MOST_SOFT, softest - 1))
    longest_s = max((noise.length_s for noise in noises if noise.velocity <= soft), default=0.0)
    shortest_s = min((pluck.length_s for pluck in plucks), default=math.inf)
    short_s = min(
        max(shipped.short_s, longest_s + _SPARE_S), shipped.doubt_s, max(0.0, shortest_s - _SPARE_S)
    )
    others = [(velocity / pluck.velocity, late_s) for pluck in plucks for _, velocity, late_s in pluck.others]
    others = [(share, late_s) for share, late_s in others if share < 1]
    crosstalk = max((share for share, _ in others), default=0.0) + 0.05 if others else 0.0
    together_s = max((late_s for _, late_s in others), default=0.0) + _SPARE_S if others else 0.0
    return replace(
        shipped,
        soft_velocity=soft,
        short_s=math.floor(short_s * 1000 + 1e-6) / 1000,
        crosstalk_share=max(shipped.crosstalk_share, math.ceil(min(crosstalk, _MOST_CROSSTALK) * 100) / 100),
        together_s=max(shipped.together_s, math.ceil(min(together_s, shipped.doubt_s) * 1000) / 1000),
    )
