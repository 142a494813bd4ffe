"""Hooking up a guitar, step by step: what to pluck next, what was heard, what to write."""

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from midifret.gear.guitar import Guitar
from midifret.neck import Language, Neck, Tuning
from midifret.session.hook_up.asking import (
    NO_INPUT,
    NO_NOTES,
    OCTAVE_FRET,
    SAME_PITCH,
    SLIDE_FROM,
    SLIDE_TO,
    TOO_SHORT,
    Asking,
    ask_words,
    keys_of,
    misplaced_words,
    sharp_or_flat,
)
from midifret.session.hook_up.ear import BEND_CENTRE, PLUCK_S, Ear, Heard, RawNote, clearest
from midifret.session.hook_up.findings import (
    STANDARD_MIDI,
    Findings,
    Offset,
    semitones_words,
)
from midifret.session.hook_up.reckon import (
    LEAST_STEPS,
    SURE_SHARE,
    Noise,
    Slide,
    has_moved,
    nearest_range,
    read_slide,
    sliding_voice,
)
from midifret.session.hook_up.showing import HookedUp, Showing, Step
from midifret.terms import Encoding, Place, TimedMessage

# Heard so long, a pluck can be told from a glitch and its pitch has settled [ours].
GATHER_S = 0.4
# No pluck that was let ring is shorter: false notes last under about 50 ms (support notes, from memory).
_LEAST_PLUCK_S = 0.05
# Nothing at all, or nothing from the string that is asked for, for so long: say what to look at.
PATIENCE_S = 10.0
# A slide is over when its pitch has stood still so long after moving; none lasts longer than this [ours].
_STILL_S, _LONGEST_SLIDE_S = 1.0, 8.0
_SLIDES_AT_MOST = 3
# How long it has to be quiet before the silence is measured, how long it is waited for, and how long silence
# and touching are listened to [ours].
CALM_S, CALM_AT_MOST_S, SILENCE_S, TOUCH_S = 1.5, 8.0, 3.0, 8.0
# A note that lasts so long and is as loud as the softest pluck was plucked, whatever was asked for [ours].
_PLUCKED_S = 0.3
_MOST_NAME = 40


@dataclass(frozen=True, slots=True)
class Setup:
    """What hooking up is told beforehand.

    strings: how many the guitar has, 6 to 8. tunings: those known. base: gives what plucking does not tell:
    frets, pedals, signals. name: proposed for the file. taken: names of guitars that have a file already.
    chosen: the guitar of the settings. port: its name for people. written_port: what the file says of it.
    is_name: whether a file can bear a name.
    """

    strings: int
    tunings: Sequence[Tuning]
    base: Guitar
    name: str
    taken: Collection[str]
    chosen: str
    port: str
    written_port: str
    is_name: Callable[[str], bool]
    language: Language = Language.ENGLISH


