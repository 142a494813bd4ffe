"""One monophonic line, a string as a rule: plucks, moves, and which of its notes the converter made up."""

import math
from collections.abc import Iterable, Sequence

from midifret.hear.channel import Channel
from midifret.hear.notes import NoteMaker
from midifret.hear.rules import (
    AT_ONCE_S,
    HARDLY_LOUD_VELOCITY,
    HARMONICS_SEMITONES,
    LATE_OFF_S,
    LEAVES_SEMITONES,
    LIFT_OFF_REASON,
    LOUDER_SHARE,
    ONE_CHANGE_S,
    PASSED_REASON,
    RETOLD_S,
    SETTLE_AT_ONCE_S,
    SETTLE_S,
    SLIDE_STEP_SEMITONES,
    SOFTER_SHARE,
    SURELY_SHARE,
    SUSPECTED_SHORT_S,
    TOLERANCE_SEMITONES,
    UNPLUCKED_SHARE,
    Doubt,
    again_reason,
    doubt_of_move,
    is_crosstalk,
    leads_to,
)
from midifret.terms import (
    Attack,
    Glitch,
    HeardEvent,
    Note,
    NoteEnded,
    NoteRevised,
    NoteSettled,
    Thresholds,
    Voided,
)

_NOTHING: tuple[HeardEvent, ...] = ()
_NEVER_S = -math.inf


