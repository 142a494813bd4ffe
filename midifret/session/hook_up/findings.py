"""Everything that is known of a guitar while it is hooked up, and the guitar that it makes."""

from collections import Counter
from collections.abc import Sequence
from enum import StrEnum

from midifret.gear.guitar import Guitar, channel_map
from midifret.neck import Language, Neck, Tuning, pitch_name, spell
from midifret.session.hook_up.ear import Ear, Heard
from midifret.session.hook_up.reckon import (
    SURE_SHARE,
    Noise,
    Slide,
    TuningMatch,
    assumed_channels,
    cents_off,
    derive_thresholds,
    match_tuning,
    nearest_range,
    open_pitches,
)
from midifret.session.hook_up.showing import StringRow
from midifret.terms import Encoding, Place, Thresholds, Wiring

# Beyond this a string is to be tuned before anything is written [the project's own promise].
OUT_OF_TUNE_CENTS = 30.0
# A whole guitar that lies so far from A = 440 Hz is tuned so on purpose (A = 435 Hz is 20 cents lower), and
# the file says it; less is a matter of the day [ours].
_ON_PURPOSE_CENTS = 15.0
# Full bend until the guitar says otherwise: two semitones (General MIDI), in MPE 48 (MPE 1.1).
_USUAL_RANGE, _MPE_RANGE = 2, 48
_LEAST_RANGE, _MOST_RANGE = 0.5, 96.0  # what a guitar's file takes
# What strings 1, 2, ... of a guitar with up to eight are tuned to, for telling a wrong string and for one
# that did not arrive: standard tuning (music21 instrument.Guitar().stringPitches), below it a seventh on B
# and an eighth on F# [common practice, no source].
STANDARD_MIDI = (64, 59, 55, 50, 45, 40, 35, 30)


class Offset(StrEnum):
    """Why all strings arrive higher or lower than a tuning by the same interval."""

    CAPO = "capo"
    RETUNED = "retuned"
    TRANSPOSED = "transposed"


