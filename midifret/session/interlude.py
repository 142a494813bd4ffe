"""What a player is asked between the parts of a practice session: one frozen value, and the reply."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class Reply(StrEnum):
    """What the player wants."""

    GO = "go"  # go on with what is shown
    SKIP = "skip"  # leave it out
    ANEW = "anew"  # plan anew, or begin from the start
    STOP = "stop"  # for now; what is left can be taken up


class InterludeKind(StrEnum):
    """Before or after what it stands."""

    OFFER = "offer"  # a placement run is offered
    TAKE_UP = "take-up"  # a session was left
    BLOCK = "block"
    BREAK = "break"
    LEFT = "left"  # a block was left by the player
    PLACED = "placed"
    END = "end"


@dataclass(frozen=True, slots=True)
class Option:
    """One reply that is possible. key: as `View.keys` has it. words: what it does, short."""

    reply: Reply
    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Interlude:
    """One screen between two parts.

    title: large. lines: full sentences, each a paragraph; quiet: the same, of less weight. options: the usual
    one first. unasked: the reply where nobody can be asked. plucked: a plucked string stands for the first
    option. number, of: which block it is. counts_s: it goes on by itself, with `unasked`, after so many
    seconds; None for never.
    """

    kind: InterludeKind
    title: str
    lines: tuple[str, ...]
    options: tuple[Option, ...]
    unasked: Reply = Reply.GO
    quiet: tuple[str, ...] = ()
    plucked: bool = False
    number: int | None = None
    of: int | None = None
    counts_s: float | None = None


class Asks(Protocol):
    """Whoever shows an interlude and brings the reply: a terminal, a page, a test."""

    def __call__(self, interlude: Interlude) -> Reply:
        """Show it and wait for the reply. Raises KeyboardInterrupt where the player breaks off."""
