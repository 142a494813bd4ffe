"""What is played to the decoder in the measurement of hearing, and how what it heard is matched to the truth.

The truth comes from the converter's own record. A heard note is matched on its own string to a note that was
meant, if its onset lies between the moment at which the hand had done it and 35 ms after the converter had
told it: one latency, and half the time between the fastest repeats, so that no repeat is taken for another.
Before the hand 10 ms are allowed, for a neighbour in a chord may make a string speak sooner; for a slide
45 ms, for its last semitone is heard before the finger stands still. Greedy in the order of time; of several
heard notes in one window the first with the right fret is taken, else the first. Nothing is matched twice.
"""

import math
import random
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from midifret.files import Home
from midifret.gear.guitar import Guitar, channel_map
from midifret.gear.load import load_tunings
from midifret.hear import Decoder, decode
from midifret.neck import Neck, Tuning
from midifret.session.hook_up.ear import Heard as PluckHeard
from midifret.session.hook_up.reckon import Noise, derive_thresholds
from midifret.terms import (
    Attack,
    Encoding,
    Glitch,
    HeardEvent,
    Note,
    NoteEnded,
    NoteSettled,
    Place,
    Thresholds,
    TimedMessage,
    Voided,
    Wiring,
)
from midifret.wire.converter import Converter
from midifret.wire.scenarios import Scenario
from midifret.wire.strokes import Moved, Played, Shaken, Stroke, Struck

BEFORE_S, BEFORE_MOVE_S = 0.010, 0.045
# Fast repeats: nobody plays one string faster than 14 a second [common practice, no source].
REPEAT_S = 0.070
AFTER_TOLD_S = REPEAT_S / 2
# A quick slide over seven frets takes about 0.3 s [common practice, no source].
SLIDE_A_FRET_S = (0.025, 0.043)


@dataclass(frozen=True, slots=True)
class SetUp:
    """One guitar and how its converter is set."""

    title: str
    guitar: Guitar
    changes: dict[str, object] = field(default_factory=dict)

    def of(self, scenario: Scenario) -> Scenario:
        """A scenario as this converter is set."""
        return replace(scenario, **self.changes)  # type: ignore[arg-type]


def set_ups(encoding: Encoding = Encoding.PER_STRING) -> list[SetUp]:
    """Every shipped tuning with every way of sending it."""
    tunings = load_tunings(Home.of(Path("/nonexistent")))
    return [found for tuning in tunings for found in _of_tuning(tuning, encoding)]


def _of_tuning(tuning: Tuning, encoding: Encoding) -> Iterator[SetUp]:
    strings = len(tuning.open_midi)
    if encoding is not Encoding.PER_STRING:
        wiring = Wiring(bend_range_semitones=2.0, encoding=encoding)
        yield SetUp(f"{tuning.name}, {encoding}", Guitar("m", "M", Neck(tuning), wiring))
        return

    def made(title: str, channels: Sequence[int], *, capo: int = 0, **rest: object) -> SetUp:
        wiring_keys = ("bend_range_semitones", "controller_channel", "transpose_semitones")
        wired = {key: rest.pop(key) for key in wiring_keys if key in rest}
        wiring = Wiring(channel_map(tuple(channels)), **wired)  # type: ignore[arg-type]
        changes = {key.removeprefix("its_"): value for key, value in rest.items()}
        return SetUp(f"{tuning.name}, {title}", Guitar("m", "M", Neck(tuning, capo=capo), wiring), changes)

    usual = range(strings)
    base = min(10, 16 - strings)  # channel 11 for six strings, lower where they would not fit
    skipped = [6, 7, 8, 10, 11, 12, 13, 14, 15][:strings]  # channel 10 left out
    yield made("bends, range 2", usual)
    yield made("notes, reversed", usual[::-1], its_bends=False)
    yield made(
        "bends, range 12 told on the controller channel, base 11",
        range(base, base + strings),
        controller_channel=base - 1,
        its_bend_range_semitones=12.0,
        its_tells_bend_range=True,
    )
    yield made("bends, range 24 not told, channel 10 left out", skipped, bend_range_semitones=24.0)
    yield made(
        "notes, frets sensed: 6.5 ms at any pitch (5 to 8 ms)",
        usual,
        its_bends=False,
        its_latency_fixed_s=0.0065,
        its_latency_periods=0.0,
    )
    yield made(
        "bends, range 24 told, reversed",
        usual[::-1],
        its_bend_range_semitones=24.0,
        its_tells_bend_range=True,
    )
    yield made("bends, range 12, capo 2, no cents told", usual, bend_range_semitones=12.0, capo=2,
               its_tells_cents=False)  # fmt: skip
    yield made("notes, an octave too high", usual, transpose_semitones=-12, its_bends=False)


