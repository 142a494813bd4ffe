"""A drill played in tempo again and again: looking for the tempo a player owns, or up and down a ladder."""

from dataclasses import dataclass, field
from typing import Any, Protocol

from midifret.show.rows import Block, Span, row
from midifret.show.words import counted
from midifret.tempo import (
    Doubt,
    Ladder,
    LadderEnd,
    LadderRules,
    OwnedTempo,
    PassResult,
    Staircase,
    start_ladder,
)

# A pass of the search has so many notes: of 120 in all, ten passes let the tempo follow the player [ours].
SEARCH_PASS_NOTES = 12
# A pass of the ladder has so many at most: half a minute at 96 bpm, so that a step comes soon [ours].
LADDER_PASS_NOTES = 48
_ENDS = {
    LadderEnd.TIME: "The time is up.",
    LadderEnd.TOP: "The top of the ladder is reached.",
    LadderEnd.BOTTOM: "This is the foot of the ladder: the drill itself needs practice in free tempo.",
}
DOUBT_WORDS = {
    Doubt.SLOWER: "it may be slower than any tempo that is asked for",
    Doubt.FASTER: "it may be faster than any tempo that is asked for",
    Doubt.NOT_TEMPO: "less than 90% were right, and slower did not help: practise it in free tempo",
}


class Passes(Protocol):
    """Which tempo is next, and what came of all passes."""

    @property
    def notes(self) -> int:
        """How many notes a pass has at most."""
        ...

    @property
    def tempo_bpm(self) -> float | None:
        """Of the next pass; None where it is over."""
        ...

    def take(self, result: PassResult, played_s: float) -> None:
        """Take a pass that was played to its end.

        played_s: how long all passes took so far, pauses left out.
        """
        ...

    def words(self) -> str:
        """What is said before the next pass."""
        ...

    def rows(self) -> Block:
        """What came of it."""
        ...

    def document(self) -> dict[str, Any]:
        """The same as JSON."""
        ...


@dataclass(slots=True)
class Search:
    """Looks for the fastest tempo at which 90% of the notes are right and in time."""

    start_bpm: float
    notes: int = SEARCH_PASS_NOTES
    _staircase: Staircase = field(init=False)
    _passes: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        """Begin near the tempo that the player named. Raises BadInput for one out of range."""
        self._staircase = Staircase(self.start_bpm)

    @property
    def tempo_bpm(self) -> float | None:
        """Of the next pass."""
        if self._passes and self._staircase.done(self.notes):
            return None
        return self._staircase.next_bpm()

    @property
    def owned(self) -> OwnedTempo:
        """What is known so far."""
        return self._staircase.owned()

    def take(self, result: PassResult, played_s: float) -> None:
        """Learn from a pass."""
        self._passes += 1
        self._staircase.take(result)

    def words(self) -> str:
        """Which pass it is."""
        return f"Pass {self._passes + 1}, at {self.tempo_bpm or 0:.0f} bpm. Looking for the tempo you own."

    def rows(self) -> Block:
        """The tempo found."""
        return owned_rows(self.owned) if self._passes else (row("No pass was played to its end."),)

    def document(self) -> dict[str, Any]:
        """The tempo found."""
        return {"owned_tempo": owned_document(self.owned) if self._passes else None}


@dataclass(slots=True)
class Climb:
    """Goes up the ladder after clean passes and down after bad ones, within some minutes."""

    minutes: float
    start_bpm: float
    notes: int
    count_in_beats: int
    notes_a_beat: int = 1
    _ladder: Ladder = field(init=False)

    def __post_init__(self) -> None:
        """Work out how long a pass takes. Raises BadInput where not one fits into the minutes."""
        beats = self.notes / self.notes_a_beat + self.count_in_beats + 2  # and a breath before the next
        self._ladder = start_ladder(LadderRules(self.minutes, self.start_bpm, beats), 0.0)

    @property
    def tempo_bpm(self) -> float | None:
        """Of the next pass."""
        return None if self._ladder.end is not None else self._ladder.tempo_bpm

    def take(self, result: PassResult, played_s: float) -> None:
        """Step up, down, or stay."""
        self._ladder = self._ladder.after(result, max(played_s, self._ladder.now_s))

    def words(self) -> str:
        """Where the player stands."""
        ladder = self._ladder
        if not ladder.passes:
            return f"The ladder begins at {self.start_bpm:.0f} bpm, for {self.minutes:g} minutes."
        minutes = round(ladder.left_s / 60)
        left = "Less than a minute" if ladder.left_s < 60 else counted(minutes, "minute")
        return f"Pass {ladder.passes + 1}, at {ladder.tempo_bpm:.0f} bpm. {left} left."

    def rows(self) -> Block:
        """How high it went."""
        ladder = self._ladder
        if not ladder.passes:
            return (row("No pass was played to its end."),)
        best = "no pass was clean" if ladder.best_bpm is None else f"clean up to {ladder.best_bpm:.0f} bpm"
        lines = [row(Span(f"{counted(ladder.passes, 'pass', 'passes')}, {best}.", "strong"))]
        if ladder.end is not None:
            lines.append(row(_ENDS[ladder.end]))
        return tuple(lines)

    def document(self) -> dict[str, Any]:
        """passes; best_bpm (null: none clean); tempo_bpm of the next pass; end: time, top, bottom, null."""
        ladder = self._ladder
        return {
            "ladder": {
                "passes": ladder.passes,
                "best_bpm": ladder.best_bpm,
                "tempo_bpm": ladder.tempo_bpm,
                "end": None if ladder.end is None else ladder.end.value,
            }
        }


def owned_rows(owned: OwnedTempo) -> Block:
    """An owned tempo in words."""
    lines = [
        row(
            Span(f"Owned tempo {owned.tempo_bpm:.0f} bpm", "strong"),
            f", 95% from {owned.low_bpm:.0f} to {owned.high_bpm:.0f}, "
            f"by {counted(owned.notes, 'note')} in {counted(owned.passes, 'pass', 'passes')} of this day.",
        )
    ]
    if owned.doubt is not None:
        lines.append(row(f"In doubt: {DOUBT_WORDS[owned.doubt]}."))
    return tuple(lines)


def owned_document(owned: OwnedTempo) -> dict[str, Any]:
    """tempo_bpm; low_bpm, high_bpm (95%); notes, passes; doubt: slower, faster, not tempo, or null."""
    return {
        "tempo_bpm": round(owned.tempo_bpm, 2),
        "low_bpm": round(owned.low_bpm, 2),
        "high_bpm": round(owned.high_bpm, 2),
        "notes": owned.notes,
        "passes": owned.passes,
        "doubt": None if owned.doubt is None else owned.doubt.value,
    }
