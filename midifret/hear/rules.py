"""By what a note is told from a glitch, and a fret that was reached from one that was passed: the numbers."""

from midifret.terms import Glitch, Note, Thresholds

# Vibrato and bad tuning within +-40 cents never change a fret: a sounding note keeps its fret until its pitch
# lies within 40 cents of another one, so more than 60 cents from its own. [design rule]
TOLERANCE_SEMITONES = 0.40
LEAVES_SEMITONES = 1 - TOLERANCE_SEMITONES
# A string that changes fret has arrived when it stays this long. A quick slide over seven frets takes about
# 0.3 s, so 43 ms a fret; the fastest trill by hammer-on has about 12 notes a second, so 80 ms a note [common
# practice, no source]. Between the two, slides give one note and trills give them all.
SETTLE_S = 0.058
# A note whose pitch leaves within this time of its onset had not been plucked where it began: the converter
# told the pitch before it knew it. Two periods of E2, the usual time to hear the lowest string: 24.3 ms.
AT_ONCE_S = 0.025
# Such a note has its fret when its pitch has stayed this long: less than the 43 ms of a quick slide's fret,
# so that a slide begun at once goes past, and short enough for a note that is over in 70 ms.
SETTLE_AT_ONCE_S = 0.035
# What a false note lies above the true one: an octave, a twelfth, two octaves (converter support notes).
HARMONICS_SEMITONES = frozenset({12, 19, 24})
NEAR_HARMONICS_SEMITONES = frozenset(above + off for above in HARMONICS_SEMITONES for off in (-1, 0, 1))
# A note-off and the next note-on so close together were sent as one change of pitch: five messages of a DIN
# cable, 0.96 ms each (MIDI 1.0), so that a chord between the two is no hindrance.
ONE_CHANGE_S = 0.005
# A change of pitch without a pluck is softer than the pluck before it: the string has lost strength. [ours]
UNPLUCKED_SHARE = 0.6
# A slide told by note-ons goes by semitones; a quick one may leave one out. [ours]
SLIDE_STEP_SEMITONES = 2
# A note-off of the same pitch so soon after a note-on is of the note before it: hardly more than a period of
# E2, 12.1 ms (ISO 16), in which no string can be heard to end.
LATE_OFF_S = 0.015
# A note too loud to be doubted is voided if it ends before this and there is a cause beside it: a string that
# was struck, a finger that left; or none, if it is hardly loud. A staccato that the hand damps at once still
# sounds some 40 ms, and nothing that is plucked only 20 ms. [ours]
SUSPECTED_SHORT_S = {Glitch.CROSSTALK: 0.030, Glitch.LIFT_OFF: 0.035, Glitch.TOO_SHORT: 0.020}
# The greatest velocity that is hardly loud: half as much again as what is soft on a guitar not set up. [ours]
HARDLY_LOUD_VELOCITY = 48
# What a converter tells again is softer than the pluck. [ours]
SOFTER_SHARE = 0.8
# Within this share of the time in which nobody strikes a fret again the strength does not matter: the rest is
# for the unsteadiness of a fast hand, whose repeats come 58 ms apart now and then. [ours]
SURELY_SHARE = 0.75
# So much louder than the note before, it was plucked. [ours]
LOUDER_SHARE = 1.25
# A converter that tells a pluck twice takes the note back and tells it again at once. [ours]
RETOLD_S = 0.010
LIFT_OFF_REASON = "soft, when a finger left the string"
PASSED_REASON = f"it did not stay {SETTLE_S * 1000:.0f} ms"


class Doubt:
    """Why a note is doubtful, and when that has to end.

    glitch: what it would be; None where only its pitch is in doubt. reason: for people.
    """

    __slots__ = ("deadline_s", "glitch", "reason")

    def __init__(self, glitch: Glitch | None, reason: str, deadline_s: float) -> None:
        """Doubt until a time."""
        self.glitch = glitch
        self.reason = reason
        self.deadline_s = deadline_s


def again_reason(before: Note, time_s: float) -> str:
    """Why a note is thought to be the one before, told twice."""
    return f"{(time_s - before.onset_s) * 1000:.0f} ms after the same pitch"


def leads_to(before: Note, midi: int) -> bool:
    """Whether a note lies as far above the next one as only a false harmonic does.

    After a doubtful one the true note may itself be told a semitone off and bent into place.
    """
    above = before.midi - midi
    return above in HARMONICS_SEMITONES or (before.doubtful and above in NEAR_HARMONICS_SEMITONES)


def is_crosstalk(struck: Note, velocity: int, midi: int, open_midi: int) -> bool:
    """Whether a note is softer than one struck beside it, and of its pitch, an octave of it, or open."""
    return velocity <= SOFTER_SHARE * struck.velocity and (
        (midi - struck.midi) % 12 == 0 or midi == open_midi
    )


def doubt_of_move(move: Note, open_midi: int, thresholds: Thresholds) -> Doubt:
    """What a note told before the note-off of another one would be if it did not stay."""
    deadline_s = move.onset_s + thresholds.doubt_s
    if move.midi == open_midi and move.velocity <= thresholds.soft_velocity:
        return Doubt(Glitch.LIFT_OFF, LIFT_OFF_REASON, deadline_s)
    return Doubt(Glitch.PASSED, PASSED_REASON, deadline_s)