# Material.


class Material:
    """Music for a measurement: endless phrases of every kind, seeded."""

    def __init__(self, neck: Neck, seed: int) -> None:
        """Take up a guitar."""
        self._neck = neck
        self._draw = random.Random(seed)
        self._now_s = 1.0
        self._phrases = (
            self._scale,
            self._places,
            self._chords,
            self._repeats,
            self._legato,
            self._slides,
            self._vibrato,
            self._softly,
        )

    def strokes(self, notes: int) -> list[Stroke]:
        """Phrases with at least so many notes that are meant, in the order of time."""
        found: list[Stroke] = []
        meant = 0
        while meant < notes:
            phrase = self._draw.choice(self._phrases)()
            meant += sum(not isinstance(stroke, Shaken) for stroke in phrase)
            found += sorted(phrase, key=lambda stroke: stroke.time_s)
            self._now_s += self._draw.uniform(0.3, 0.8)
        return found

    def _velocity(self) -> int:
        return self._draw.randint(50, 115)

    def _place(self, string: int | None = None, *, from_fret: int = 0) -> Place:
        string = string or self._draw.randint(1, self._neck.strings)
        return Place(string, self._draw.randint(from_fret, self._neck.last_fret))

    def _scale(self) -> list[Stroke]:
        """A major scale up or down across the strings of one position, 4 to 10 notes a second."""
        draw, neck = self._draw, self._neck
        position = draw.randint(0, neck.last_fret - 4)
        tonic = draw.randint(0, 11)
        steps = {(tonic + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)}
        places = [
            Place(string, fret)
            for string in range(neck.strings, 0, -1)
            for fret in range(position, position + 5)
            if neck.midi(Place(string, fret)) % 12 in steps
        ]
        if draw.random() < 0.5:
            places.reverse()
        apart_s = 1 / draw.uniform(4, 10)
        return self._in_turn(places, apart_s, self._velocity())

    def _in_turn(self, places: Sequence[Place], apart_s: float, velocity: int) -> list[Stroke]:
        strokes: list[Stroke] = []
        for place in places:
            held_s = apart_s * self._draw.uniform(0.8, 1.0)
            strokes.append(Struck(self._now_s, place, velocity, self._now_s + held_s))
            self._now_s += apart_s
        return strokes

    def _places(self) -> list[Stroke]:
        """Random places; some ring on until their string is struck again."""
        strokes: list[Stroke] = []
        for _ in range(12):
            held_s = self._draw.choice((0.2, 0.4, 1.5))
            strokes.append(Struck(self._now_s, self._place(), self._velocity(), self._now_s + held_s))
            self._now_s += self._draw.uniform(0.17, 0.5)
        return strokes

    def _chords(self) -> list[Stroke]:
        """Three to all strings, together or strummed with up to 25 ms from one to the next."""
        draw, strokes = self._draw, list[Stroke]()
        for _ in range(4):
            count = draw.randint(3, self._neck.strings)
            first = draw.randint(1, self._neck.strings - count + 1)
            position = draw.randint(0, self._neck.last_fret - 3)
            strings = list(range(first, first + count))
            if draw.random() < 0.5:
                strings.reverse()
            apart_s = draw.choice((0.0, draw.uniform(0.0, 0.025)))
            until_s = self._now_s + count * apart_s + draw.uniform(0.3, 0.9)
            for number, string in enumerate(strings):
                fret = 0 if draw.random() < 0.2 else position + draw.randint(0, 3)
                at_s = self._now_s + number * apart_s
                strokes.append(Struck(at_s, Place(string, fret), self._velocity(), until_s))
            self._now_s = until_s + draw.uniform(0.05, 0.2)
        return strokes

    def _repeats(self) -> list[Stroke]:
        return self._in_turn([self._place()] * 10, REPEAT_S, self._velocity())

    def _legato(self) -> list[Stroke]:
        """Hammer-ons and pull-offs within four frets, each stays at least 90 ms."""
        draw, strokes = self._draw, list[Stroke]()
        for _ in range(3):
            string = draw.randint(1, self._neck.strings)
            position = draw.randint(0, self._neck.last_fret - 4)
            frets = [position]
            for _ in range(draw.randint(1, 4)):
                frets.append(draw.choice([f for f in range(position, position + 5) if f != frets[-1]]))
            apart_s = draw.uniform(0.09, 0.3)
            until_s = self._now_s + len(frets) * apart_s
            strokes.append(Struck(self._now_s, Place(string, frets[0]), self._velocity(), until_s))
            for number, fret in enumerate(frets[1:], start=1):
                strokes.append(Moved(self._now_s + number * apart_s, Place(string, fret), until_s))
            self._now_s = until_s + 0.1
        return strokes

    def _slides(self) -> list[Stroke]:
        """Quick slides of one to seven frets from a note that was held to one that is."""
        draw, strokes = self._draw, list[Stroke]()
        for _ in range(3):
            start, goal = self._place(from_fret=1), 0
            while not 1 <= goal <= self._neck.last_fret:
                goal = start.fret + draw.choice((-1, 1)) * draw.randint(1, 7)
            over_s = abs(goal - start.fret) * draw.uniform(*SLIDE_A_FRET_S)
            slides_s = self._now_s + draw.uniform(0.15, 0.4)
            until_s = slides_s + over_s + draw.uniform(0.2, 0.5)
            strokes.append(Struck(self._now_s, start, self._velocity(), until_s))
            strokes.append(Moved(slides_s, Place(start.string, goal), until_s, over_s))
            self._now_s = until_s + draw.uniform(0.03, 0.2)
            if draw.random() < 0.5:  # the same string again, on which the bend still stands
                place = self._place(start.string)
                strokes.append(Struck(self._now_s, place, self._velocity(), self._now_s + 0.25))
                self._now_s += 0.3
        return strokes

    def _vibrato(self) -> list[Stroke]:
        strokes: list[Stroke] = []
        for _ in range(3):
            place, until_s = self._place(from_fret=1), self._now_s + 0.8
            strokes.append(Struck(self._now_s, place, self._velocity(), until_s))
            strokes.append(Shaken(self._now_s + 0.15, place.string, 40.0, 0.6))
            self._now_s = until_s + 0.1
        return strokes

    def _softly(self) -> list[Stroke]:
        """As soft as glitches, from 90 ms up."""
        strokes: list[Stroke] = []
        for _ in range(8):
            apart_s = self._draw.uniform(0.09, 0.4)
            strokes += self._in_turn([self._place()], apart_s, self._draw.randint(6, 25))
        return strokes


