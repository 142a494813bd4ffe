"""Orders over strings and notes: there and back, broken intervals, a row walked with leaps."""

from collections.abc import Sequence
from typing import TypeVar

Step = TypeVar("Step")


def there_and_back(steps: Sequence[Step]) -> list[Step]:
    """Return the steps and then their mirror image, the last step once."""
    return [*steps, *reversed(steps[:-1])]


def broken(steps: Sequence[Step], interval: int) -> list[Step]:
    """Return the steps in broken intervals: up an interval, back a step less, to the last step.

    interval: 3 for thirds, 4 for fourths ... Empty where there are fewer steps than that.
    """
    span = interval - 1
    return [step for i in range(len(steps) - span) for step in (steps[i], steps[i + span])]


def row_walk(strings: int, leap: int) -> list[int]:
    """Return the strings of a row walked with a leap, from the last string to string 1 and home.

    Forward `leap` strings, back one less, until string 1; a turn (back one less, forward again); then the
    mirror image home, ending with the same turn. Leap 1 just goes and returns.
    [common practice, no source]. Raises ValueError for a leap that the strings do not hold.
    """
    if not 1 <= leap < strings:
        raise ValueError(f"a leap on {strings} strings is 1 to {strings - 1}, not {leap}")
    back = leap - 1
    out = [strings]
    while out[-1] > 1:
        out.append(out[-1] - leap)
        if out[-1] > 1 and back:
            out.append(out[-1] + back)
    home = [strings + 1 - string for string in out]
    turn_there = [1 + back, 1] if back else []
    turn_home = [strings - back, strings] if back else []
    return [*out, *turn_there, *home[1:], *turn_home]