class Findings:
    """What was heard so far, and what follows from it. Nothing is kept that follows from something else.

    opens: the clearest pluck of each open string. wandered: one string came on several channels.
    fret_12: the test string there. slides: those that moved. controller_channel: the one that bent the string
    in the slide, if that was not its own. noises: None until they were measured.
    """

    def __init__(self, strings: int, tunings: Sequence[Tuning], language: Language, ear: Ear) -> None:
        """Know nothing yet."""
        self.strings = strings
        self.opens: dict[int, Heard] = {}
        self.wandered = False
        self.test_string = 0
        self.fret_12: Heard | None = None
        self.slides: list[Slide] = []
        self.controller_channel: int | None = None
        self.noises: list[Noise] | None = None
        self.offset: Offset | None = None
        self._tunings = tunings
        self._language = language
        self._ear = ear

    @property
    def channels(self) -> dict[int, int]:
        """The channel on which each string that arrived was heard, 0 to 15."""
        return {string: heard.channel for string, heard in self.opens.items()}

    @property
    def encoding(self) -> Encoding:
        """What a channel stands for, as far as is known."""
        if self._ear.mpe or self.wandered:
            return Encoding.MPE
        channels = self.channels
        return Encoding.PER_STRING if len(set(channels.values())) == len(channels) else Encoding.ONE_CHANNEL

    @property
    def shared(self) -> tuple[tuple[int, ...], int] | None:
        """Strings that came on one channel, and it, where others have one of their own; else None."""
        if self.encoding is not Encoding.ONE_CHANNEL or len(set(self.channels.values())) == 1:
            return None
        channel, _ = Counter(self.channels.values()).most_common(1)[0]
        return tuple(sorted(s for s, c in self.channels.items() if c == channel)), channel

    @property
    def told_range(self) -> float | None:
        """Semitones at full bend, if the guitar says it (RPN 0)."""
        channels = [*self._ear.note_channels]
        if self.controller_channel is not None:
            channels.append(self.controller_channel)
        told = Counter(self._ear.ranges[c] for c in channels if self._ear.ranges.get(c, 0) > 0)
        return told.most_common(1)[0][0] if told else None

    @property
    def slid_range(self) -> tuple[int, bool] | None:
        """The usual range that the last slide which told one is nearest to, and whether that is sure."""
        readings = [s.range_semitones for s in self.slides if s.range_semitones is not None]
        if not readings:
            return None
        usual, off = nearest_range(readings[-1])
        agree = len(readings) > 1 and all(nearest_range(reading)[0] == usual for reading in readings)
        return usual, off <= SURE_SHARE or agree

    @property
    def bend_range(self) -> float:
        """Semitones at full bend: as told, or as the slide says, or the usual."""
        told, slid = self.told_range, self.slid_range
        if told is not None:
            return min(max(told, _LEAST_RANGE), _MOST_RANGE)
        if slid is not None:
            return float(slid[0])
        return float(_MPE_RANGE if self.encoding is Encoding.MPE else _USUAL_RANGE)

    @property
    def pitches(self) -> dict[int, float]:
        """The pitch sent for each open string, MIDI numbers with their fraction."""
        return {string: heard.pitch(self.bend_range) for string, heard in self.opens.items()}

    @property
    def match(self) -> TuningMatch:
        """The tuning that fits."""
        return match_tuning(self.pitches, self.strings, self._tunings)

    @property
    def cents(self) -> dict[int, float]:
        """How far each string that arrived is from its pitch."""
        return cents_off(self.pitches, self.match)

    @property
    def out_of_tune(self) -> dict[int, float]:
        """Strings more than 30 cents from their pitch."""
        return {string: off for string, off in self.cents.items() if abs(off) > OUT_OF_TUNE_CENTS}

    @property
    def thresholds(self) -> Thresholds:
        """What may be a glitch: as measured, or as shipped where nothing was."""
        if self.noises is None:
            return Thresholds()
        plucks = [*self.opens.values(), *([self.fret_12] if self.fret_12 else [])]
        return derive_thresholds(self.noises, plucks, Thresholds())

    @property
    def softest(self) -> int:
        """The velocity of the softest pluck."""
        return min((heard.velocity for heard in self.opens.values()), default=127)

    def name_of(self, string: int) -> str:
        """The name of an open string as it arrives, as players are shown it; empty before it did."""
        if string not in self.opens:
            return ""
        cents = self.cents[string] / 100
        return pitch_name(spell(round(self.pitches[string] - cents))[0], self._language)

    def rows(self, skipped: set[int]) -> tuple[StringRow, ...]:
        """How each string stands, string 1 first."""
        return tuple(self._row(string, skipped) for string in range(1, self.strings + 1))

    def _row(self, string: int, skipped: set[int]) -> StringRow:
        heard = self.opens.get(string)
        if heard is None:
            return StringRow(string, state="did not arrive" if string in skipped else "waiting")
        if self.told_range is None and not self.slides:
            # What the bends mean is not known yet.
            return StringRow(string, self.name_of(string), heard.channel, state="heard", ok=True)
        off = self.cents[string]
        flat = abs(off) > OUT_OF_TUNE_CENTS
        state = f"{abs(off):.0f} cents {'sharp' if off > 0 else 'flat'}" if flat else "heard"
        return StringRow(string, self.name_of(string), heard.channel, off, state, ok=not flat)

    # The guitar.

    def neck(self, frets: int) -> tuple[Neck, bool]:
        """The neck, and whether its tuning is none of those known."""
        match = self.match
        opens = open_pitches(self.pitches, match, self.strings, STANDARD_MIDI)
        if match.tuning is not None and (match.offset == 0 or self.offset is not Offset.RETUNED):
            capo = match.offset if self.offset is Offset.CAPO else 0
            return Neck(match.tuning, frets, capo), False
        names = [pitch_name(spell(midi)[0], signs=False) for midi in reversed(opens)]
        if match.tuning is not None:
            name = f"{match.tuning.name}-{_moved(match.offset)}"
            title = f"{match.tuning.title}, {semitones_words(match.offset)}"
        else:
            name = "-".join(each.lower().replace("#", "s") for each in names)
            title = f"Tuned {' '.join(names)}"
        return Neck(Tuning(self._free_name(name), title[:60], opens), frets), True

    def _free_name(self, name: str) -> str:
        taken = {tuning.name for tuning in self._tunings}
        return next(each for each in (name, *(f"{name}-{n}" for n in range(2, 1000))) if each not in taken)

    def guitar(self, name: str, base: Guitar, port: str) -> tuple[Guitar, bool]:
        """The guitar that was found, and whether its tuning is a new one.

        base: gives what plucking does not tell: frets, title, pedals and signals.
        """
        neck, new_tuning = self.neck(base.neck.frets)
        channels = assumed_channels(self.channels, self.strings)
        per_string = self.encoding is Encoding.PER_STRING and channels is not None
        wiring = Wiring(
            channels=channel_map(channels) if per_string and channels else Wiring().channels,
            bend_range_semitones=self.bend_range,
            encoding=self.encoding,
            controller_channel=self._controllers(channels) if per_string else None,
            transpose_semitones=-self.match.offset if self.offset is Offset.TRANSPOSED else 0,
            cents=self._written_cents(),
            thresholds=self.thresholds,
        )
        signals = tuple(s for s in base.signals if all(neck.has(Place(p.string, p.fret)) for p in s.places))
        same = base.name == name and neck.tuning == base.neck.tuning and neck.capo == base.neck.capo
        title = base.title if same else f"{_count(self.strings)} strings, {neck.tuning.title}"[:60]
        guitar = Guitar(
            name, title, neck, wiring, port, base.controls, signals, signal_within_s=base.signal_within_s
        )
        return guitar, new_tuning

    def _controllers(self, channels: tuple[int, ...] | None) -> int | None:
        controllers = self.controller_channel
        return None if channels is not None and controllers in channels else controllers

    def _written_cents(self) -> tuple[float, ...]:
        """How far each string is off, where that is on purpose; else nothing."""
        cents = self.cents
        if not cents:
            return ()
        middle = sum(cents.values()) / len(cents)
        together = all(abs(off - middle) <= _ON_PURPOSE_CENTS for off in cents.values())
        if not self.out_of_tune and not (together and abs(middle) > _ON_PURPOSE_CENTS):
            return ()
        rest = middle if together else 0.0
        return tuple(round(cents.get(string, rest), 1) for string in range(1, self.strings + 1))

    def lines(self, frets: int) -> tuple[str, ...]:
        """What was found, in words, a line each."""
        neck, _ = self.neck(frets)
        tuning = f"Tuning: {neck.tuning.title}"
        if neck.capo:
            tuning += f", capo at fret {neck.capo}"
        if self.offset is Offset.TRANSPOSED:
            tuning += f"; the converter sends it {semitones_words(self.match.offset)}"
        missing = [s for s in range(1, self.strings + 1) if s not in self.opens]
        lines = [self._channel_line(), f"{tuning}."]
        if missing:
            lines.append(f"Assumed, for it did not arrive: string {listed(missing)}.")
        lines += [self._range_line(), *self._octave_line(), *self._noise_line()]
        return tuple(lines)

    def _channel_line(self) -> str:
        if self.encoding is Encoding.MPE:
            return "MPE: a channel is no string; notes are known by pitch, their string is not."
        channels = assumed_channels(self.channels, self.strings)
        if self.encoding is Encoding.ONE_CHANNEL or channels is None:
            return "Strings share a channel: notes are known by pitch, their string is not."
        line = f"Strings 1 to {self.strings} on channels {' '.join(str(c + 1) for c in channels)}"
        if self.controller_channel is not None:
            line += f", bends for all on channel {self.controller_channel + 1}"
        return f"{line}."

    def _range_line(self) -> str:
        told, slid = self.told_range, self.slid_range
        start = f"Bend range {self.bend_range:g}"
        if told is not None:
            if slid is not None and slid[1] and abs(slid[0] / told - 1) > 2 * SURE_SHARE:
                return f"{start}: the guitar says so, but the slide says {slid[0]}; look at its settings."
            return f"{start}: the guitar says so itself."
        if slid is not None:
            return f"{start}: from the slide, {'sure' if slid[1] else 'not quite sure'}."
        if any(slide.by_notes for slide in self.slides):
            return f"{start}: assumed; each semitone of the slide came as a new note."
        return f"{start}: assumed; no slide told it."

    def _octave_line(self) -> list[str]:
        if self.fret_12 is None:
            return []
        off = self.fret_12.pitch(self.bend_range) - self.pitches[self.test_string] - 12
        return [f"Fret 12 of string {self.test_string}: an octave above it, {off * 100:+.0f} cents."]

    def _noise_line(self) -> list[str]:
        if self.noises is None:
            return ["Noise was not measured; its limits are the usual ones."]
        soft, softest = self.thresholds.soft_velocity, self.softest
        limit = f"doubtful up to velocity {soft}"
        if not self.noises:
            return [f"No noise from touching; softest pluck {softest}; {limit}."]
        loudest = max(noise.velocity for noise in self.noises)
        longest_ms = 1000 * max(noise.length_s for noise in self.noises)
        line = f"Noise: {len(self.noises)} notes, at most velocity {loudest} and {longest_ms:.0f} ms"
        if loudest >= softest:
            return [f"{line}: as loud as soft plucks ({softest}); lower the converter's sensitivity."]
        return [f"{line}; softest pluck {softest}; {limit}."]


def listed(strings: Sequence[int]) -> str:
    """Several strings in words: 2 and 3."""
    texts = [str(string) for string in strings]
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"


def _count(strings: int) -> str:
    return {6: "Six", 7: "Seven", 8: "Eight"}.get(strings, str(strings))


def semitones_words(offset: int) -> str:
    """An interval up or down: 2 semitones lower."""
    what = "a semitone" if abs(offset) == 1 else f"{abs(offset)} semitones"
    return f"{what} {'higher' if offset > 0 else 'lower'}"


def _moved(offset: int) -> str:
    return f"{abs(offset)}-{'higher' if offset > 0 else 'lower'}"