@dataclass(slots=True)
class Sent:
    """One set-up played: what was sent, and what was true."""

    set_up: SetUp
    messages: list[TimedMessage]
    converter: Converter


def play(set_up: SetUp, scenario: Scenario, notes: int, seed: int) -> Sent:
    """Play so many notes on a set-up."""
    converter = Converter(set_up.guitar, set_up.of(scenario), seed)
    messages: list[TimedMessage] = []
    last_s = 0.0
    converter.switch_on(0.0)
    for stroke in Material(set_up.guitar.neck, seed).strokes(notes):
        messages += converter.due(stroke.time_s)
        converter.stroke(stroke)
        last_s = stroke.time_s
    messages += converter.due(last_s + 5.0)
    return Sent(set_up, messages, converter)


# Matching.


@dataclass(frozen=True, slots=True)
class Heard:
    """What a decoder took for a note."""

    onset_s: float
    string: int | None
    fret: int | None
    midi: int


@dataclass(slots=True)
class Figures:
    """Counts over any number of set-ups.

    meant: notes that the hand played. matched: of these, heard on their string. right: with their fret.
    elsewhere: not heard on their string, but their pitch at their time on another one. missed: not at all.
    false: heard, and nobody had played it. voided: by kind. made: sent by the converter and not meant.
    """

    meant: int = 0
    matched: int = 0
    right: int = 0
    elsewhere: int = 0
    missed: int = 0
    false: int = 0
    voided: Counter[str] = field(default_factory=Counter)
    made: Counter[str] = field(default_factory=Counter)
    missed_by: Counter[str] = field(default_factory=Counter)
    false_by: Counter[str] = field(default_factory=Counter)

    @property
    def string_percent(self) -> float:
        """Of the notes heard anywhere, on their own string."""
        return _percent(self.matched, self.matched + self.elsewhere)

    @property
    def fret_percent(self) -> float:
        """Of the notes heard on their string, with their fret."""
        return _percent(self.right, self.matched)

    @property
    def false_percent(self) -> float:
        """False notes, of the notes that were meant."""
        return _percent(self.false, self.meant)

    @property
    def missed_percent(self) -> float:
        """Of the notes that were meant."""
        return _percent(self.missed, self.meant)

    def add(self, other: "Figures") -> None:
        """Add the counts of another."""
        for name in ("meant", "matched", "right", "elsewhere", "missed", "false"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("voided", "made", "missed_by", "false_by"):
            getattr(self, name).update(getattr(other, name))


def _percent(part: int, whole: int) -> float:
    return 100 * part / whole if whole else 100.0


def heard_by_decoder(sent: Sent, thresholds: Thresholds | None = None) -> tuple[list[Heard], Counter[str]]:
    """What hearing says in the end, and what it voided. thresholds: as shipped, unless given."""
    guitar = sent.set_up.guitar
    wiring = guitar.wiring if thresholds is None else replace(guitar.wiring, thresholds=thresholds)
    decoded = decode(sent.messages, Decoder(guitar.neck, wiring))
    heard = [Heard(n.note.onset_s, n.note.string, n.note.fret, n.note.midi) for n in decoded.notes]
    return heard, Counter(str(voided.glitch) for voided in decoded.voided)


_TOUCHES = 20  # notes that touching the strings for some seconds makes [ours]
_FIRMLY = 80  # the velocity at which a player plucks on request [ours]


def measured_thresholds(set_up: SetUp, scenario: Scenario, seed: int) -> Thresholds:
    """What `setup` derives on this converter, from firm plucks of the open strings and from touched ones."""
    converter = Converter(set_up.guitar, replace(set_up.of(scenario), soft_share=0.0), seed)
    neck, draw = set_up.guitar.neck, random.Random(seed)
    for number in range(3 * neck.strings):
        place = Place(number % neck.strings + 1, 0)
        converter.due(1.5 * number)
        converter.stroke(Struck(1.5 * number, place, _FIRMLY, 1.5 * number + 1.0))
    converter.due(1.5 * 4 * neck.strings)
    plucks = []
    for played in converter.played:
        beside = [
            m for m in converter.made if m.glitch is Glitch.CROSSTALK and abs(m.sent_s - played.sent_s) < 0.06
        ]
        others = tuple((0, made.velocity, max(0.0, made.sent_s - played.sent_s)) for made in beside)
        plucks.append(PluckHeard(0, played.midi, 0.0, played.velocity, 1.0, others))
    noises = [Noise(scenario.draw_velocity(draw), scenario.noise_lasts.draw_s(draw)) for _ in range(_TOUCHES)]
    return derive_thresholds(noises, plucks, Thresholds())


def heard_plainly(sent: Sent) -> list[Heard]:
    """The plain mapping: channel to string by the guitar's own map, every note-on is a note of its number."""
    guitar = sent.set_up.guitar
    wiring, neck = guitar.wiring, guitar.neck
    heard = []
    for time_s, data in sent.messages:
        if len(data) == 3 and data[0] & 0xF0 == 0x90 and data[2]:
            midi = data[1] + wiring.transpose_semitones
            string = wiring.channels[data[0] & 0x0F]
            fret = None if string is None else midi - neck.open_midi(string)
            heard.append(Heard(time_s, string, fret, midi))
    return heard


def match(sent: Sent, heard: Iterable[Heard], *, by_pitch: bool = False) -> Figures:
    """Match what was heard to what was meant. by_pitch: without strings; the pitch stands for the fret."""
    figures = Figures(made=Counter(str(made.glitch) for made in sent.converter.made))
    voices: dict[int | None, list[Heard]] = {}
    for item in sorted(heard, key=lambda found: found.onset_s):
        voices.setdefault(0 if by_pitch else item.string, []).append(item)
    meant: dict[int, list[Played]] = {}
    for played in sent.converter.played:
        meant.setdefault(0 if by_pitch else played.place.string, []).append(played)
    used: set[int] = set()
    unmatched: list[Played] = []
    for string, played_there in meant.items():
        there = voices.get(string, [])
        onsets = [item.onset_s for item in there]
        later: list[Played] = []
        # By pitch several notes share a voice: those whose pitch was heard are matched first.
        for exact in (True, False) if by_pitch else (None,):
            for played in later if exact is False else sorted(played_there, key=lambda note: note.onset_s):
                found = _candidate(played, there, onsets, used, by_pitch=by_pitch, exact=exact)
                if found is None:
                    (later if exact else unmatched).append(played)
                    continue
                used.add(id(found))
                figures.matched += 1
                figures.right += _is_right(played, found, by_pitch=by_pitch)
    figures.meant = len(sent.converter.played)
    left = [item for items in voices.values() for item in items if id(item) not in used]
    left.sort(key=lambda item: item.onset_s)
    onsets = [item.onset_s for item in left]
    for played in unmatched:
        found = _candidate(played, left, onsets, used, by_pitch=True, exact=True)
        if found is None:
            figures.missed += 1
            figures.missed_by[f"{played.attack}, {'soft' if played.velocity <= 32 else 'loud'}"] += 1
        else:
            used.add(id(found))
            figures.elsewhere += 1
    false = [item for item in left if id(item) not in used]
    figures.false = len(false)
    made = sorted(sent.converter.made, key=lambda note: note.sent_s)
    times = [note.sent_s for note in made]
    for item in false:
        at = bisect_left(times, item.onset_s - 0.0005)
        near = made[at] if at < len(made) and abs(times[at] - item.onset_s) < 0.001 else None
        figures.false_by[str(near.glitch) if near is not None else "of a note that was meant"] += 1
    return figures


def _is_right(played: Played, item: Heard, *, by_pitch: bool) -> bool:
    return item.midi == played.midi if by_pitch else item.fret == played.place.fret


def _candidate(
    played: Played,
    there: Sequence[Heard],
    onsets: Sequence[float],
    used: set[int],
    *,
    by_pitch: bool,
    exact: bool | None,
) -> Heard | None:
    """The heard note that a note matches. exact: only one that is right."""
    early_s = BEFORE_MOVE_S if played.attack is Attack.MOVED else BEFORE_S
    end_s = max(played.sent_s, played.onset_s) + AFTER_TOLD_S
    first = None
    at = bisect_left(onsets, played.onset_s - early_s)
    while at < len(there) and onsets[at] <= end_s:
        item = there[at]
        at += 1
        if id(item) in used:
            continue
        if _is_right(played, item, by_pitch=by_pitch):
            return item
        first = first or item
    return None if exact else first


# Live.


@dataclass(slots=True)
class Live:
    """What a live run sees of one set-up.

    doubts_s: from a doubtful note being told to the end of its doubt. told_late_s: from the onset of a clear
    plucked note to its being told. moved_late_s: the same for moves. stuck: notes that did not end when the
    next one of their string began, or with the recording.
    """

    doubts_s: list[float] = field(default_factory=list)
    told_late_s: list[float] = field(default_factory=list)
    moved_late_s: list[float] = field(default_factory=list)
    stuck: int = 0
    never_settled: int = 0


def listen(sent: Sent) -> Live:
    """Hear as the live loop does: time passes by the millisecond between messages."""
    guitar = sent.set_up.guitar
    decoder, live = Decoder(guitar.neck, guitar.wiring), Live()
    doubtful_since_s: dict[int, float] = {}
    sounding: dict[int, Note] = {}
    now_s = sent.messages[0].time_s if sent.messages else 0.0

    def take(events: Iterable[HeardEvent], at_s: float) -> None:
        for event in events:
            match event:
                case Note():
                    if event.doubtful:
                        doubtful_since_s[event.id] = at_s
                    elif event.attack is Attack.PLUCKED:
                        live.told_late_s.append(at_s - event.onset_s)
                    else:
                        live.moved_late_s.append(at_s - event.onset_s)
                    sounding[event.id] = event
                case NoteSettled(note):
                    live.doubts_s.append(at_s - doubtful_since_s.pop(note.id))
                    if note.id in sounding:
                        sounding[note.id] = note
                case Voided(note):
                    if note.id in doubtful_since_s:
                        live.doubts_s.append(at_s - doubtful_since_s.pop(note.id))
                    sounding.pop(note.id, None)
                case NoteEnded(note_id):
                    sounding.pop(note_id, None)

    stuck: set[int] = set()
    for time_s, data in sent.messages:
        # Nothing can happen before the decoder's due time: whole milliseconds are only walked near messages.
        end_s = min(time_s, now_s + 0.2)
        while now_s < end_s:
            take(decoder.advance(now_s), now_s)
            now_s += 0.001
        now_s = max(now_s, math.floor(time_s * 1000) / 1000)
        take(decoder.feed(time_s, data), time_s)
        clear: dict[int, list[Note]] = {}
        if len(data) == 3 and data[0] & 0xF0 == 0x90 and guitar.wiring.knows_strings:
            for note in sounding.values():
                if not note.doubtful and note.string is not None:
                    clear.setdefault(note.string, []).append(note)
            for notes in clear.values():
                stuck |= {note.id for note in notes[:-1]}
    for _ in range(200):
        take(decoder.advance(now_s), now_s)
        now_s += 0.001
    take(decoder.finish(now_s), now_s)
    live.stuck = len(stuck | set(sounding))
    live.never_settled = len(doubtful_since_s)
    return live
