"""The forms a left hand can take: which finger stands where for the notes that sound together."""

from dataclasses import dataclass
from functools import cache

# Where one finger stands: its fret, and the strings from the lowest number to the highest.
Grip = tuple[int, int, int]
# String, fret and finger of one note; finger 0 for an open string.
Put = tuple[int, int, int]
MOST_OFFSET = 1  # a finger reaches one fret to either side of its own [common practice, no source]
SMALL_BARRE_STRINGS = 2  # so many neighbouring strings can a finger other than the first hold down [the same]


@dataclass(frozen=True, slots=True, eq=False)
class Form:
    """Fingers on the neck. Two forms of the same fingers may stand for different notes.

    number: of its grips, among the forms of one fingering. puts: for each note, in the order asked for.
    grips: of the fingers 1 to 4. down: the same without fingers that are not, each with its index in
    `grips`. bare: no finger is down. positions: from which a hand can take it.
    """

    number: int
    puts: tuple[Put, ...]
    grips: tuple[Grip | None, Grip | None, Grip | None, Grip | None]
    down: tuple[tuple[int, Grip], ...]
    bare: bool
    positions: range


def hand_positions(grips: tuple[Grip | None, ...], last_fret: int) -> range:
    """The positions from which a hand can take these grips; every position where no finger is down.

    In position N finger f stands at fret N + f - 1, or one to either side of it; two nearer to the nut where
    two others stand at its fret. The first, which tells the position, stands there or one nearer to the nut.
    """
    least, most = 1, last_fret
    frets = [grip[0] for grip in grips if grip is not None]
    for finger, grip in enumerate(grips, start=1):
        if grip is not None:
            own = grip[0] - finger + 1
            least = max(least, own - (MOST_OFFSET if finger > 1 else 0))
            crowded = finger > 2 and frets.count(grip[0]) > 2
            most = min(most, own + MOST_OFFSET + crowded)
    return range(least, most + 1)


def fingerings(places: tuple[tuple[int, int], ...]) -> list[tuple[Put, ...]]:
    """Every way to finger notes at these places (string, fret), all on different strings.

    A finger with a higher number stands no nearer to the nut. One finger takes several notes only as a barre:
    at one fret, no note sounding between that is lower, two neighbouring strings for fingers 2 to 4.
    """
    frets = [fret for _, fret in places if fret]
    if frets and max(frets) - min(frets) > 3 + 2 * MOST_OFFSET:
        return []
    down = min(frets, default=1) - 1
    ways = _fingers(tuple([(string, fret - down if fret else 0) for string, fret in places]))
    return [
        tuple([(string, fret, finger) for (string, fret), finger in zip(places, way, strict=True)])
        for way in ways
    ]


@cache
def _fingers(places: tuple[tuple[int, int], ...]) -> tuple[tuple[int, ...], ...]:
    """The fingers for places moved down so far that the lowest fret is the first; 0 on open strings."""
    spots = sorted((spot for spot, place in enumerate(places) if place[1]), key=lambda spot: places[spot][1])
    fretted = [places[spot] for spot in spots]
    ways: list[tuple[int, ...]] = [()]
    for _ in spots:
        ways = [
            longer for way in ways for finger in range(1, 5) if _in_order(fretted, longer := (*way, finger))
        ]
    found = []
    for way in ways:
        if _barres_hold(places, fretted, way):
            fingers = [0] * len(places)
            for spot, finger in zip(spots, way, strict=True):
                fingers[spot] = finger
            found.append(tuple(fingers))
    return tuple(found)


def grips_of(puts: tuple[Put, ...]) -> tuple[Grip | None, Grip | None, Grip | None, Grip | None]:
    """The grip of each finger."""
    grips: list[Grip | None] = [None] * 4
    for string, fret, finger in puts:
        if finger:
            grip = grips[finger - 1]
            low, high = (string, string) if grip is None else grip[1:]
            grips[finger - 1] = (fret, min(low, string), max(high, string))
    return grips[0], grips[1], grips[2], grips[3]


def _in_order(fretted: list[tuple[int, int]], fingers: tuple[int, ...]) -> bool:
    """Whether the last of some fingers goes with those before; the places rise from the nut."""
    finger, fret = fingers[-1], fretted[len(fingers) - 1][1]
    return all(
        fret == other or finger > before for (_, other), before in zip(fretted, fingers[:-1], strict=False)
    )


def _barres_hold(
    places: tuple[tuple[int, int], ...], fretted: list[tuple[int, int]], fingers: tuple[int, ...]
) -> bool:
    if len(set(fingers)) == len(fingers):
        return True
    for finger in set(fingers):
        strings = [place[0] for place, f in zip(fretted, fingers, strict=True) if f == finger]
        if len(strings) < 2:
            continue
        low, high = min(strings), max(strings)
        if finger > 1 and high - low + 1 > SMALL_BARRE_STRINGS:
            return False
        fret = next(place[1] for place, f in zip(fretted, fingers, strict=True) if f == finger)
        for string, other in places:
            if low < string < high and string not in strings and other <= fret:
                return False
    return True
