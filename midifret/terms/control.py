"""What a player can ask for while both hands hold the guitar."""

from enum import StrEnum


class Control(StrEnum):
    """An order to the run, by key, pedal, button or plucked signal."""

    START = "start"  # begin, or go on after a pause
    PAUSE = "pause"  # pause, or go on
    AGAIN = "again"  # the same drill from its first prompt
    NEXT = "next"  # leave this prompt; after the end, go on
    QUIT = "quit"  # end here; what was done is kept
