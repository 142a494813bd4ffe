"""What the practice book is told of a run, apart from its answers."""

import datetime as dt
from dataclasses import dataclass

from midifret.terms.notes import Glitch


@dataclass(frozen=True, slots=True)
class RunStart:
    """A run as it begins.

    started_utc: wall-clock time, aware, in UTC. zone: IANA name of the player's zone.
    take_file: name of the take in the takes folder. simulated: a virtual player plays.
    port: MIDI input, empty where it is not known. tempo_bpm: None in free tempo.
    names_cued: each note had to be recalled from a cue, in an order not known beforehand.
    window_ms: in tempo, how early or late a note might be, at most; None where nobody said.
    """

    player: str
    drill: str
    title: str
    seed: int
    guitar: str
    started_utc: dt.datetime
    zone: str
    take_file: str
    simulated: bool = False
    port: str = ""
    tempo_bpm: float | None = None
    names_cued: bool = False
    window_ms: float | None = None


@dataclass(frozen=True, slots=True)
class RunEnd:
    """A run as it ends.

    ended_early: the player quit, or the program was stopped. played_s: seconds from the first cue
    to the end, pauses left out. gate_met: whether this run alone met the gate, None without one.
    notes: how many notes were heard, None where nobody counted them. voided: how many were left out besides,
    as made up by the guitar's converter, by their kind. A run whose program was killed never ends so, and
    has neither; its take still tells them. tempo_moved: by which share of the run's tempo a clock that was
    followed went away from it at most; 0 for a tempo of its own, None in free tempo.
    """

    ended_early: bool
    played_s: float
    gate_met: bool | None
    notes: int | None = None
    voided: tuple[tuple[Glitch, int], ...] = ()
    tempo_moved: float | None = None
