"""Intervals in words, from their semitones [common practice; checked against music21 in the tests]."""

_NAMES = (
    "unison",
    "minor second",
    "major second",
    "minor third",
    "major third",
    "fourth",
    "tritone",
    "fifth",
    "minor sixth",
    "major sixth",
    "minor seventh",
    "major seventh",
)
_STEPS = (1, 2, 2, 3, 3, 4, 0, 5, 6, 6, 7, 7)  # as musicians count; the tritone has no one number
_NUMBERS = ("no", "one", "two", "three", "four", "five")


def interval_words(semitones: int) -> str:
    """Name an interval with its direction, for example `up a minor third`, `down an octave`."""
    if semitones == 0:
        return "the same pitch again"
    octaves, rest = divmod(abs(semitones), 12)
    parts = []
    if octaves:
        number = _NUMBERS[octaves] if octaves < len(_NUMBERS) else str(octaves)
        parts.append("an octave" if octaves == 1 else f"{number} octaves")
    if rest:
        parts.append(f"a {_NAMES[rest]}")
    return f"{'up' if semitones > 0 else 'down'} {' and '.join(parts)}"


def interval_number(semitones: int) -> int | None:
    """Say how many steps an interval has as musicians count (a third is 3); None for unison and tritone."""
    octaves, rest = divmod(abs(semitones), 12)
    if semitones == 0 or rest == 6:
        return None
    return 7 * octaves + _STEPS[rest]
