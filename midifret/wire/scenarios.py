"""Converters by name: from one that tells everything as it was to one that nobody would buy."""

import math
import random
from dataclasses import dataclass, replace

from midifret.terms import BadInput


@dataclass(frozen=True, slots=True)
class Spread:
    """A time in seconds drawn from a normal distribution and kept at or above its least value."""

    mean_s: float
    deviation_s: float
    least_s: float = 0.002

    def draw_s(self, draw: random.Random) -> float:
        """Draw a time."""
        return max(self.least_s, draw.gauss(self.mean_s, self.deviation_s))


@dataclass(frozen=True, slots=True)
class Scenario:
    """What a converter does to what the hand did. Every number without a source is [ours].

    Times and sizes follow what is known of converters: a note is heard after a fixed time and some periods
    of its pitch (Derrien, DAFx-14; two periods usual, Fonseca & Tavares 2020; pessimistic about 50 ms for
    E2, Dieleman 2009); a guitar that senses the frets is flat, 5 to 8 ms. False notes lie an octave, twelfth
    or two octaves up, soft, under about 50 ms, just before the true one, and a finger that leaves a ringing
    string makes it speak open, softly (support notes and players' guides, numbers from memory). How often
    any of it happens differs from guitar to guitar and day to day; the shares are [ours].

    Shares are of 1: of plucks, unless it says otherwise. What is drawn by a normal distribution has no upper
    end: glitches overlap with what is played softly or briefly.
    """

    name: str
    # From the pluck to its note-on: fixed, so many periods of the pitch, and a normal spread.
    latency_fixed_s: float = 0.0
    latency_periods: float = 0.0
    latency_deviation_s: float = 0.0
    # A byte takes 320 us on a cable of 31,250 baud, a note-on 0.96 ms (MIDI 1.0); on USB nearly nothing.
    byte_s: float = 0.0
    # A note-on is followed by no other on its string for so long.
    least_note_s: float = 0.0
    # A plucked string is told as ended at most so long before the note-on of the next pluck.
    damping_s: float = 0.0
    # Of plucks on a sounding string: the note-off of the old note comes up to 6 ms after the new note-on.
    late_off_share: float = 0.0
    # Of note-offs: sent as a note-on with velocity 0, which is the same (MIDI 1.0).
    zero_velocity_off_share: float = 0.0
    # What is sent differs from how hard the string was plucked, as a standard deviation in velocity.
    velocity_deviation: float = 0.0
    # Glitches have this velocity in the middle; a third of them lies outside a factor of e to this power.
    glitch_velocity: float = 12.0
    glitch_velocity_spread: float = 0.4
    # So many real notes are as soft as glitches, drawn from the same distribution.
    soft_share: float = 0.0
    # A soft note an octave, twelfth or two octaves up, as soon as its own shorter period allows, then the
    # true one. Of these: its note-off comes after the true note-on.
    harmonic_share: float = 0.0
    harmonic_lasts: Spread = Spread(0.025, 0.010)
    harmonic_overlap_share: float = 0.3
    # The open string, soft, when a finger leaves a ringing string. Of fretted notes that end by themselves.
    lift_off_share: float = 0.0
    lift_off_after: Spread = Spread(0.012, 0.008)
    lift_off_lasts: Spread = Spread(0.025, 0.010)
    # The same pluck told again after so long.
    double_share: float = 0.0
    double_after: Spread = Spread(0.028, 0.009, 0.006)
    # A neighbouring string that is silent speaks: so long after the note-on of the struck string, or before
    # it, with this share of its velocity in the middle; a third lies outside a factor of e to the spread.
    crosstalk_share: float = 0.0
    crosstalk_after: Spread = Spread(0.005, 0.008, -0.020)
    crosstalk_velocity_share: float = 0.15
    crosstalk_velocity_spread: float = 0.4
    crosstalk_lasts: Spread = Spread(0.022, 0.009)
    # Something soft and short on a silent string beside the music.
    noise_share: float = 0.0
    noise_lasts: Spread = Spread(0.016, 0.010)
    # The note is told a semitone off and bent into place after so long; one in five from above.
    late_bend_share: float = 0.0
    late_bend_after: Spread = Spread(0.013, 0.004, 0.005)
    # Of note-ons after a bend: it still stands at the note-on and goes home so long after it.
    standing_bend_share: float = 0.0
    standing_bend_lasts: Spread = Spread(0.005, 0.003)
    # Slides and hammer-ons: by bends where the bend range allows, else by a new note-on for each semitone.
    bends: bool = True
    # The bend range in semitones where it is not the guitar's own, told by RPN 0 if at all (MIDI 1.0).
    bend_range_semitones: float | None = None
    tells_bend_range: bool = False
    # Of two bends one comes at least so long after the other on one string: some 200 a second at most. Of
    # those: not sent, but the last of each is.
    bend_step_s: float = 0.005
    thinned_share: float = 0.0
    # Bends tell how far a string is off its pitch, or every note is told as exact.
    tells_cents: bool = False
    # Tuning wanders by so many cents a minute, within this.
    drift_cents_per_minute: float = 0.0
    drift_cents: float = 35.0
    # With vibrato and all, a string that is held is never further off than this. [design rule]
    off_cents: float = 40.0
    # Of all note-offs: not sent, sent twice. Of all plucks: something else is sent beside them.
    lost_off_share: float = 0.0
    second_off_share: float = 0.0
    stray_share: float = 0.0
    # Of what is sent beside: bytes that are no message, where MIDI forbids them.
    garbage_share: float = 0.0
    # Active sensing every 0.3 s (MIDI 1.0) and a clock of 24 a beat at 120 a minute.
    realtime: bool = False

    def latency_s(self, midi: int, draw: random.Random) -> float:
        """Draw the time from a pluck of a sounding pitch to its note-on."""
        hz = 440.0 * math.pow(2.0, (midi - 69) / 12)  # ISO 16
        mean_s = self.latency_fixed_s + self.latency_periods / hz
        return max(mean_s / 2, draw.gauss(mean_s, self.latency_deviation_s))

    def draw_velocity(self, draw: random.Random) -> int:
        """Draw the velocity of a glitch, 1 to 127."""
        drawn = self.glitch_velocity * math.exp(self.glitch_velocity_spread * draw.gauss(0.0, 1.0))
        return min(127, max(1, round(drawn)))


