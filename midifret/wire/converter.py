"""A per-string converter and its faults: what the hand does goes in, what would be sent comes out."""

import heapq
import math
import random
from collections import deque
from dataclasses import dataclass, field, replace

from midifret.gear.guitar import Guitar
from midifret.terms import Attack, Encoding, Glitch, Place, TimedMessage
from midifret.wire.scenarios import CLEAN, Scenario
from midifret.wire.strays import stray_messages
from midifret.wire.strokes import Made, Moved, Played, Shaken, Stroke, Struck

_BEND_CENTRE, _BEND_TOP = 8192, 16383
_LATE_OFF_S = 0.006
_CHANGE_S = 0.0015  # a note-off and the note-on of the next semitone lie so close together [ours]
_HAMMERED_OVER_S = 0.010  # a converter takes so long to follow a finger that falls on the string [ours]
_MPE_RANGE = 48.0  # of member channels (MPE 1.1)
_SENSING_S = 0.3  # active sensing (MIDI 1.0)
_CLOCK_S = 0.5 / 24  # 24 clocks a quarter note (MIDI 1.0) at 120 to the minute
# What a false harmonic lies above the true note, in semitones, and how often which [shares ours].
_HARMONICS = (12, 19, 24)
_HARMONIC_WEIGHTS = (6, 3, 1)
_VIBRATO_HZ = 5.5  # [common practice, no source]


@dataclass(slots=True)
class _Tone:
    """One note-on and its note-off."""

    string: int
    key: int
    velocity: int
    channel: int = -1  # until its note-on is sent
    off_planned: bool = False


@dataclass(slots=True)
class _On:
    tone: _Tone
    bend: float  # semitones, to be told before
    home_after_s: float = 0.0  # or so long after, where another bend stands
    played: int = -1
    made: Made | None = None


@dataclass(slots=True)
class _Off:
    tone: _Tone
    times: int = 1
    zero_velocity: bool = False


@dataclass(slots=True)
class _Bend:
    tone: _Tone
    semitones: float
    played: int = -1


@dataclass(slots=True)
class _Raw:
    data: bytes


_Event = _On | _Off | _Bend | _Raw


@dataclass(slots=True)
class _String:
    """What one string does just now, and what is planned for it."""

    place: Place | None = None
    midi: int = 0
    velocity: int = 0
    until_s: float = 0.0
    told_s: float = -1.0  # when its last pluck was or will be told
    settled_s: float = 0.0  # when it has its pitch
    lag_s: float = 0.0  # from the hand to the message
    end_s: float = -math.inf
    quiet_s: float = -math.inf  # when nothing more is planned
    tone: _Tone | None = None
    tones: list[_Tone] = field(default_factory=list)


