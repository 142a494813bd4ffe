"""What a page chose before it began something, as the commands of the terminal take it."""

from midifret.cli.in_tempo import TempoWishes
from midifret.cli.read import ReadingAsked
from midifret.fingering import OpenStrings
from midifret.stand.messages import Begin
from midifret.terms import BadInput

# A ladder takes so many minutes where nobody says: some eight passes of half a minute and a breath [ours].
LADDER_MINUTES = 5.0
_LEAST_LADDER, _MOST_LADDER = 0.5, 120.0  # as --ladder has it
_IN_TEMPO = ("find", "ladder")


def drill_wishes(begin: Begin) -> TempoWishes:
    """Return what was chosen of a drill's tempo. Raises BadInput for what contradicts itself."""
    if begin.way == "free":
        if begin.tempo_bpm is not None:
            raise BadInput("in free tempo there are no beats a minute", allowed="free tempo, or a tempo")
        return TempoWishes(free=True)
    if begin.way == "ladder":
        minutes = LADDER_MINUTES if begin.minutes is None else begin.minutes
        if not _LEAST_LADDER <= minutes <= _MOST_LADDER:
            raise BadInput(
                f"a ladder of {minutes:g} minutes cannot be played",
                allowed=f"{_LEAST_LADDER:g} to {_MOST_LADDER:g} minutes",
            )
        return TempoWishes(tempo_bpm=begin.tempo_bpm, ladder_minutes=minutes)
    return TempoWishes(tempo_bpm=begin.tempo_bpm, find=begin.way == "find")


def reading_wishes(begin: Begin, usual_position: int | None) -> ReadingAsked:
    """Return how a score is to be read. usual_position: where nothing else was chosen; None for anywhere.

    Raises BadInput for what contradicts itself.
    """
    if begin.anywhere and begin.position is not None:
        raise BadInput("a position and the whole neck cannot go together", allowed="one of them")
    if begin.way == "free" and begin.tempo_bpm is not None:
        raise BadInput("in free tempo there are no beats a minute", allowed="free tempo, or a tempo")
    position = begin.position if begin.position is not None or begin.anywhere else usual_position
    if begin.open_strings is not None and position is None:
        raise BadInput("a rule for open strings needs a position", allowed="with a position")
    return ReadingAsked(
        position=position,
        open_strings=OpenStrings(begin.open_strings or OpenStrings.NEEDED),
        fingered=begin.fingered,
        in_tempo=TempoWishes(tempo_bpm=begin.tempo_bpm),
    )


def left_out_of_drill(begin: Begin) -> str:
    """What was chosen that a drill cannot heed, in a sentence; empty for nothing."""
    of_readings = begin.anywhere or begin.open_strings is not None or begin.fingered or begin.bars
    words = []
    if begin.position is not None or of_readings:
        words.append("A drill has places of its own: what was chosen for readings does not hold for it.")
    if begin.way == "find" and begin.minutes is not None:
        words.append("A search lasts until the tempo is known, whatever the minutes.")
    return " ".join(words)


def left_out_of_reading(begin: Begin, *, composed: bool) -> str:
    """What was chosen that a reading cannot heed, likewise. composed: a melody, which has bars of its own."""
    words = []
    if begin.way in _IN_TEMPO:
        words.append("Search and ladder are for drills: this is read once.")
    if composed and begin.bars:
        words.append("A melody is read whole.")
    return " ".join(words)
