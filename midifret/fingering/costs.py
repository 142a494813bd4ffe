"""The terms of the cost: each a function that measures one kind of effort, in its own unit, unweighted.

Where a term has a source it stands in its docstring; the weights are in `weights`.
"""

from midifret.fingering.forms import Form, Grip, Put
from midifret.fingering.neck_mm import along_mm, fret_mm

UNIT_MM = 30.0  # about a fret near the nut; lengths along the neck are counted in it
BODY_FRET = 12  # where the neck of a classical guitar joins the body [common practice, no source]
SPREAD_FREE_STRINGS = 2  # so many strings apart neighbouring fingers stand without effort [ours]
# Moves in this time cost what they cost; faster ones more, slower ones less (Heijink & Meulenbroek 2002 found
# tempo to matter; the figures are ours).
USUAL_S = 0.4
LEAST_HURRY, MOST_HURRY = 0.4, 2.0


# What a barre takes is pressure, which more time makes no less.
UNHURRIED = ("barre", "barre_string")


def shift_length(position: int, to: int, capo: int = 0) -> float:
    """How far the hand goes along the neck: in mm, not frets (Rau 2016), in units of 30 mm."""
    return along_mm(position, to, capo=capo) / UNIT_MM


def offsets(grips: tuple[Grip | None, ...], position: int, capo: int = 0) -> dict[str, float]:
    """How far fingers stand from their own frets, in units of 30 mm; position N has finger f at N + f - 1.

    `reach_back`: the first towards the nut. `stretch`: the second and third away from it. `stretch_fourth`:
    the fourth. `squeeze`: any finger drawn in under the hand, as where several stand at one fret.
    """
    parts: dict[str, float] = {}
    for finger, grip in enumerate(grips, start=1):
        if grip is None:
            continue
        own = position + finger - 1
        fret = grip[0]
        if fret == own:
            continue
        outwards = fret < own if finger == 1 else fret > own
        name = ("reach_back", "stretch", "stretch", "stretch_fourth")[finger - 1] if outwards else "squeeze"
        parts[name] = parts.get(name, 0.0) + along_mm(own, fret, capo=capo) / UNIT_MM
    return parts


def spread(grips: tuple[Grip | None, ...]) -> float:
    """How many strings further apart than is easy fingers stand, each pair counted."""
    total = 0
    for first in range(4):
        one = grips[first]
        if one is None:
            continue
        for second in range(first + 1, 4):
            other = grips[second]
            if other is not None:
                apart = max(one[2] - other[1], other[2] - one[1])
                total += max(0, apart - SPREAD_FREE_STRINGS * (second - first))
    return float(total)


def order(grips: tuple[Grip | None, ...]) -> float:
    """How many pairs at one fret stand against the hand: the lower finger goes on the lower string."""
    total = 0
    for first in range(4):
        one = grips[first]
        if one is None:
            continue
        for second in range(first + 1, 4):
            other = grips[second]
            if other is not None and one[0] == other[0] and one[1] < other[2]:
                total += 1
    return float(total)


def height(put: Put, capo: int = 0) -> float:
    """How far up the neck a finger plays, in units of 100 mm: what is known best lies low."""
    return fret_mm(put[1] + capo) / 100 if put[1] else 0.0


def beyond_body(put: Put, capo: int = 0) -> float:
    """How many frets beyond the joint of neck and body, where the hand has to come around."""
    return float(max(0, put[1] + capo - BODY_FRET))


def thick(put: Put) -> float:
    """How dull it sounds: frets up a string times strings down from the first."""
    return float(put[1] * (put[0] - 1))


def hinge(form: Form) -> float:
    """Whether the first finger bars strings beside a higher one that sounds nearer to the nut.

    It then has to bend back at its last joint to leave that string free [common practice, no source].
    """
    grip = form.grips[0]
    if grip is None or grip[1] == grip[2]:
        return 0.0
    return float(any(string < grip[1] and fret < grip[0] for string, fret, _ in form.puts))


def third_high(put: Put) -> float:
    """Strings above the third that the third finger plays: there the hand turns the fourth to the frets.

    [common practice, no source]
    """
    return float(max(0, 3 - put[0])) if put[2] == 3 else 0.0


def fourth_low(put: Put) -> float:
    """Strings below the second that the fourth finger plays, which is short [common practice, no source]."""
    return float(max(0, put[0] - 2)) if put[2] == 4 else 0.0


def hurry(time_s: float, power: float) -> float:
    """What a move weighs that has so many seconds: 1 at the usual time, more when faster."""
    return float(min(MOST_HURRY, max(LEAST_HURRY, (USUAL_S / max(time_s, 0.01)) ** power)))


def finger_move(finger: int, one: Grip | None, other: Grip) -> dict[str, float]:
    """What it takes a finger to go from one grip to another, by term, unweighted.

    Nothing for a finger that stays. `slide`: it goes along its string, as a guide. Otherwise `press`: it
    comes down. `jump`: it has to leave for another place. `roll`: it goes to another string at its fret.
    `across`: strings crossed. `barre` and what goes with it: it lies down over several strings.
    """
    parts: dict[str, float] = {}
    fret, low, high = other
    if one is not None and one[0] == fret and one[1] <= low and high <= one[2]:
        return parts
    if one is not None and one[1:] == (low, high):
        parts["slide"] = 1.0
    else:
        parts["press"] = 1.0
    if one is not None and "slide" not in parts:
        if one[0] == fret:
            apart = max(low - one[2], one[1] - high, 0)
            if apart:
                parts["roll"] = 1.0
                parts["across"] = float(apart)
        else:
            parts["jump"] = 1.0
            parts["across"] = float(abs(low + high - one[1] - one[2]) / 2)
    if high > low and finger == 1:
        parts["barre"] = 1.0
        parts["barre_string"] = float(high - low - 1)
    return parts


def small_barres(grips: tuple[Grip | None, ...]) -> float:
    """How many fingers but the first lie over two strings: a strain at each note struck meanwhile."""
    return float(sum(grip is not None and grip[2] > grip[1] for grip in grips[1:]))


def swaps(form: Form, to: Form) -> float:
    """How many places are taken over by another finger."""
    total = 0
    for first, one in enumerate(form.grips):
        if one is not None:
            fret, low, high = one
            for second, other in enumerate(to.grips):
                if other is not None and other[0] == fret and second != first:
                    total += low <= other[1] and other[2] <= high
    return float(total)


def guided(form: Form, to: Form) -> bool:
    """Whether a finger stays on its string while the hand shifts, and so guides it."""
    for one, other in zip(form.grips, to.grips, strict=True):
        if one is not None and other is not None and one[1:] == other[1:]:
            return True
    return False