class Line:
    """One string, or one member channel of MPE (string None).

    channel: where it is heard. neighbours: the lines of the strings beside it.
    due_s: when `advance` has something to say; infinite if nothing is open.
    """

    __slots__ = (
        "_arrived_s",
        "_candidate",
        "_doubt",
        "_gone",
        "_key",
        "_last",
        "_last_end_s",
        "_last_struck_s",
        "_left_s",
        "_maker",
        "_midi",
        "_move",
        "_note",
        "_off_midi",
        "_off_s",
        "_open_midi",
        "_passed_s",
        "_passing",
        "_retriggered_s",
        "_step",
        "_stepped_from",
        "_still_since_s",
        "_struck_s",
        "_suspicion",
        "_target",
        "_there_since_s",
        "_thresholds",
        "begun_s",
        "channel",
        "due_s",
        "neighbours",
        "string",
        "struck",
    )

    def __init__(
        self, channel: Channel, string: int | None, open_midi: int, maker: NoteMaker, thresholds: Thresholds
    ) -> None:
        """Start silent. open_midi: of the string; of no meaning without one."""
        self.channel = channel
        self.string = string
        self.neighbours: tuple[Line, ...] = ()
        self.struck: Note | None = None  # the last note that was surely struck here
        self.begun_s = _NEVER_S  # when the last note, sure or not, began by itself
        self.due_s = math.inf
        self._open_midi = open_midi
        self._maker = maker
        self._thresholds = thresholds
        self._note: Note | None = None  # what sounds
        self._key = 0  # the note number that the converter last gave for it
        self._midi = 0  # the pitch of `_note`, rounded
        self._doubt: Doubt | None = None  # about `_note`, or about `_gone`
        self._suspicion: Glitch | None = None  # what `_note` was if it ends too soon
        self._gone: tuple[Note, float] | None = None  # a doubtful note that has ended, and when
        self._last: Note | None = None  # what sounded before, voided notes left out
        self._last_end_s = _NEVER_S
        self._last_struck_s = _NEVER_S
        self._off_midi = 0  # what sounded last, voided or not
        self._off_s = _NEVER_S  # and until when
        self._there_since_s = _NEVER_S  # since when the pitch of the last note was what it ended with
        self._struck_s = _NEVER_S  # when the string was struck: earlier than told, after a false harmonic
        self._passing: Note | None = None  # a note of `_move` that was voided when the string fell silent
        self._step = 0  # whether the note began as the next of a slide told by note-ons: up 1, down -1
        self._stepped_from: Note | None = None  # the one before it
        self._passed_s = _NEVER_S  # when a note of a slide was last voided
        self._left_s = -1.0  # since when its pitch has been away from `_midi`; negative while it is not
        self._candidate: int | None = None  # the pitch that it may be moving to
        self._arrived_s = 0.0  # since when it has been there
        self._still_since_s = 0.0  # since when it goes no further
        self._target = 0.0  # the pitch, last looked at while it moved
        self._move: Note | None = None  # the candidate, where a note-on told it
        self._retriggered_s = _NEVER_S

    # What the decoder asks.

    @property
    def cents(self) -> float | None:
        """How far the sounding pitch is from its fret just now; None if nothing sounds."""
        if self._note is None:
            return None
        return (self._key + self.channel.offset - self._midi) * 100

    def take_over(
        self, time_s: float, key: int, velocity: int, others: Iterable["Line"]
    ) -> list[HeardEvent] | None:
        """Take a note-on that only tells again what another member channel of MPE has just taken back.

        The note sounds on here. None if it is a note by itself.
        """
        midi = math.floor(key + self.channel.offset + 0.5)
        for other in others:
            before = other._last
            if before is None or before.midi != midi or velocity > before.velocity:
                continue
            again = other._is_too_soon(before, time_s, velocity)
            if again and time_s - other._last_end_s <= RETOLD_S and self._note is None:
                events = self._void_gone(time_s)
                events += self._strike_again(before, time_s, key, velocity, midi)
                self._struck_s, other._last = other._last_struck_s, None
                self._set_bounds()
                return events
        return None

    def strike(self, time_s: float, key: int, velocity: int) -> Sequence[HeardEvent]:
        """Take a note-on."""
        midi = math.floor(key + self.channel.offset + 0.5)
        if self._note is not None:
            events = self._strike_sounding(self._note, time_s, key, velocity, midi)
        else:
            events = self._strike_silent(time_s, key, velocity, midi)
            if self._doubt is None and not self.channel.speaks_for_others:  # most plucks by far
                home = midi - key
                self.channel.least, self.channel.most = home - LEAVES_SEMITONES, home + LEAVES_SEMITONES
                self.due_s = math.inf
                return events
        self._set_bounds()
        return events

    def release(self, time_s: float, key: int) -> Sequence[HeardEvent]:
        """Take a note-off."""
        note = self._note
        if note is None or key != self._key:
            return _NOTHING  # of a note that another one has replaced already
        if time_s - self._retriggered_s <= LATE_OFF_S:
            self._retriggered_s = _NEVER_S  # of the note before, sent after the note-on of the same pitch
            return _NOTHING
        nothing_open = self._doubt is None and self._suspicion is None and self._left_s < 0
        if nothing_open and not self._thresholds.least_s:
            return self._end_plainly(note, time_s)
        events = self._end(time_s)
        self._set_bounds()
        return events

    def _end_plainly(self, note: Note, time_s: float) -> list[HeardEvent]:
        """What `_end` comes to where nothing is open: most notes by far."""
        self._note, self._last = None, note
        self._off_midi = math.floor(self._key + self.channel.offset + 0.5)
        self._off_s = self._last_end_s = time_s
        self._last_struck_s = self._struck_s
        self._retriggered_s = _NEVER_S
        channel = self.channel
        if not channel.speaks_for_others:
            channel.least, channel.most = -math.inf, math.inf
        return [NoteEnded(note.id, time_s)]

    def pitch_changed(self, time_s: float) -> Sequence[HeardEvent]:
        """Look at the channel's offset, which has changed."""
        if self._note is None:
            return _NOTHING
        events = self._follow_pitch(time_s)
        self._set_bounds()
        return events

    def silence(self, time_s: float) -> Sequence[HeardEvent]:
        """End whatever sounds."""
        if self._note is None:
            return _NOTHING
        events = self._end(time_s, cut_off=True)
        self._set_bounds()
        return events

    def advance(self, time_s: float) -> list[HeardEvent]:
        """Say what has become certain by now."""
        events: list[HeardEvent] = []
        while self.due_s <= time_s:
            if self._doubt is not None and self._doubt.deadline_s <= self._settles_s():
                events += self._end_doubt(self._doubt)
            else:
                events += self._arrive()
            self._set_bounds()
        return events

    # Striking.

    def _strike_silent(self, time_s: float, key: int, velocity: int, midi: int) -> list[HeardEvent]:
        before = self._gone[0] if self._gone is not None else self._last
        again = before is not None and before.midi == midi and self._is_too_soon(before, time_s, velocity)
        if before is not None and again and self._goes_on(time_s, velocity):
            return self._strike_again(before, time_s, key, velocity, midi)
        events: list[HeardEvent] = []
        if before is not None and self._is_harmonic(before, time_s, midi):
            events.append(self._void_harmonic(before, midi))
            if self._gone is None:
                self._last = None
            self._gone = self._doubt = None
            events += self._begin(time_s, key, velocity, midi)
            self._struck_s = before.onset_s
            return events
        if self._gone is not None:
            events += self._void_gone(time_s)
        elif before is not None and self._is_passed(before, time_s, midi):
            events.append(Voided(before, Glitch.PASSED, PASSED_REASON))
            self._last, self._passed_s = self._stepped_from, time_s
            self._last_struck_s = _NEVER_S
        return [*events, *self._begin(time_s, key, velocity, midi)]

    def _is_too_soon(self, before: Note, time_s: float, velocity: int) -> bool:
        """Whether nobody strikes a fret again so soon: hardly later, or a little later and softer.

        A note much louder than the one before was plucked, whatever came before: that one may have been a
        hammer-on, or the first of a pluck that was told twice.
        """
        repeat_s = self._thresholds.repeat_s
        struck_s = self._last_struck_s if before is self._last else self._struck_s
        if time_s - before.onset_s > AT_ONCE_S and velocity > LOUDER_SHARE * before.velocity:
            return False
        if time_s - struck_s < SURELY_SHARE * repeat_s:
            return True
        return time_s - before.onset_s < repeat_s and velocity <= SOFTER_SHARE * before.velocity

    def _goes_on(self, time_s: float, velocity: int) -> bool:
        """Whether a doubtful note that has ended is told again, or another one begins."""
        if self._gone is None:
            return True
        note, end_s = self._gone
        return time_s - end_s <= RETOLD_S and velocity < 2 * note.velocity

    def _strike_again(
        self, before: Note, time_s: float, key: int, velocity: int, midi: int
    ) -> list[HeardEvent]:
        """The same pitch again, sooner than anybody plays it: the same pluck, which sounds on."""
        again = self._make(self._maker.next_id(), time_s, velocity, key, midi, Attack.PLUCKED)
        sounding = self._note is not None  # each of the two note-ons may have a note-off of its own
        self._key, self._midi, self._note = key, midi, before
        if self._gone is not None and not before.doubtful:
            self._doubt = None
        self._gone = None
        self._stay()
        if self._last is before:
            self._last, self._struck_s = None, self._last_struck_s
        self._retriggered_s = time_s if sounding else _NEVER_S
        reason = again_reason(before, time_s)
        return [Voided(again, Glitch.DOUBLE_TRIGGER, reason, continues=before.id)]

    def _strike_sounding(
        self, note: Note, time_s: float, key: int, velocity: int, midi: int
    ) -> list[HeardEvent]:
        """A note-on before the note-off of what sounds."""
        age_s = time_s - note.onset_s
        if midi == note.midi and self._move is None:
            if self._is_too_soon(note, time_s, velocity):
                return self._strike_again(note, time_s, key, velocity, midi)
            events = [*self._end(time_s), *self._void_gone(time_s)]
            events += self._begin(time_s, key, velocity, midi)
            self._retriggered_s = time_s
            return events
        if self._is_harmonic(note, time_s, midi):
            voided = self._void_harmonic(note, midi)
            passing = self._void_move()
            self._forget()
            begun = self._begin(time_s, key, velocity, midi)
            self._struck_s = note.onset_s
            return [*passing, voided, *begun]
        move = self._move
        if move is not None and self._leads_to(move, time_s, midi):  # it began a pluck, not a move
            self._move = None
            ended = [*self._end(move.onset_s), *self._void_gone(time_s)]
            begun = self._begin(time_s, key, velocity, midi)
            self._struck_s = move.onset_s
            return [self._void_harmonic(move, midi), *ended, *begun]
        step = midi - note.midi
        goes_on = abs(step) <= SLIDE_STEP_SEMITONES and step * self._step > 0
        if goes_on and age_s < SETTLE_S and self._is_softer(note):
            return self._step_on(note, time_s, key, velocity, midi)
        if note.doubtful and age_s < self._thresholds.short_s and velocity > self._thresholds.soft_velocity:
            ended = [*self._end(time_s), *self._void_gone(time_s)]
            return [*ended, *self._begin(time_s, key, velocity, midi)]
        return self._move_by_note(time_s, key, velocity, midi)

    def _step_on(self, note: Note, time_s: float, key: int, velocity: int, midi: int) -> list[HeardEvent]:
        """A slide told by note-ons goes on before the note-off of its last step."""
        passing = self._void_move()
        self._forget()
        self._off_midi, self._off_s, self._passed_s = note.midi, time_s, time_s
        self._last, self._last_struck_s = self._stepped_from, _NEVER_S
        voided = Voided(note, Glitch.PASSED, PASSED_REASON)
        return [*passing, voided, *self._begin(time_s, key, velocity, midi)]

    def _step_to(self, time_s: float, midi: int) -> int:
        """-1 or 1 where a pitch follows the one before as in a slide told by note-ons, else 0."""
        semitones = midi - self._off_midi
        if time_s - self._off_s > ONE_CHANGE_S or abs(semitones) > SLIDE_STEP_SEMITONES:
            return 0
        if semitones == 0:  # the bend of a slide had come as far as this note
            return self._step if self._there_since_s > self._struck_s else 0
        return 1 if semitones > 0 else -1

    def _is_passed(self, before: Note, time_s: float, midi: int) -> bool:
        """Whether the note before was a step on the way to this one, sooner than anybody plucks again."""
        step = self._step_to(time_s, midi)
        in_time = step != 0 and step == self._step and time_s - self._there_since_s < SETTLE_S
        return in_time and self._is_softer(before)

    def _is_softer(self, note: Note) -> bool:
        """Whether a step of a slide is softer than the pluck, as nothing that is plucked again need be."""
        start = self._stepped_from
        return start is not None and note.velocity < start.velocity

    def _begin(self, time_s: float, key: int, velocity: int, midi: int) -> list[HeardEvent]:
        doubt = self._doubt_of(time_s, key, velocity, midi)
        follows = time_s - self._off_s <= ONE_CHANGE_S
        self._step, self._stepped_from = self._step_to(time_s, midi) if follows else 0, self._last
        goes_on = self._step and time_s - self._passed_s <= ONE_CHANGE_S  # the next step of a slide
        attack = Attack.MOVED if goes_on else Attack.PLUCKED
        self.begun_s = self._struck_s = self._there_since_s = time_s
        if self._passing is not None and self._leads_to(self._passing, time_s, midi):
            self._struck_s = self._passing.onset_s
        note = self._make(
            self._maker.next_id(), time_s, velocity, key, midi, attack, doubtful=doubt is not None
        )
        self._note, self._key, self._midi, self._doubt = note, key, midi, doubt
        self._gone = None
        self._retriggered_s = _NEVER_S
        if doubt is not None:
            return [note]
        self.struck = note
        events: list[HeardEvent] = []
        if note.fret is None:
            events += self._maker.warnings_of(note)
        earliest_s = time_s - self._thresholds.together_s
        for neighbour in self.neighbours:
            if neighbour.begun_s >= earliest_s:
                events += neighbour.suspect(note)
        events.append(note)
        return events

    def _doubt_of(self, time_s: float, key: int, velocity: int, midi: int) -> Doubt | None:
        """Why a note that begins now may not have been meant.

        One that is too loud to be doubted is only suspected: should it be short as well, it is voided then.
        """
        limits = self._thresholds
        self._suspicion = Glitch.TOO_SHORT if velocity <= HARDLY_LOUD_VELOCITY else None
        soft = velocity <= limits.soft_velocity
        deadline_s = time_s + limits.doubt_s
        last = self._last
        if self.string is not None:
            if last is not None:
                weaker = soft or velocity <= UNPLUCKED_SHARE * last.velocity
                was_fretted = last.midi > self._open_midi == midi
                if was_fretted and time_s - self._last_end_s <= limits.lift_off_s:
                    if soft:
                        return Doubt(Glitch.LIFT_OFF, LIFT_OFF_REASON, deadline_s)
                    if velocity < last.velocity:
                        self._suspicion = Glitch.LIFT_OFF
                if weaker and self._step_to(time_s, midi):
                    return Doubt(Glitch.PASSED, PASSED_REASON, deadline_s)
            for neighbour in self.neighbours:
                struck = neighbour.struck
                if struck is not None and abs(time_s - struck.onset_s) <= limits.together_s:
                    doubt = self._crosstalk_doubt(struck, velocity, midi, deadline_s)
                    if doubt is not None:
                        return doubt
        if soft:
            return Doubt(Glitch.TOO_SHORT, "soft and short", deadline_s)
        if midi != math.floor(key + self.channel.base + 0.5):
            # The bend was there before the note: of the note before, perhaps, and about to go home.
            return Doubt(None, "", time_s + AT_ONCE_S)
        return None

    def _crosstalk_doubt(self, struck: Note, velocity: int, midi: int, deadline_s: float) -> Doubt | None:
        limits = self._thresholds
        soft = velocity <= limits.soft_velocity
        alike = is_crosstalk(struck, velocity, midi, self._open_midi)
        if velocity > limits.crosstalk_share * struck.velocity or not (soft or alike):
            if alike:
                self._suspicion = Glitch.CROSSTALK
            return None
        reason = f"string {struck.string} was struck beside it"
        return Doubt(Glitch.CROSSTALK, reason, deadline_s)

    def suspect(self, struck: Note) -> list[HeardEvent]:
        """Hear that the string beside this one was surely struck: a note here may come of it."""
        note = self._gone[0] if self._gone is not None else self._note or self._last
        if note is None or struck.onset_s - note.onset_s > self._thresholds.together_s:
            return []
        doubt = self._doubt
        if doubt is not None:
            if doubt.glitch is Glitch.TOO_SHORT:
                new = self._crosstalk_doubt(struck, note.velocity, note.midi, doubt.deadline_s)
                self._doubt = new or doubt
            return []
        if not is_crosstalk(struck, note.velocity, note.midi, self._open_midi):
            return []
        if note is self._note:
            self._suspicion = Glitch.CROSSTALK
            return []
        lasted_s = self._last_end_s - note.onset_s
        if note is not self._last or lasted_s >= SUSPECTED_SHORT_S[Glitch.CROSSTALK]:
            return []
        self._last = None
        return [Voided(note, Glitch.CROSSTALK, f"string {struck.string} was struck beside it")]

    # False harmonics.

    def _is_harmonic(self, before: Note, time_s: float, midi: int) -> bool:
        """Whether a note lies above the one that begins now as only a false one does, and just before it."""
        if not self._leads_to(before, time_s, midi):
            return False
        if before.doubtful:
            return True
        end_s = time_s if self._note is before else self._gone[1] if self._gone else self._last_end_s
        return end_s - before.onset_s <= self._thresholds.short_s

    def _leads_to(self, before: Note, time_s: float, midi: int) -> bool:
        return leads_to(before, midi) and time_s - before.onset_s <= self._thresholds.doubt_s

    def _void_harmonic(self, false: Note, midi: int) -> Voided:
        return Voided(false, Glitch.FALSE_HARMONIC, f"{false.midi - midi} semitones above the note it led to")

    # Ending.

    def _end(self, time_s: float, *, cut_off: bool = False) -> list[HeardEvent]:
        """What sounds has ended: a doubtful note is kept in mind until its doubt ends.

        cut_off: not by a note-off, so that nobody knows how long it would have lasted.
        """
        note = self._note
        assert note is not None
        if self._move is not None:
            return self._end_move(self._move, time_s)
        limits, doubt = self._thresholds, self._doubt
        lasted_s = time_s - note.onset_s
        events: list[HeardEvent] = []
        if doubt is not None and doubt.glitch is not None and not cut_off and lasted_s < self._short_s(doubt):
            self._silent(time_s)
            self._gone = (note, time_s)
            return events
        if self._candidate is not None:  # not told, but it ended there
            self._there_since_s = self._arrived_s
        if self._candidate is not None and self._bent_at_once(note):
            # It was never where it began, so it was where it was going.
            events += self._set_right(note, self._candidate)
            note, doubt = self._note, None
            assert note is not None
        self._silent(time_s)
        self._doubt = None
        suspicion = None if cut_off else self._suspicion
        if suspicion is not None and lasted_s < SUSPECTED_SHORT_S[suspicion]:
            reason = f"it ended after {lasted_s * 1000:.0f} ms"
            self._doubt = Doubt(suspicion, reason, note.onset_s + limits.doubt_s)
            self._gone = (note, time_s)  # unless it is told again
            return events
        if lasted_s < limits.least_s and not cut_off:
            reason = f"it ended after {lasted_s * 1000:.0f} ms"
            return [*events, Voided(note, Glitch.TOO_SHORT, reason)]
        self._last, self._last_end_s, self._last_struck_s = note, time_s, self._struck_s
        if doubt is not None:
            settled = self._settled(note)
            self._last = settled
            events += [*self._maker.warnings_of(settled), NoteSettled(settled)]
        return [*events, NoteEnded(note.id, time_s)]

    def _end_move(self, move: Note, time_s: float) -> list[HeardEvent]:
        """What sounds last was told by a note-on and has not stayed: no note, unless it is told again."""
        self._move = None
        self._candidate, self._left_s = None, -1.0
        events = [*self._end(move.onset_s), *self._void_gone(time_s)]
        self._passing, self._off_s, self._struck_s = move, time_s, move.onset_s
        self._gone, self._doubt = (move, time_s), doubt_of_move(move, self._open_midi, self._thresholds)
        return events

    def _short_s(self, doubt: Doubt) -> float:
        """A note that ends before this was not meant; less where only its softness speaks against it."""
        limits = self._thresholds
        high = self._midi - self._open_midi >= min(HARMONICS_SEMITONES)  # so it may be a false harmonic
        return limits.short_s if doubt.glitch is Glitch.TOO_SHORT and not high else limits.doubt_s

    def _silent(self, time_s: float) -> None:
        """Nothing sounds any more."""
        self._note = self._passing = None
        self._off_midi, self._off_s = math.floor(self._key + self.channel.offset + 0.5), time_s
        self._retriggered_s = _NEVER_S
        self._stay()

    def _end_doubt(self, doubt: Doubt) -> list[HeardEvent]:
        """The time is up."""
        if self._gone is not None:
            return self._void_gone(doubt.deadline_s)
        note = self._note
        assert note is not None
        if doubt.glitch is None and self._left_s >= 0 and self._bent_at_once(note):
            later_s = note.onset_s + self._thresholds.doubt_s  # the bend is on its way home: wait for it
            if doubt.deadline_s < later_s:
                doubt.deadline_s = later_s
                return []
        self._doubt = None
        if self._candidate is not None and self._move is None and self._bent_at_once(note):
            return self._set_right(note, self._candidate)
        return self._settle(note)

    def _settle(self, note: Note) -> list[HeardEvent]:
        settled = self._settled(note)
        self._note = settled
        if self.struck is None or settled.onset_s > self.struck.onset_s:
            self.struck = settled
        return [*self._maker.warnings_of(settled), NoteSettled(settled)]

    def _settled(self, note: Note) -> Note:
        return note._replace(doubtful=False)

    def _void_gone(self, time_s: float) -> list[HeardEvent]:
        if self._gone is None:
            return []
        doubt = self._doubt
        assert doubt is not None
        assert doubt.glitch is not None
        limits = self._thresholds
        note, end_s = self._gone
        if note.doubtful and doubt.glitch is Glitch.TOO_SHORT and end_s - note.onset_s >= limits.short_s:
            settled = self._settled(note)  # only a false harmonic could have lasted so long, and it was none
            self._last, self._last_end_s, self._last_struck_s = settled, end_s, self._struck_s
            self._gone = self._doubt = None
            return [*self._maker.warnings_of(settled), NoteSettled(settled), NoteEnded(note.id, end_s)]
        voided = Voided(note, doubt.glitch, doubt.reason)
        if doubt.glitch is Glitch.PASSED:
            self._passed_s = time_s
        self._gone = self._doubt = None
        return [voided]

    def _forget(self) -> None:
        """What sounds was not meant."""
        self._note = self._doubt = self._gone = None
        self._stay()

    # Moving.

    def _move_by_note(self, time_s: float, key: int, velocity: int, midi: int) -> list[HeardEvent]:
        """A note-on before the note-off of another pitch: legato on one string (MIDI 1.0, mono mode)."""
        events = self._void_move()
        self._key = key
        events += self._follow_pitch(time_s)
        if self._left_s >= 0:  # otherwise it is back where it came from
            self._candidate = midi
            self._arrived_s = self._still_since_s = time_s
            self._move = self._make(
                self._maker.next_id(), time_s, velocity, key, midi, Attack.MOVED, doubtful=True
            )
            events.append(self._move)
        return events

    def _follow_pitch(self, time_s: float) -> list[HeardEvent]:
        target = self._key + self.channel.offset
        away = target - self._midi
        if -LEAVES_SEMITONES <= away <= LEAVES_SEMITONES:
            if self._move is not None and 0 < time_s - self._move.onset_s <= AT_ONCE_S:
                return self._strike_bent_home(self._move)
            events = self._void_move() if self._left_s >= 0 else []
            self._stay()
            return events
        if self._left_s < 0:
            self._left_s = time_s
        nearest = math.floor(target + 0.5)
        if abs(target - nearest) <= TOLERANCE_SEMITONES:
            going_on = (target - self._target) * (nearest - self._midi) > 0
            self._target = target
            if self._candidate != nearest:
                events = self._void_move()
                self._candidate = nearest
                self._arrived_s = self._still_since_s = time_s
                return events
            if going_on:  # still on its way, as slides are; vibrato turns back
                self._still_since_s = time_s
        elif self._candidate is not None:  # a slide goes on: it stays nowhere between two frets
            events = self._void_move()
            self._candidate = None
            return events
        return []

    def _strike_bent_home(self, move: Note) -> list[HeardEvent]:
        """A new note-on that is bent at once to the pitch that sounded before: that pitch plucked again."""
        note = self._note
        assert note is not None
        again = move._replace(
            string=note.string, fret=note.fret, midi=note.midi, attack=Attack.PLUCKED, doubtful=False
        )
        events: list[HeardEvent] = []
        if self._doubt is not None:
            self._doubt = None
            events += self._settle(note)
        self._last, self._last_end_s, self._last_struck_s = note, move.onset_s, self._struck_s
        self._note = self.struck = again
        self._struck_s = move.onset_s
        self._stay()
        return [*events, NoteEnded(note.id, move.onset_s), NoteSettled(again)]

    def _bent_at_once(self, note: Note) -> bool:
        left_at_once = 0 <= self._left_s - note.onset_s <= AT_ONCE_S
        return left_at_once and self._move is None and note.attack is Attack.PLUCKED

    def _arrive(self) -> list[HeardEvent]:
        """The string has stayed on its new fret: a note of its own, or the same note set right."""
        note, candidate, move = self._note, self._candidate, self._move
        assert note is not None
        assert candidate is not None
        if self._bent_at_once(note):
            return self._set_right(note, candidate)
        events: list[HeardEvent] = []
        if self._doubt is not None:  # the note that it left had stayed long enough to be one
            self._doubt = None
            events += self._settle(note)
        if move is None:
            attack, velocity = Attack.MOVED, note.velocity
            moved = self._make(self._maker.next_id(), self._arrived_s, velocity, self._key, candidate, attack)
        else:
            moved = self._settled(move)
        events.append(NoteEnded(note.id, moved.onset_s))
        events += self._maker.warnings_of(moved)
        events.append(moved if move is None else NoteSettled(moved))
        self._last, self._last_end_s, self._last_struck_s = note, moved.onset_s, self._struck_s
        self._note, self._midi, self.struck = moved, candidate, moved
        self._there_since_s = self._arrived_s
        self._stay()
        return events

    def _set_right(self, note: Note, candidate: int) -> list[HeardEvent]:
        """The note simply has the fret that it reached."""
        was_doubtful, self._doubt = note.doubtful, None
        right = self._make(note.id, note.onset_s, note.velocity, self._key, candidate, note.attack)
        self._note, self._midi, self.struck = right, candidate, right
        self._there_since_s = self._arrived_s
        self._stay()
        told = NoteSettled(right) if was_doubtful else NoteRevised(right)
        return [*self._maker.warnings_of(right), told]

    def _void_move(self) -> list[HeardEvent]:
        """A note-on that was only passed on the way to another fret is withdrawn."""
        move, self._move = self._move, None
        if move is None:
            return []
        doubt = doubt_of_move(move, self._open_midi, self._thresholds)
        assert doubt.glitch is not None
        return [Voided(move, doubt.glitch, doubt.reason)]

    def _stay(self) -> None:
        self._left_s = -1.0
        self._candidate = self._move = None

    # Inside.

    def _make(
        self,
        note_id: int,
        onset_s: float,
        velocity: int,
        key: int,
        midi: int,
        attack: Attack,
        *,
        doubtful: bool = False,
    ) -> Note:
        string, channel = self.string, self.channel
        fret: int | None = midi - self._open_midi
        if string is None:
            fret = None
        elif fret is not None and not 0 <= fret <= self._maker.last_fret:
            self._maker.beyond(note_id, string, fret)
            string = fret = None
        cents = (key + channel.offset - midi) * 100
        return Note(note_id, onset_s, string, fret, midi, velocity, channel.index, attack, cents, doubtful)

    def _settles_s(self) -> float:
        """When the candidate will have stayed long enough."""
        if self._candidate is None or self._note is None:
            return math.inf
        if self._move is not None:  # told as doubtful: that has to end in time
            return self._arrived_s + SETTLE_S
        at_once = self._bent_at_once(self._note)
        return self._still_since_s + (SETTLE_AT_ONCE_S if at_once else SETTLE_S)

    def _set_bounds(self) -> None:
        """Keep up to date when this line has to be asked again."""
        channel = self.channel
        if channel.speaks_for_others or self._left_s >= 0:
            channel.least, channel.most = math.inf, -math.inf
        elif self._note is None:
            channel.least, channel.most = -math.inf, math.inf
        else:
            home = self._midi - self._key
            channel.least, channel.most = home - LEAVES_SEMITONES, home + LEAVES_SEMITONES
        doubt_s = math.inf if self._doubt is None else self._doubt.deadline_s
        self.due_s = min(doubt_s, self._settles_s())
