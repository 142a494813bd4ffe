"""In which positions music can be played, by the reach of the hand alone."""

from collections.abc import Mapping
from dataclasses import dataclass

from midifret.neck import Neck, in_reach

# A position suits music of which at most so large a share has to be fetched by shifts [ours].
MOST_OUT = 0.05


@dataclass(frozen=True, slots=True)
class Fit:
    """How music lies in a position. out, stretched, opened: notes out of reach, only in reach of a stretched
    finger, and only as open strings where these are not a matter of course.
    """

    position: int
    out: int
    stretched: int
    opened: int


def fits(midis: Mapping[int, int], neck: Neck) -> tuple[Fit, ...]:
    """Return the positions that suit music, the lowest first.

    midis: how many notes it has of each sounding pitch.
    """
    notes = sum(midis.values())
    found = []
    for position in range(neck.last_fret + 1):
        out = stretched = opened = 0
        for midi, count in midis.items():
            reached = in_reach(neck, position, midi)
            if not reached:
                out += count
            elif all(place.stretch for place in reached):
                stretched += count
            elif all(place.open_only for place in reached):
                opened += count
        if notes and out <= MOST_OUT * notes and opened < notes:
            found.append(Fit(position, out, stretched, opened))
    return tuple(found)