class HookUp:
    """One hooking up, fed with messages, keys and time, all in seconds on one clock.

    result: what to write, once the player agreed. done: nothing more is asked. heard: any note came at all.
    """

    def __init__(self, setup: Setup, start_s: float) -> None:
        """Begin with the lowest string."""
        self._setup = setup
        self._ear = Ear()
        self.result: HookedUp | None = None
        self.done = False
        self._begin(start_s)

    def _begin(self, now_s: float) -> None:
        setup = self._setup
        self._found = Findings(setup.strings, setup.tunings, setup.language, self._ear)
        self._skipped: set[int] = set()
        self._order: list[int] = []  # strings accepted or skipped, for going back
        self._last = 0  # the string that was accepted last
        self._doubted: Heard | None = None
        self._wandering = False  # what sounds like a string heard before came on another channel
        self._typed = setup.name
        self._message = ""
        self._tries = 0
        self._enter(Step.OPEN, now_s)

    def _enter(self, step: Step, now_s: float) -> None:
        self._step = step
        self._step_s = self._asked_s = now_s
        self._measured_s: float | None = None
        self._restarts = 0
        self._doubted = None
        self._ear.clear()

    @property
    def heard(self) -> bool:
        """Whether any note came."""
        return bool(self._ear.note_channels)

    @property
    def step(self) -> Step:
        """What is being asked."""
        return self._step

    # What comes in.

    def hear(self, message: TimedMessage) -> None:
        """Take a message; those that came before count as heard by its time."""
        self.tick(message.time_s)
        self._ear.feed(message)

    def tick(self, now_s: float) -> None:
        """Let time pass."""
        match self._step:
            case Step.OPEN | Step.FRET_12 | Step.RETUNE:
                self._gather(now_s)
            case Step.SLIDE:
                self._slide(now_s)
            case Step.SILENCE:
                self._silence(now_s)
            case Step.TOUCH:
                self._touch(now_s)

    def key(self, key: str, now_s: float) -> None:
        """Take a key, named as the terminal's reader names them."""
        if self._step is Step.NAME:
            return self._name_key(key, now_s)
        letter = key.lower()
        if letter in ("q", "escape"):
            self.done = True
            return None
        match self._step:
            case Step.OPEN:
                self._open_key(letter, now_s)
            case Step.SHARED:
                self._shared_key(letter, now_s)
            case Step.FRET_12 if letter == "n":
                self._message = ""
                self._enter(Step.SLIDE, now_s)
            case Step.SLIDE if letter == "n":
                self._slid(now_s)
            case Step.RETUNE if letter == "n":
                self._tuned(now_s)
            case Step.SILENCE | Step.TOUCH if letter == "n":
                self._found.noises = (
                    self._found.noises or None
                )  # half a measurement shows noise, not its absence
                self._measured(now_s)
            case Step.OFFSET:
                self._offset_key(letter, now_s)
            case Step.FOUND:
                if letter == "enter":
                    self._enter(Step.NAME, now_s)
                elif letter == "r":
                    self._begin(now_s)
            case Step.OVERWRITE:
                if letter == "y":
                    self._named(now_s)
                elif letter == "n":
                    self._enter(Step.NAME, now_s)
            case Step.CHOOSE if letter in ("y", "n"):
                self._agreed(choose=letter == "y")
        return None

    # Plucks.

    def _gather(self, now_s: float) -> None:
        """Take the notes of one pluck together once they have been heard long enough."""
        notes = self._ear.notes
        if not notes or now_s - notes[0].onset_s < GATHER_S:
            return
        first_s = notes[0].onset_s
        pluck = [note for note in notes if note.onset_s <= first_s + PLUCK_S]
        self._ear.clear(keep=notes[len(pluck) :])
        heard = clearest(pluck, now_s)
        self._asked_s = now_s
        if heard.length_s < _LEAST_PLUCK_S:
            self._message = TOO_SHORT
        elif self._step is Step.OPEN:
            self._open(heard, now_s)
        elif self._step is Step.FRET_12:
            self._fret_12(heard, now_s)
        else:
            self._retuned(heard, now_s)

    # Open strings.

    @property
    def _asked(self) -> int:
        """The open string to pluck: the lowest that was neither heard nor skipped; 0 when all are done."""
        strings = range(self._setup.strings, 0, -1)
        return next((s for s in strings if s not in self._found.opens and s not in self._skipped), 0)

    def _open(self, heard: Heard, now_s: float) -> None:
        asked = self._asked
        again = self._string_again(heard)
        if again and again == self._last and heard.channel == self._found.opens[again].channel:
            self._keep_clearer(again, heard)
            self._message = f"That was string {again} again. Now string {asked}."
            return
        words = self._wrong_string(heard, again, asked)
        if words:
            self._doubted = heard
            self._wandering |= again > 0 and self._found.opens[again].channel != heard.channel
            self._message = f"{words} If it was string {asked}, press k."
            return
        self._accept(asked, heard, now_s)

    def _keep_clearer(self, string: int, heard: Heard) -> None:
        before = self._found.opens[string]
        if (heard.velocity, heard.length_s) > (before.velocity, before.length_s):
            self._found.opens[string] = heard

    def _string_again(self, heard: Heard) -> int:
        """The string already heard that this pluck sounds like, or 0."""
        pitch = heard.pitch(self._found.bend_range)
        near = [s for s, p in self._found.pitches.items() if abs(p - pitch) < SAME_PITCH]
        return next(
            (s for s in near if self._found.opens[s].channel == heard.channel), near[0] if near else 0
        )

    def _wrong_string(self, heard: Heard, again: int, asked: int) -> str:
        """Say that another string was plucked, by its pitch; empty where it may be the one asked for."""
        pitch = heard.pitch(self._found.bend_range)
        if again:
            return f"That sounds like string {again} again. Pluck string {asked}."
        below = [string for string in self._found.opens if string > asked]
        above = [string for string in self._found.opens if string < asked]
        for near in ([min(below)] if below else []) + ([max(above)] if above else []):
            usual = STANDARD_MIDI[asked - 1] - STANDARD_MIDI[near - 1]
            found = pitch - self._found.pitches[near]
            words = misplaced_words(found, usual, near, asked, self._setup.strings)
            if words:
                return words
        if not below and not above:
            high = asked - 2  # no capo and no tuning makes the lowest string sound like one of the upper ones
            like = [s for s in range(1, high + 1) if abs(pitch - STANDARD_MIDI[s - 1]) < SAME_PITCH]
            if like:
                return f"That sounds like string {like[0]}. Begin with string {asked}, the lowest."
        return ""

    def _accept(self, string: int, heard: Heard, now_s: float) -> None:
        self._found.wandered |= self._wandering
        self._found.opens[string] = heard
        self._skipped.discard(string)
        self._order.append(string)
        self._last = string
        self._doubted = None
        self._message = (
            f"String {string} came on channel {heard.channel + 1}, as {self._found.name_of(string)}."
        )
        if len(self._found.opens) == 1 and self._sounds_like_next(string):
            self._message += f" If that was string {string - 1}, press b."
        self._asked_s = now_s
        if not self._asked:
            self._open_done(now_s)

    def _sounds_like_next(self, string: int) -> bool:
        """Whether a string has the usual pitch of the one above it: that one plucked, or a capo at fret 5."""
        usual = STANDARD_MIDI[string - 2] if string > 1 else 0
        return abs(self._found.pitches[string] - usual) < SAME_PITCH

    def _open_key(self, key: str, now_s: float) -> None:
        asked = self._asked
        if key == "k" and self._doubted is not None:
            self._wandering = False
            self._accept(asked, self._doubted, now_s)
        elif key == "n":
            self._skipped.add(asked)
            self._order.append(asked)
            self._doubted, self._asked_s = None, now_s
            self._message = f"String {asked} is left out."
            if not self._asked:
                self._open_done(now_s)
        elif key == "b" and self._order:
            string = self._order.pop()
            self._found.opens.pop(string, None)
            self._skipped.discard(string)
            self._last, self._doubted, self._asked_s = 0, None, now_s
            self._message = f"Once more: string {string}."

    def _open_done(self, now_s: float) -> None:
        if not self._found.opens:
            self._skipped.clear()
            self._order.clear()
            self._message = f"No string arrived. {NO_INPUT if not self.heard else ''}".strip()
            self._enter(Step.OPEN, now_s)
        elif self._found.shared is not None:
            self._enter(Step.SHARED, now_s)
        else:
            self._all_open(now_s)

    def _all_open(self, now_s: float) -> None:
        # A string of the middle: its fret 12 is easy to reach, and no converter has trouble with its pitch.
        wanted = (4, 3, 5, 2, 6, 1, 7, 8)
        self._found.test_string = next(string for string in wanted if string in self._found.opens)
        self._enter(Step.FRET_12, now_s)

    def _shared_key(self, key: str, now_s: float) -> None:
        shared = self._found.shared
        if key == "a" and shared is not None:
            for string in shared[0]:
                del self._found.opens[string]
                self._order = [each for each in self._order if each != string]
            self._message, self._last = "", 0
            self._enter(Step.OPEN, now_s)
        elif key == "n":
            self._message = ""
            self._all_open(now_s)

    # Fret 12.

    def _fret_12(self, heard: Heard, now_s: float) -> None:
        found, string = self._found, self._found.test_string
        start = found.opens[string]
        rise = heard.pitch(found.bend_range) - found.pitches[string]
        if found.told_range is None and self._octave_by_bend(heard, start):
            rise = float(OCTAVE_FRET)
        fret = math.floor(rise + 0.5)
        per_string = found.encoding is Encoding.PER_STRING
        if per_string and heard.channel != start.channel:
            other = next((s for s, c in found.channels.items() if c == heard.channel), 0)
            if other and fret != OCTAVE_FRET:
                self._message = f"That was string {other}. Pluck string {string} at fret {OCTAVE_FRET}."
                return
        if fret == OCTAVE_FRET:
            found.wandered |= per_string and heard.channel != start.channel
            found.fret_12 = heard
            self._message = f"String {string} at fret {OCTAVE_FRET} sounds an octave above the open string."
            self._enter(Step.SLIDE, now_s)
        elif fret == 0:
            self._message = f"That was string {string} open. Stop it at fret {OCTAVE_FRET}."
        elif fret > 0:
            self._message = (
                f"That sounds like fret {fret} of string {string}, an octave would be fret {OCTAVE_FRET}. "
                "Pluck it again, just behind that fret."
            )
        else:
            self._message = f"That is lower than string {string} open. Pluck string {string}."

    def _octave_by_bend(self, heard: Heard, start: Heard) -> bool:
        """Whether note number and bend together make an octave, if the bend has one of the usual ranges.

        Some converters send a number below and bend it into place, some the open string's with all of the
        fret in the bend. A long bend tells its range as a slide does.
        """
        rest, bend = OCTAVE_FRET - (heard.key - start.key), heard.bend - start.bend
        if abs(bend) < LEAST_STEPS or rest * bend <= 0:
            return False
        reading = rest * BEND_CENTRE / bend
        if nearest_range(reading)[1] > 2 * SURE_SHARE:
            return False
        if rest > OCTAVE_FRET / 2:
            self._found.slides.append(Slide(True, False, reading))
        return True

    # The slide.

    def _slide(self, now_s: float) -> None:
        ear, notes = self._ear, self._ear.notes
        if not notes:
            return
        ended = not ear.sounding and now_s - max(note.end_s or now_s for note in notes) >= GATHER_S
        longest = now_s - notes[0].onset_s >= _LONGEST_SLIDE_S
        if not (ended or longest) and now_s - ear.changed_s < _STILL_S:
            return
        per_string = self._found.encoding is Encoding.PER_STRING
        own = self._found.channels[self._found.test_string] if per_string else None
        main = sliding_voice(notes, now_s, channel=own)
        if has_moved(main) or longest:
            self._read(main, now_s)
        elif ended:
            # A string that sounded open was let go, not slid on: nothing needs to be said of it.
            start = self._found.opens[self._found.test_string]
            if main[0].key != start.key or main[0].channel != start.channel:
                self._read(main, now_s)
            ear.clear()

    def _read(self, main: Sequence[RawNote], now_s: float) -> None:
        found = self._found
        slide = read_slide(main, now_s)
        self._asked_s = now_s
        own = {note.channel for note in main}
        elsewhere = [c for c, n in self._ear.bends.items() if c not in self._ear.note_channels and n > 1]
        if slide.by_bends and elsewhere and not any(self._ear.bends[channel] > 1 for channel in own):
            found.controller_channel = elsewhere[0]
        self._ear.clear()
        if not slide.moved:
            self._message = (
                "The pitch did not move. Pluck once, press firmly, and slide the finger slowly from fret "
                f"{SLIDE_FROM} to {SLIDE_TO} and back while the string rings."
            )
            return
        self._tries += 1
        found.slides.append(slide)
        slid = found.slid_range
        unsure = slide.by_bends and (slide.range_semitones is None or slid is None or not slid[1])
        if found.told_range is None and unsure and self._tries < _SLIDES_AT_MOST:
            self._message = "That does not tell the bend range for sure. Slide once more, exactly two frets."
            return
        self._slid(now_s)

    def _slid(self, now_s: float) -> None:
        self._message = ""
        if self._found.out_of_tune:
            self._enter(Step.RETUNE, now_s)
        else:
            self._enter(Step.SILENCE, now_s)

    # Tuning.

    def _retuned(self, heard: Heard, now_s: float) -> None:
        found = self._found
        pitch = heard.pitch(found.bend_range)
        near = min(found.pitches, key=lambda string: abs(found.pitches[string] - pitch))
        if found.encoding is Encoding.PER_STRING:
            near = next((s for s, c in found.channels.items() if c == heard.channel), near)
        if abs(found.pitches[near] - pitch) > 1.5:
            self._message = "That is another note than any open string. Pluck the string open."
            return
        found.opens[near] = heard
        off = found.cents[near]
        self._message = f"String {near}: {sharp_or_flat(off)}."
        if not found.out_of_tune:
            self._tuned(now_s)

    def _tuned(self, now_s: float) -> None:
        self._message = ""
        self._enter(Step.SILENCE, now_s)

    # Noise.

    def _silence(self, now_s: float) -> None:
        notes = self._ear.notes
        if self._measured_s is None:
            calm_s = max(self._step_s, notes[-1].onset_s if notes else 0.0)
            if now_s - calm_s >= CALM_S or now_s - self._step_s >= CALM_AT_MOST_S:
                self._measured_s = now_s
                self._ear.clear()
        elif now_s - self._measured_s >= SILENCE_S:
            noises, plucked = self._noises(now_s)
            if plucked and self._restarts < 2:
                self._restarts += 1
                self._message = "A string was plucked. Once more: keep still."
                self._measured_s = None
                self._ear.clear()
                return
            self._found.noises = noises
            self._message = f"{len(noises)} notes came though nothing was touched." if noises else ""
            self._enter(Step.TOUCH, now_s)

    def _touch(self, now_s: float) -> None:
        if now_s - self._step_s >= TOUCH_S:
            noises, plucked = self._noises(now_s)
            self._found.noises = [*(self._found.noises or []), *noises]
            self._message = f"{plucked} notes were plucked and do not count as noise." if plucked else ""
            self._measured(now_s)

    def _noises(self, now_s: float) -> tuple[list[Noise], int]:
        """What came without a pluck since the step began, and how many notes were plucked all the same."""
        noises, plucked = [], 0
        for note in self._ear.notes:
            length_s = note.length_s(now_s)
            if length_s >= _PLUCKED_S and note.velocity >= self._found.softest:
                plucked += 1
            else:
                noises.append(Noise(note.velocity, length_s))
        return noises, plucked

    def _measured(self, now_s: float) -> None:
        match = self._found.match
        asks = match.tuning is not None and match.offset != 0 and self._found.offset is None
        self._enter(Step.OFFSET if asks else Step.FOUND, now_s)

    # Questions.

    @property
    def _offsets(self) -> tuple[tuple[Offset, str], ...]:
        offset = self._found.match.offset
        words = semitones_words(offset)
        choices = [(Offset.TRANSPOSED, f"the converter sends every note {words} than it sounds")]
        if offset < OCTAVE_FRET:  # no string bears an octave more
            choices.insert(0, (Offset.RETUNED, f"the strings are tuned {words}"))
        if 0 < offset < min(OCTAVE_FRET, self._setup.base.neck.frets):
            choices.insert(0, (Offset.CAPO, f"a capo lies at fret {offset}"))
        return tuple(choices)

    def _offset_key(self, key: str, now_s: float) -> None:
        choices = self._offsets
        if key.isdigit() and 1 <= int(key) <= len(choices):
            self._found.offset = choices[int(key) - 1][0]
            self._message = ""
            self._enter(Step.FOUND, now_s)

    def _name_key(self, key: str, now_s: float) -> None:
        if key == "escape":
            self.done = True
        elif key == "backspace":
            self._typed = self._typed[:-1]
        elif key == "enter":
            if not self._setup.is_name(self._typed):
                self._message = "A name has letters, digits, hyphens and underscores, at most 40 of them."
            elif self._typed in self._setup.taken:
                self._message = ""
                self._enter(Step.OVERWRITE, now_s)
            else:
                self._named(now_s)
        elif len(key) == 1 and len(self._typed) < _MOST_NAME:
            self._message = ""
            self._typed += "-" if key == " " else key

    def _named(self, now_s: float) -> None:
        self._message = ""
        if self._typed == self._setup.chosen:
            self._agreed(choose=False)
        else:
            self._enter(Step.CHOOSE, now_s)

    def _agreed(self, *, choose: bool) -> None:
        setup = self._setup
        guitar, new_tuning = self._found.guitar(self._typed, setup.base, setup.written_port)
        self.result = HookedUp(guitar, new_tuning, choose, self._found.lines(setup.base.neck.frets))
        self._step = Step.DONE
        self.done = True

    # What is shown.

    def showing(self, now_s: float) -> Showing:
        """The present moment, for a view."""
        asking = self._asking()
        ask, words = ask_words(asking, self._found)
        string, fret = self._place()
        neck, marks = self._drawn()
        return Showing(
            step=self._step,
            port=self._setup.port,
            strings=self._found.rows(self._skipped),
            ask=ask,
            words=words,
            message=self._watched_message(now_s),
            string=string,
            fret=fret,
            left_s=self._left_s(now_s),
            options=self._options(),
            keys=keys_of(asking),
            typed=self._typed if self._step is Step.NAME else None,
            found=self._found.lines(self._setup.base.neck.frets) if self._step is Step.FOUND else (),
            neck=neck,
            marks=marks,
        )

    def _watched_message(self, now_s: float) -> str:
        """The last message, or what to look at where nothing comes."""
        if self._step not in (Step.OPEN, Step.FRET_12, Step.SLIDE) or now_s - self._asked_s < PATIENCE_S:
            return self._message
        if not self.heard:
            return NO_INPUT if self._ear.any_s is None else NO_NOTES
        if self._step is Step.OPEN and self._doubted is None:
            return (
                f"String {self._asked} does not arrive? Look at its sensitivity in the converter, whether it "
                "is switched on there, and the pickup under it; n goes on without it."
            )
        return self._message

    def _asking(self) -> Asking:
        return Asking(
            step=self._step,
            asked=self._asked,
            doubted=self._doubted is not None,
            can_go_back=bool(self._order),
            typed=self._typed,
            chosen=self._setup.chosen,
        )

    def _place(self) -> tuple[int | None, int | None]:
        match self._step:
            case Step.OPEN:
                return self._asked or None, 0
            case Step.FRET_12:
                return self._found.test_string, OCTAVE_FRET
            case Step.SLIDE:
                return self._found.test_string, SLIDE_FROM
        return None, None

    def _left_s(self, now_s: float) -> int | None:
        if self._step is Step.SILENCE and self._measured_s is not None:
            return max(0, math.ceil(self._measured_s + SILENCE_S - now_s))
        if self._step is Step.TOUCH:
            return max(0, math.ceil(self._step_s + TOUCH_S - now_s))
        return None

    def _options(self) -> tuple[tuple[str, str], ...]:
        if self._step is Step.OFFSET:
            return tuple((str(n), words) for n, (_, words) in enumerate(self._offsets, start=1))
        return ()

    def _drawn(self) -> tuple[Neck | None, tuple[Place, ...]]:
        """The neck as far as it is known, with the places that were heard."""
        if self._step not in (Step.OFFSET, Step.FOUND, Step.NAME, Step.OVERWRITE, Step.CHOOSE):
            return None, ()
        neck, _ = self._found.neck(self._setup.base.neck.frets)
        marks = [Place(string, 0) for string in self._found.opens]
        if self._found.fret_12 is not None and neck.last_fret >= OCTAVE_FRET:
            marks.append(Place(self._found.test_string, OCTAVE_FRET))
        return neck, tuple(marks)
