"""How well a place is known for a kind of cue: dark, found, slow, known or automatic."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from midifret.estimates import wilson
from midifret.terms.calibration import Recall
from midifret.terms.exercise import CueKind
from midifret.terms.place import Place
from midifret.timing.recall import RecallFigure, recall_figure


class State(StrEnum):
    """What can be said of a place, from nothing to the best."""

    DARK = "dark"  # never asked, or wrong too often
    FOUND = "found"  # found oftener than not, by working it out or not yet shown otherwise
    SLOW = "slow"  # it comes, but late
    KNOWN = "known"  # known by heart
    AUTOMATIC = "automatic"  # it comes by itself


@dataclass(frozen=True, slots=True)
class StateThresholds:
    """What a place has to show for a state: share right at least, and recall time at most.

    Both are judged at the cautious end of what the answers allow, at `confidence`, one-sided [ours], so that
    few answers give a low state: one right answer gives `found` at best, two `slow`, three `known`, and seven
    `automatic`.
    """

    confidence: float = 0.8
    # So many answers of a place and kind of cue count, the newest: older ones tell what it was like then.
    # All of 20 right are enough for `automatic` with one wrong to spare for `known`. [ours]
    newest: int = 20
    # Oftener right than wrong; the others [ours]: what answers with some 8, 9 and 19 of 20 right show.
    found_right: float = 0.5
    slow_right: float = 0.7
    known_right: float = 0.8
    automatic_right: float = 0.9
    # Retrieval takes about 1 s where it is automatic; what takes more than 2 to 3 s is worked out (review by
    # Crawford, citing Ashcraft 1982 and Logan 1988).
    automatic_s: float = 1.0
    known_s: float = 2.0
    slow_s: float = 3.0

    def __post_init__(self) -> None:
        """Check the order. Raises ValueError."""
        if self.newest < 1:
            raise ValueError(f"of each place 1 answer or more counts, not {self.newest}")
        if not 0.5 <= self.confidence < 1:
            raise ValueError(f"confidence goes from 0.5 to below 1, not {self.confidence}")
        if not 0 < self.found_right <= self.slow_right <= self.known_right <= self.automatic_right <= 1:
            raise ValueError("shares right go up from found to automatic, above 0 and up to 1")
        if not 0 < self.automatic_s <= self.known_s <= self.slow_s:
            raise ValueError("recall times go up from automatic to slow, above 0 s")


DEFAULT_THRESHOLDS = StateThresholds()


@dataclass(frozen=True, slots=True)
class CuedAnswer:
    """One answer to a cue. recall: None where nothing was played. right: at the first try."""

    place: Place
    cue: tuple[CueKind, ...]
    right: bool
    recall: Recall | None = None


@dataclass(frozen=True, slots=True)
class PlaceState:
    """What can be said of one place for one kind of cue. figure: of the right answers, None for too few."""

    place: Place
    cue: tuple[CueKind, ...]
    state: State
    answers: int
    right: int
    figure: RecallFigure | None


def right_at_least(right: int, answers: int, confidence: float) -> float:
    """Return the share right that is exceeded at a one-sided confidence, 0 to 1; 0 without answers.

    Lower end of Wilson's interval. Raises ValueError where more are right than were given.
    """
    if not 0 <= right <= answers:
        raise ValueError(f"{right} of {answers} answers cannot be right")
    return wilson(right, answers, confidence)[0]


def state_of(
    answers: int, right: int, figure: RecallFigure | None, thresholds: StateThresholds = DEFAULT_THRESHOLDS
) -> State:
    """Say how well a place is known.

    figure: recall times of its right answers; None for fewer than two, which allows `found` at most.
    Times with more in them than recall (raw, with travel) are taken as they are: the state is then too low
    rather than too high.
    """
    share = right_at_least(right, answers, thresholds.confidence)
    if share < thresholds.found_right:
        return State.DARK
    if figure is None:
        return State.FOUND
    time_s = figure.at_most_s(thresholds.confidence)
    if share >= thresholds.automatic_right and time_s <= thresholds.automatic_s:
        return State.AUTOMATIC
    if share >= thresholds.known_right and time_s <= thresholds.known_s:
        return State.KNOWN
    if share >= thresholds.slow_right and time_s <= thresholds.slow_s:
        return State.SLOW
    return State.FOUND


_Asked = tuple[Place, tuple[CueKind, ...]]


def _asked(answer: CuedAnswer) -> _Asked:
    return answer.place, tuple(sorted(set(answer.cue)))


def newest(
    answers: Iterable[CuedAnswer], thresholds: StateThresholds = DEFAULT_THRESHOLDS
) -> tuple[CuedAnswer, ...]:
    """Return the newest `thresholds.newest` answers of each place and kind of cue, in the order given.

    answers: the oldest first. Right and wrong ones count alike, and so do those with nothing played.
    """
    given = tuple(answers)
    counts: Counter[_Asked] = Counter()
    kept = []
    for answer in reversed(given):
        counts[_asked(answer)] += 1
        if counts[_asked(answer)] <= thresholds.newest:
            kept.append(answer)
    return tuple(reversed(kept))


def place_states(
    answers: Iterable[CuedAnswer], thresholds: StateThresholds = DEFAULT_THRESHOLDS
) -> tuple[PlaceState, ...]:
    """Say it for each place and kind of cue that was asked, in the order of strings, frets and cues.

    What a cue shows counts, not in which order. All answers count: see `newest` for which ones to hand in.
    """
    groups: dict[_Asked, list[CuedAnswer]] = defaultdict(list)
    for answer in answers:
        groups[_asked(answer)].append(answer)
    found = []
    for (place, cue), members in sorted(groups.items()):
        right = [member for member in members if member.right]
        figure = recall_figure([member.recall for member in right if member.recall is not None])
        state = state_of(len(members), len(right), figure, thresholds)
        found.append(PlaceState(place, cue, state, len(members), len(right), figure))
    return tuple(found)
