"""A ladder of tempos: up after clean passes, down after bad ones, within a number of minutes."""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from midifret.tempo.limits import LEAST_BPM, MOST_BPM, check_tempo, check_time
from midifret.tempo.owned import PassResult
from midifret.terms import BadInput


class LadderEnd(StrEnum):
    """Why there is no next pass."""

    TIME = "time"  # no further pass would end in time
    TOP = "top"  # clean at the highest tempo, as often as a step takes
    BOTTOM = "bottom"  # bad at the lowest tempo, as often as a step takes


@dataclass(frozen=True, slots=True)
class LadderRules:
    """How a ladder goes.

    minutes: how long, all in all. start_bpm: of the first pass. pass_beats: how long a pass is, with its
    count-in and the pause to the next. up, down: factors of a step; two steps up make good for more
    than one down [calc]. clean_share: from which share of right notes a pass is clean; bad_share: under which
    it is bad; between them the tempo stays and both are counted anew. clean_passes: in a row, for a step up.
    bad_passes: in a row, for a step down. least_bpm, most_bpm: the ends of the ladder.
    That several clean passes come before a step up is common practice, no source; the numbers are [ours].
    Raises BadInput for anything out of range.
    """

    minutes: float
    start_bpm: float
    pass_beats: float
    up: float = 1.05
    down: float = 0.93
    clean_share: float = 0.95
    bad_share: float = 0.8
    clean_passes: int = 2
    bad_passes: int = 1
    least_bpm: float = LEAST_BPM
    most_bpm: float = MOST_BPM

    def __post_init__(self) -> None:
        """Check the ranges, and that one pass fits."""
        for tempo_bpm in (self.start_bpm, self.least_bpm, self.most_bpm):
            check_tempo(tempo_bpm)
        if not self.least_bpm <= self.start_bpm <= self.most_bpm:
            raise BadInput(
                f"a ladder cannot start at {self.start_bpm:g} bpm",
                allowed=f"{self.least_bpm:g} to {self.most_bpm:g} bpm, its own ends",
            )
        for name, value, least, most in (
            ("minutes", self.minutes, 0.1, 480),
            ("beats of a pass", self.pass_beats, 1, 10_000),
            ("clean passes for a step up", self.clean_passes, 1, 100),
            ("bad passes for a step down", self.bad_passes, 1, 100),
        ):
            if not least <= value <= most:
                raise BadInput(f"{value:g} {name} cannot be used", allowed=f"{least:g} to {most:g}")
        if not (1 < self.up <= 2 and 0.5 <= self.down < 1):
            raise BadInput(
                f"steps by {self.up:g} and {self.down:g} cannot be used",
                allowed="up: above 1, at most 2; down: 0.5 or more, under 1",
            )
        if not 0 <= self.bad_share <= self.clean_share <= 1:
            raise BadInput(
                f"bad under {self.bad_share:g} and clean from {self.clean_share:g} contradict each other",
                allowed="0 or more, bad_share not above clean_share, at most 1",
            )
        if self.pass_s(self.start_bpm) > self.minutes * 60:
            raise BadInput(
                f"a pass of {self.pass_beats:g} beats at {self.start_bpm:g} bpm does not fit into "
                f"{self.minutes:g} minutes",
                allowed=f"{math.ceil(self.pass_s(self.start_bpm) / 6) / 10:g} minutes or more",
            )

    def pass_s(self, tempo_bpm: float) -> float:
        """Return how long a pass takes at a tempo."""
        return self.pass_beats * 60 / tempo_bpm


@dataclass(frozen=True, slots=True)
class Ladder:
    """Where a player stands on the ladder: a value; each pass gives the next one.

    tempo_bpm: of the next pass, or of the last where it has ended. clean, bad: passes in a row at this tempo.
    best_bpm: the fastest tempo with a clean pass, None before one. passes: how many were played.
    """

    rules: LadderRules
    started_s: float
    now_s: float
    tempo_bpm: float
    clean: int = 0
    bad: int = 0
    passes: int = 0
    best_bpm: float | None = None
    end: LadderEnd | None = None

    @property
    def left_s(self) -> float:
        """How many seconds are left; never less than 0."""
        return max(self.started_s + self.rules.minutes * 60 - self.now_s, 0.0)

    def after(self, result: PassResult, now_s: float) -> "Ladder":
        """Return where the player stands after a pass at tempo_bpm that ended at now_s.

        The clock of now_s is the run's: it stands while the run pauses. A pass that ends late still counts.
        Raises BadInput for a time before the last, a pass at another tempo, or one after the end.
        """
        rules = self.rules
        check_time(now_s, what="the end of a pass", not_before_s=self.now_s)
        if self.end is not None:
            raise BadInput("the ladder has ended and takes no more passes", allowed="a new ladder")
        if not math.isclose(result.tempo_bpm, self.tempo_bpm, rel_tol=1e-9):
            raise BadInput(
                f"a pass at {result.tempo_bpm:g} bpm does not belong here", allowed=f"{self.tempo_bpm:g} bpm"
            )
        share = result.right / result.notes
        is_clean, is_bad = share >= rules.clean_share, share < rules.bad_share
        clean, bad = (self.clean + 1 if is_clean else 0), (self.bad + 1 if is_bad else 0)
        best_bpm = self.best_bpm
        if is_clean:
            best_bpm = max(best_bpm or 0.0, self.tempo_bpm)
        tempo_bpm, end = self.tempo_bpm, None
        if clean >= rules.clean_passes:
            tempo_bpm, clean = min(tempo_bpm * rules.up, rules.most_bpm), 0
            end = LadderEnd.TOP if self.tempo_bpm >= rules.most_bpm else None
        elif bad >= rules.bad_passes:
            tempo_bpm, bad = max(tempo_bpm * rules.down, rules.least_bpm), 0
            end = LadderEnd.BOTTOM if self.tempo_bpm <= rules.least_bpm else None
        stands = replace(
            self,
            now_s=now_s,
            tempo_bpm=tempo_bpm,
            clean=clean,
            bad=bad,
            passes=self.passes + 1,
            best_bpm=best_bpm,
            end=end,
        )
        if end is None and rules.pass_s(tempo_bpm) > stands.left_s:
            return replace(stands, end=LadderEnd.TIME)
        return stands


def start_ladder(rules: LadderRules, now_s: float) -> Ladder:
    """Return the foot of the ladder: the first pass is at the start tempo, and time runs from now_s."""
    check_time(now_s, what="the start of a ladder")
    return Ladder(rules, now_s, now_s, rules.start_bpm)