CLEAN = Scenario("clean")
ORDINARY = Scenario(
    "ordinary",
    latency_fixed_s=0.003,
    latency_periods=2.0,
    latency_deviation_s=0.001,
    byte_s=0.00032,
    least_note_s=0.010,
    damping_s=0.008,
    late_off_share=0.05,
    zero_velocity_off_share=0.3,
    velocity_deviation=4.0,
    soft_share=0.03,
    harmonic_share=0.03,
    lift_off_share=0.05,
    double_share=0.02,
    crosstalk_share=0.03,
    noise_share=0.01,
    late_bend_share=0.03,
    standing_bend_share=0.1,
    thinned_share=0.2,
    tells_cents=True,
    drift_cents_per_minute=3.0,
)
POOR = replace(
    ORDINARY,
    name="poor",
    latency_fixed_s=0.005,
    latency_periods=3.7,  # 50 ms for E2, whose period is 12.13 ms: the pessimistic figure
    latency_deviation_s=0.002,
    damping_s=0.012,
    late_off_share=0.15,
    velocity_deviation=8.0,
    glitch_velocity=16.0,
    glitch_velocity_spread=0.45,
    soft_share=0.05,
    harmonic_share=0.10,
    harmonic_lasts=Spread(0.028, 0.010),
    lift_off_share=0.20,
    lift_off_after=Spread(0.020, 0.015),
    lift_off_lasts=Spread(0.025, 0.010),
    double_share=0.08,
    double_after=Spread(0.028, 0.010, 0.006),
    crosstalk_share=0.12,
    crosstalk_after=Spread(0.005, 0.012, -0.030),
    crosstalk_velocity_share=0.2,
    crosstalk_velocity_spread=0.5,
    crosstalk_lasts=Spread(0.022, 0.010),
    noise_share=0.05,
    noise_lasts=Spread(0.018, 0.010),
    late_bend_share=0.10,
    late_bend_after=Spread(0.017, 0.005, 0.005),
    standing_bend_share=0.3,
    standing_bend_lasts=Spread(0.008, 0.005),
    thinned_share=0.5,
    drift_cents_per_minute=8.0,
)
HOSTILE = replace(
    POOR,
    name="hostile",
    latency_deviation_s=0.005,
    glitch_velocity=25.0,
    glitch_velocity_spread=0.6,
    soft_share=0.10,
    harmonic_share=0.25,
    harmonic_lasts=Spread(0.035, 0.020),
    lift_off_share=0.50,
    lift_off_lasts=Spread(0.050, 0.030),
    double_share=0.20,
    double_after=Spread(0.040, 0.020, 0.006),
    crosstalk_share=0.40,
    crosstalk_velocity_share=0.35,
    crosstalk_velocity_spread=0.6,
    crosstalk_lasts=Spread(0.045, 0.030),
    noise_share=0.20,
    noise_lasts=Spread(0.040, 0.030),
    late_bend_share=0.25,
    late_bend_after=Spread(0.030, 0.015, 0.005),
    standing_bend_share=0.6,
    drift_cents_per_minute=20.0,
    lost_off_share=0.05,
    second_off_share=0.05,
    stray_share=0.02,
    garbage_share=0.15,
    realtime=True,
)
SCENARIOS = {scenario.name: scenario for scenario in (CLEAN, ORDINARY, POOR, HOSTILE)}


def named_scenario(name: str) -> Scenario:
    """Return a scenario by name. Raises BadInput, with the names there are."""
    if name not in SCENARIOS:
        raise BadInput(f"there is no converter {name!r}", allowed=", ".join(SCENARIOS))
    return SCENARIOS[name]
