"""Why an item of a drill cannot be asked, and where in its file that stands."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

FilePath = tuple[str | int, ...]
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. path: keys and indices (from 0) to the value. allowed: what could stand there, or empty."""

    path: FilePath
    message: str
    allowed: str = ""


class Faulty(Exception):
    """An item cannot be asked. faults: every reason found."""

    def __init__(self, *faults: Fault) -> None:
        """Keep the faults, in the order in which they are to be told."""
        super().__init__(*faults)
        self.faults = faults


def fault(path: FilePath, message: str, allowed: str = "") -> Faulty:
    """Return, to be raised, a single fault; fields as in Fault."""
    return Faulty(Fault(path, message, allowed))


def unreadable(path: FilePath, error: ValueError) -> Faulty:
    """Return, to be raised, the fault that an error words: what is wrong; write what would do."""
    message, _, allowed = str(error).partition("; write ")
    return fault(path, message, allowed)


def each(makers: Iterable[Callable[[], Made]]) -> list[Made]:
    """Make every one of several things. Raises Faulty with all that went wrong, once all have been tried."""
    made: list[Made] = []
    faults: list[Fault] = []
    for make in makers:
        try:
            made.append(make())
        except Faulty as faulty:
            faults += faulty.faults
    if faults:
        raise Faulty(*faults)
    return made