class Converter:
    """Turns what a hand does into messages, with the faults of a scenario, and keeps the truth beside them.

    Strokes are put in as they happen, in the order of time; messages are handed out when they fall due. The
    same strokes and seed give the same messages, whenever one asks.
    played: every note that was meant. made: every note sent that was not.
    """

    def __init__(self, guitar: Guitar, scenario: Scenario = CLEAN, seed: int = 0) -> None:
        """Switch on a converter on a guitar."""
        self.played: list[Played] = []
        self.made: list[Made] = []
        self.scenario = scenario
        wiring, neck = guitar.wiring, guitar.neck
        self._neck = neck
        self._wiring = wiring
        self._draw = random.Random(seed)
        self._strings = {string: _String() for string in range(1, neck.strings + 1)}
        self._phases = {string: self._draw.uniform(0.0, 4.0) for string in self._strings}
        self._events: list[tuple[float, int, int, _Event]] = []  # time, count, string (0: none), what
        self._counted = 0
        self._out: deque[TimedMessage] = deque()
        self._wire_free_s = 0.0
        self._resolved_s = float("-inf")
        self._bent: dict[int, int] = {}
        self._owner: dict[int, _Tone] = {}  # one channel for all: which string a key was sent for
        self._member = 0  # the channel that MPE used last
        self._started = False
        self._sensing_s = self._clock_s = float("inf")
        if wiring.encoding is Encoding.MPE:
            self._range = _MPE_RANGE
        else:
            self._range = scenario.bend_range_semitones or wiring.bend_range_semitones
        self._can_bend = scenario.bends and wiring.encoding is not Encoding.ONE_CHANNEL
        self._tells_cents = scenario.tells_cents and wiring.encoding is not Encoding.ONE_CHANNEL

    def switch_on(self, time_s: float) -> None:
        """Let the converter say what it has to say at its start; the first stroke does so if nobody has."""
        if not self._started:
            self._start(time_s)

    def stroke(self, stroke: Stroke) -> None:
        """Let the hand do something. Raises ValueError where it is not possible, or lies in the past."""
        if stroke.time_s < self._resolved_s:
            raise ValueError(f"{stroke.time_s} s is past: everything up to {self._resolved_s} s was sent")
        self._resolve_until(stroke.time_s)
        self.switch_on(stroke.time_s)
        match stroke:
            case Struck():
                if not self._neck.has(stroke.place):
                    raise ValueError(f"the guitar has no place {stroke.place}")
                self._strike(stroke)
            case Moved():
                if not self._neck.has(stroke.place):
                    raise ValueError(f"the guitar has no place {stroke.place}")
                self._move(stroke, self._held(stroke.place.string, stroke.time_s))
            case Shaken():
                self._shake(stroke, self._held(stroke.string, stroke.time_s))

    def due(self, now_s: float) -> list[TimedMessage]:
        """Return, once, the messages of everything up to now, in the order of time."""
        self._resolve_until(now_s)
        messages = []
        while self._out and self._out[0].time_s <= now_s:
            messages.append(self._out.popleft())
        return messages

    def next_s(self) -> float | None:
        """When the next thing is due; None if nothing is to come."""
        times = [self._events[0][0]] if self._events else []
        times += [self._out[0].time_s] if self._out else []
        times += [min(self._sensing_s, self._clock_s)] if self.scenario.realtime and self._started else []
        return min(times, default=None)

    def sounding(self, string: int, time_s: float) -> tuple[Place, float] | None:
        """The place that sounds on a string then, and until when the finger stays; None if none does."""
        state = self._strings.get(string)
        if state is None or state.place is None or state.until_s <= time_s:
            return None
        return state.place, state.until_s

    def bend_of(self, place: Place) -> int:
        """How many semitones a move to a place bends what sounds on its string. Raises ValueError."""
        tone = self._strings[place.string].tone
        if tone is None:
            raise ValueError(f"nothing sounds on string {place.string}")
        return self._key(place) - tone.key

    @property
    def now_s(self) -> float:
        """Up to when everything has been decided; no stroke can be put in before."""
        return self._resolved_s

    @property
    def bend_range_semitones(self) -> float:
        """How far the converter bends."""
        return self._range

    # What the hand does.

    def _held(self, string: int, time_s: float) -> _String:
        state = self._strings.get(string)
        if state is None or state.tone is None or state.until_s <= time_s:
            raise ValueError(f"nothing sounds on string {string}")
        return state

    def _strike(self, stroke: Struck) -> None:
        scenario, draw = self.scenario, self._draw
        string, place = stroke.place.string, stroke.place
        state = self._strings[string]
        midi, key = self._neck.midi(place), self._key(place)
        bend = self._off_semitones(string, stroke.time_s)
        soft = self._happens(scenario.soft_share)
        velocity = scenario.draw_velocity(draw) if soft else self._told_velocity(stroke.velocity)
        least_s = state.told_s + scenario.least_note_s
        first_s = on_s = max(stroke.time_s + scenario.latency_s(midi, draw), least_s)
        above = 0
        if self._happens(scenario.harmonic_share) and key <= 127 - _HARMONICS[-1]:
            # Its period is shorter, so that it is heard sooner than the true note would be.
            above = draw.choices(_HARMONICS, _HARMONIC_WEIGHTS)[0]
            first_s = min(on_s, max(stroke.time_s + scenario.latency_s(midi + above, draw), least_s))
        self._end(state, string, first_s, max(stroke.time_s, state.told_s))
        if above:
            lasts_s = scenario.harmonic_lasts.draw_s(draw)
            on_s = max(on_s, first_s + lasts_s)
            self._false_harmonic(state, string, midi + above, bend, first_s, min(on_s, first_s + lasts_s))
        late_s, told_key = 0.0, key
        if place.fret > 0 and self._happens(scenario.late_bend_share) and self._reaches(1 + abs(bend)):
            late_s = max(scenario.late_bend_after.draw_s(draw), 0.0)
            told_key = key + (1 if scenario.tells_cents and draw.random() < 0.2 else -1)
        tone = self._tone(state, string, told_key, velocity)
        home_after_s = 0.0
        if not late_s and self._happens(scenario.standing_bend_share):  # one bend corrects the other
            home_after_s = scenario.standing_bend_lasts.draw_s(draw)
        self.played.append(Played(stroke.time_s, place, midi, Attack.PLUCKED, velocity, on_s, soft))
        self._at(on_s, string, _On(tone, bend, home_after_s, played=len(self.played) - 1))
        if late_s:
            self._ramp(tone, on_s, late_s, bend, key - told_key + bend)
        state.place, state.midi, state.velocity = place, midi, velocity
        state.until_s, state.told_s, state.tone = stroke.until_s, on_s, tone
        state.lag_s, state.settled_s = on_s - stroke.time_s, on_s + late_s
        state.end_s = on_s + max(stroke.until_s - stroke.time_s, 2 * late_s, scenario.least_note_s)
        if not late_s and self._happens(scenario.double_share):
            self._double_trigger(state, string, bend)
        self._let_go(state, string)
        if self._happens(scenario.crosstalk_share):
            self._crosstalk(string, midi, velocity, first_s, stroke.time_s)
        if self._happens(scenario.noise_share):
            self._noise(stroke.time_s + draw.uniform(0.0, 0.3))
        if self._happens(scenario.stray_share):
            start_s = stroke.time_s + draw.uniform(0.0, 0.1)
            for after_s, data in stray_messages(draw, self._wiring, self._range, scenario.garbage_share):
                self._at(start_s + after_s, 0, _Raw(data))

    def _move(self, stroke: Moved, state: _String) -> None:
        scenario, draw = self.scenario, self._draw
        place = stroke.place
        string, midi = place.string, self._neck.midi(place)
        lag_s = max(scenario.latency_s(midi, draw), state.settled_s + scenario.least_note_s - stroke.time_s)
        start_s, over_s = stroke.time_s + lag_s, stroke.over_s
        bend = self._off_semitones(string, stroke.time_s)
        semitones = midi - state.midi
        self._forget_after(string, start_s)
        steps = max(1, abs(semitones)) if over_s else 1
        if not over_s and self._can_bend and scenario.latency_fixed_s:
            over_s = draw.uniform(0.0, _HAMMERED_OVER_S)
        self.played.append(
            Played(stroke.time_s + stroke.over_s, place, midi, Attack.MOVED, state.velocity, start_s + over_s)
        )
        index, tone = len(self.played) - 1, state.tone
        assert tone is not None
        velocity = state.velocity
        if self._can_bend and self._reaches(self._key(place) - tone.key + bend):
            from_semitones = state.midi - self._wiring.transpose_semitones - tone.key + bend
            self._ramp(
                tone, start_s, over_s, from_semitones, self._key(place) - tone.key + bend, played=index
            )
        else:
            tone, velocity = self._move_by_notes(
                state, string, semitones, start_s, over_s, steps, bend, index
            )
        state.place, state.midi, state.until_s, state.tone = place, midi, stroke.until_s, tone
        state.velocity = velocity
        state.lag_s, state.settled_s = lag_s, start_s + over_s
        state.end_s = max(stroke.until_s + lag_s, state.settled_s + scenario.least_note_s)
        self._let_go(state, string)

    def _move_by_notes(
        self,
        state: _String,
        string: int,
        semitones: int,
        start_s: float,
        over_s: float,
        steps: int,
        bend: float,
        index: int,
    ) -> tuple[_Tone, int]:
        """A new note-on for each semitone of a slide, bent between them where the bend range allows."""
        tone, draw = state.tone, self._draw
        assert tone is not None
        velocity = state.velocity
        at_s, from_midi = start_s, state.midi
        home = self._wiring.transpose_semitones
        for step in range(1, steps + 1):
            midi = state.midi + round(semitones * step / steps)
            step_s = start_s + over_s * step / steps
            if step < steps and self._can_bend and self._reaches(midi - home - tone.key + bend):
                self._ramp(
                    tone,
                    at_s,
                    step_s - at_s,
                    from_midi - home - tone.key + bend,
                    midi - home - tone.key + bend,
                )
                at_s, from_midi = step_s, midi
                continue
            off_s = step_s - draw.uniform(0.0, _CHANGE_S) if self.scenario.latency_fixed_s else step_s
            if self._happens(self.scenario.late_off_share):
                off_s = step_s + draw.uniform(0.0, 2 * _CHANGE_S)
            self._at(max(off_s, at_s), string, self._off(tone))
            velocity = max(1, round(velocity * draw.uniform(0.6, 0.95)))  # the string loses strength [ours]
            tone = self._tone(state, string, midi - home, velocity)
            lasted_s = over_s / steps
            made = None
            if step < steps:
                made = Made(step_s, string, midi, velocity, Glitch.PASSED, lasted_s)
            self._at(step_s, string, _On(tone, bend, played=index if step == steps else -1, made=made))
            at_s, from_midi = step_s, midi
        return tone, velocity

    def _shake(self, stroke: Shaken, state: _String) -> None:
        tone = state.tone
        assert tone is not None
        if not self._can_bend:
            return
        start_s = max(stroke.time_s + state.lag_s, state.settled_s)
        end_s = min(start_s + stroke.over_s, state.end_s)
        off = self._off_semitones(stroke.string, stroke.time_s)
        home = state.midi - self._wiring.transpose_semitones - tone.key + off
        room_cents = max(0.0, self.scenario.off_cents - abs(100 * off))
        depth = min(stroke.cents, room_cents) / 100
        draw, step_s = self._draw, self.scenario.bend_step_s
        phase = draw.uniform(0.0, 1.0)
        steps = int((end_s - start_s) / step_s)
        for step in range(1, steps):
            if self._happens(self.scenario.thinned_share):
                continue
            turn = (phase + _VIBRATO_HZ * step * step_s) % 1.0
            height = 4 * abs(turn - 0.5) - 1  # a triangle: up and down evenly
            self._at(start_s + step * step_s, stroke.string, _Bend(tone, home + depth * height))
        if steps > 0:
            self._at(start_s + steps * step_s, stroke.string, _Bend(tone, home))

    # What the converter makes up.

    def _false_harmonic(
        self, state: _String, string: int, midi: int, bend: float, first_s: float, true_s: float
    ) -> None:
        """Plan a false high note that ends about when the true one begins."""
        draw, scenario = self._draw, self.scenario
        velocity = scenario.draw_velocity(draw)
        overlaps = self._happens(scenario.harmonic_overlap_share)
        off_s = true_s + (draw.uniform(0.0005, _LATE_OFF_S) if overlaps else -draw.uniform(0.0, 0.002))
        made = Made(first_s, string, midi, velocity, Glitch.FALSE_HARMONIC, off_s - first_s)
        self._glitch(state, string, made, bend, off_s)

    def _double_trigger(self, state: _String, string: int, bend: float) -> None:
        draw, tone = self._draw, state.tone
        assert tone is not None
        again_s = state.told_s + self.scenario.double_after.draw_s(draw)
        if again_s >= state.end_s:
            return
        self._at(max(state.told_s, again_s - draw.uniform(0.0, 0.004)), string, self._off(tone))
        velocity = max(1, round(state.velocity * draw.uniform(0.3, 0.9)))
        second = self._tone(state, string, tone.key, velocity)
        lasts_s = state.end_s - again_s
        made = Made(again_s, string, state.midi, velocity, Glitch.DOUBLE_TRIGGER, lasts_s)
        self._at(again_s, string, _On(second, bend, made=made))
        state.tone = second

    def _let_go(self, state: _String, string: int) -> None:
        """Plan the end of what sounds, and the open string where a finger leaves it."""
        tone, draw, scenario = state.tone, self._draw, self.scenario
        assert tone is not None
        assert state.place is not None
        self._at(state.end_s, string, self._off(tone))
        state.quiet_s = state.end_s
        if state.place.fret > 0 and self._happens(scenario.lift_off_share):
            on_s = state.end_s + scenario.lift_off_after.draw_s(draw)
            off_s = on_s + scenario.lift_off_lasts.draw_s(draw)
            velocity = scenario.draw_velocity(draw)
            midi = self._neck.open_midi(string)
            made = Made(on_s, string, midi, velocity, Glitch.LIFT_OFF, off_s - on_s)
            self._glitch(state, string, made, self._off_semitones(string, on_s), off_s)

    def _crosstalk(self, string: int, midi: int, velocity: int, told_s: float, now_s: float) -> None:
        """A silent neighbour speaks; one that sounds hides it [ours]."""
        draw, scenario = self._draw, self.scenario
        on_s = max(now_s, told_s + scenario.crosstalk_after.draw_s(draw))
        silent = [s for s in (string - 1, string + 1) if s in self._strings and self._is_silent(s, on_s)]
        if not silent:
            return
        other = draw.choice(silent)
        open_midi = self._neck.open_midi(other)
        sounds = [open_midi, midi + 12]
        weights = [3, 2]
        if 0 <= midi - open_midi <= self._neck.last_fret:
            sounds.append(midi)
            weights.append(5)
        sound = draw.choices(sounds, weights)[0]
        spread = scenario.crosstalk_velocity_spread * draw.gauss(0.0, 1.0)
        share = min(1.0, scenario.crosstalk_velocity_share * math.exp(spread))
        loud = max(1, round(velocity * share))
        off_s = on_s + scenario.crosstalk_lasts.draw_s(draw)
        made = Made(on_s, other, sound, loud, Glitch.CROSSTALK, off_s - on_s)
        self._glitch(self._strings[other], other, made, self._off_semitones(other, on_s), off_s)

    def _noise(self, on_s: float) -> None:
        draw, scenario = self._draw, self.scenario
        string = draw.choice(list(self._strings))
        fret = draw.randint(0, self._neck.last_fret)
        velocity = scenario.draw_velocity(draw)
        off_s = on_s + scenario.noise_lasts.draw_s(draw)
        if self._is_silent(string, on_s):
            midi = self._neck.midi(Place(string, fret))
            made = Made(on_s, string, midi, velocity, Glitch.TOO_SHORT, off_s - on_s)
            self._glitch(self._strings[string], string, made, self._off_semitones(string, on_s), off_s)

    def _glitch(self, state: _String, string: int, made: Made, bend: float, off_s: float) -> None:
        key = made.midi - self._wiring.transpose_semitones
        if not 0 <= key <= 127:
            return
        tone = self._tone(state, string, key, made.velocity)
        self._at(made.sent_s, string, _On(tone, bend, made=made))
        self._at(off_s, string, self._off(tone))
        state.quiet_s = max(state.quiet_s, off_s)

    # Planning.

    def _happens(self, share: float) -> bool:
        return share > 0 and self._draw.random() < share

    def _told_velocity(self, velocity: int) -> int:
        if not self.scenario.velocity_deviation:
            return velocity
        return min(127, max(1, round(self._draw.gauss(velocity, self.scenario.velocity_deviation))))

    def _key(self, place: Place) -> int:
        return self._neck.midi(place) - self._wiring.transpose_semitones

    def _is_silent(self, string: int, time_s: float) -> bool:
        state = self._strings[string]
        return state.quiet_s < time_s and state.end_s < time_s

    def _reaches(self, semitones: float) -> bool:
        return self._can_bend and abs(semitones) <= self._range

    def _off_semitones(self, string: int, time_s: float) -> float:
        """How far a string is off its pitch, as the converter tells it: wandering up and down evenly."""
        if not self._tells_cents:
            return 0.0
        scenario, cents = self.scenario, 0.0
        if scenario.drift_cents_per_minute:
            quarter_s = 60 * scenario.drift_cents / scenario.drift_cents_per_minute
            turn = (self._phases[string] + time_s / quarter_s) % 4.0
            cents = scenario.drift_cents * (abs(turn - 2.0) - 1.0)
        if self._wiring.cents:
            cents += self._wiring.cents[string - 1]
        return cents / 100

    def _tone(self, state: _String, string: int, key: int, velocity: int) -> _Tone:
        tone = _Tone(string, key, velocity)
        state.tones.append(tone)
        return tone

    def _off(self, tone: _Tone) -> _Off:
        tone.off_planned = True
        times = 1
        if self._happens(self.scenario.lost_off_share):
            times = 0
        elif self._happens(self.scenario.second_off_share):
            times = 2
        return _Off(tone, times, self._happens(self.scenario.zero_velocity_off_share))

    def _ramp(
        self,
        tone: _Tone,
        start_s: float,
        over_s: float,
        from_semitones: float,
        to_semitones: float,
        *,
        played: int = -1,
    ) -> None:
        """Bend evenly from one offset to another; what is thinned out leaves the last one standing."""
        steps = max(1, round(over_s / self.scenario.bend_step_s))
        for step in range(1, steps + 1):
            if step < steps and self._happens(self.scenario.thinned_share):
                continue
            semitones = from_semitones + (to_semitones - from_semitones) * step / steps
            last = played if step == steps else -1
            self._at(start_s + over_s * step / steps, tone.string, _Bend(tone, semitones, last))

    def _end(self, state: _String, string: int, first_s: float, least_s: float) -> None:
        """End whatever sounds or is planned on a string just before its next note."""
        scenario, draw = self.scenario, self._draw
        cut_s = max(least_s, first_s - draw.uniform(0.0, scenario.damping_s) if scenario.damping_s else 0.0)
        self._forget_after(string, cut_s)
        off_s = cut_s
        late = self._happens(scenario.late_off_share)
        if late:
            off_s = first_s + draw.uniform(0.0005, _LATE_OFF_S)
        sounding = [tone for tone in state.tones if not tone.off_planned]
        for tone in sounding:
            self._at(off_s, string, self._off(tone))
        state.tones = sounding if late else []

    def _forget_after(self, string: int, time_s: float) -> None:
        """Drop what was planned for a string later than that; what sounds then is to go on."""
        kept: list[tuple[float, int, int, _Event]] = []
        dropped: list[tuple[float, int, int, _Event]] = []
        for entry in self._events:
            later = entry[2] == string and entry[0] > time_s
            (dropped if later else kept).append(entry)
        if not dropped:
            return
        self._events = kept
        heapq.heapify(kept)
        state = self._strings[string]
        for _, _, _, event in dropped:
            if isinstance(event, _On):
                state.tones = [tone for tone in state.tones if tone is not event.tone]
            elif isinstance(event, _Off):
                event.tone.off_planned = False
        if state.tones and all(tone is not state.tone for tone in state.tones):
            state.tone = state.tones[-1]

    def _at(self, time_s: float, string: int, event: _Event) -> None:
        self._counted += 1
        heapq.heappush(self._events, (time_s, self._counted, string, event))

    # Sending.

    def _start(self, time_s: float) -> None:
        """What a converter says when it is switched on."""
        self._started = True
        if self.scenario.realtime:
            self._sensing_s = self._clock_s = time_s
        wiring = self._wiring
        if wiring.encoding is Encoding.MPE:  # RPN 6: a lower zone of 15 members (MPE 1.1)
            for number, value in ((101, 0), (100, 6), (6, 15)):
                self._at(time_s, 0, _Raw(bytes((0xB0, number, value))))
        elif self.scenario.tells_bend_range and wiring.encoding is Encoding.PER_STRING:
            channels = [i for i, string in enumerate(wiring.channels) if string is not None]
            if wiring.controller_channel is not None:
                channels = [wiring.controller_channel]
            semitones, cents = divmod(round(self._range * 100), 100)
            for channel in channels:  # RPN 0, then null (MIDI 1.0)
                for number, value in (
                    (101, 0),
                    (100, 0),
                    (6, semitones),
                    (38, cents),
                    (101, 127),
                    (100, 127),
                ):
                    self._at(time_s, 0, _Raw(bytes((0xB0 | channel, number, value))))

    def _resolve_until(self, now_s: float) -> None:
        while self._sensing_s <= now_s:
            self._at(self._sensing_s, 0, _Raw(b"\xfe"))
            self._sensing_s += _SENSING_S
        while self._clock_s <= now_s:
            self._at(self._clock_s, 0, _Raw(b"\xf8"))
            self._clock_s += _CLOCK_S
        while self._events and self._events[0][0] <= now_s:
            time_s, _, _, event = heapq.heappop(self._events)
            match event:
                case _On():
                    self._send_on(time_s, event)
                case _Off():
                    self._send_off(time_s, event)
                case _Bend() if event.tone.channel >= 0:
                    sent_s = self._send_bend(time_s, event.tone.channel, event.semitones)
                    if event.played >= 0:
                        self.played[event.played] = replace(self.played[event.played], sent_s=sent_s)
                case _Raw(data):
                    if len(data) == 3 and data[0] & 0xF0 == 0xB0 and data[1] == 121:
                        self._bent[data[0] & 0x0F] = _BEND_CENTRE
                    self._send(time_s, data)
        self._resolved_s = max(self._resolved_s, now_s)

    def _send(self, time_s: float, data: bytes) -> float:
        self._wire_free_s = max(time_s, self._wire_free_s) + len(data) * self.scenario.byte_s
        self._out.append(TimedMessage(self._wire_free_s, data))
        return self._wire_free_s

    def _send_on(self, time_s: float, event: _On) -> None:
        tone = event.tone
        match self._wiring.encoding:
            case Encoding.PER_STRING:
                tone.channel = self._wiring.channel_of(tone.string)
            case Encoding.MPE:
                self._member = self._member % 15 + 1
                tone.channel = self._member
            case Encoding.ONE_CHANNEL:
                tone.channel = 0
                if self._owner.get(tone.key) is not None:
                    self._send(time_s, bytes((0x80, tone.key, 0)))
                self._owner[tone.key] = tone
        stands = self._bent.get(tone.channel, _BEND_CENTRE) != self._raw(event.bend)
        if stands and event.home_after_s and self._wiring.encoding is Encoding.PER_STRING:
            self._at(time_s + event.home_after_s, tone.string, _Bend(tone, event.bend))
        elif stands:
            self._send_bend(time_s, tone.channel, event.bend)
        sent_s = self._send(time_s, bytes((0x90 | tone.channel, tone.key, tone.velocity)))
        if event.made is not None:
            self.made.append(replace(event.made, sent_s=sent_s))
        if event.played >= 0:
            self.played[event.played] = replace(
                self.played[event.played], sent_s=sent_s, velocity=tone.velocity
            )

    def _send_off(self, time_s: float, event: _Off) -> None:
        tone = event.tone
        if tone.channel < 0:
            return
        if self._wiring.encoding is Encoding.ONE_CHANNEL:
            if self._owner.get(tone.key) is not tone:
                return
            del self._owner[tone.key]
        status = 0x90 if event.zero_velocity else 0x80
        for _ in range(event.times):
            self._send(time_s, bytes((status | tone.channel, tone.key, 0)))

    def _send_bend(self, time_s: float, channel: int, semitones: float) -> float:
        raw = self._raw(semitones)
        if raw == self._bent.get(channel, _BEND_CENTRE):
            return max(time_s, self._wire_free_s)
        self._bent[channel] = raw
        return self._send(time_s, bytes((0xE0 | channel, raw & 0x7F, raw >> 7)))

    def _raw(self, semitones: float) -> int:
        return min(max(round(_BEND_CENTRE * (1 + semitones / self._range)), 0), _BEND_TOP)
