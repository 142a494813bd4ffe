"""What a player is told and asked while a guitar is hooked up, in words."""

from dataclasses import dataclass

from midifret.session.hook_up.findings import (
    OUT_OF_TUNE_CENTS,
    STANDARD_MIDI,
    Findings,
    listed,
    semitones_words,
)
from midifret.session.hook_up.showing import Step

OCTAVE_FRET, SLIDE_FROM, SLIDE_TO = 12, 5, 7
# Two plucks closer than this have the same pitch, in semitones [ours].
SAME_PITCH = 0.6
# How far a string may be from where standard tuning has it, above the one before, and still be itself: no
# tuning in use raises a string more than a tone and a half over its neighbour [common practice, no source].
_SPARE_SEMITONES = 3
_QUIT = ("q", "quit")
NO_INPUT = (
    "Nothing has come for 10 s. Look at: the cable; the power of the converter; whether this is its port "
    "(`midifret ports` lists them); and whether it sends MIDI, each string on its own channel (mono mode)."
)
NO_NOTES = (
    "Messages come, but no notes. Turn up the guitar and the sensitivity of the converter, and see whether "
    "its strings are switched on."
)
TOO_SHORT = "That was too short to be sure: let it ring."


@dataclass(frozen=True, slots=True)
class Asking:
    """What the words depend on, beside what was found.

    asked: the open string to pluck. doubted: what was plucked last may be another string. can_go_back: a
    string was heard or left out. typed: the name so far. chosen: the guitar of the settings.
    """

    step: Step
    asked: int
    doubted: bool
    can_go_back: bool
    typed: str
    chosen: str


def ask_words(asking: Asking, found: Findings) -> tuple[str, str]:
    """What to do now, and how."""
    string = found.test_string
    match asking.step:
        case Step.OPEN:
            return (
                f"Pluck string {asking.asked}, open.",
                "One string at a time, as hard as you usually play, and let it ring.",
            )
        case Step.SHARED:
            strings, channel = found.shared or ((), 0)
            return (
                f"Strings {listed(strings)} came on one channel, {channel + 1}.",
                "Set the converter to mono mode, so that each string sends on a channel of its own. Then "
                "pluck these strings again. Without that, their strings are not known.",
            )
        case Step.FRET_12:
            return (
                f"Pluck string {string} at fret {OCTAVE_FRET}.",
                "With a capo, count from it. It tells how a stopped string is sent, and how true it is.",
            )
        case Step.SLIDE:
            return (
                f"Slide on string {string}: fret {SLIDE_FROM} to {SLIDE_TO} and back.",
                f"Pluck it once at fret {SLIDE_FROM}, slide up two frets, stay a moment, slide back.",
            )
        case Step.RETUNE:
            off = found.out_of_tune
            told = [f"string {s} {sharp_or_flat(off[s])}" for s in sorted(off)]
            return (
                f"Out of tune: {', '.join(told)}.",
                f"Tune it to within {OUT_OF_TUNE_CENTS:.0f} cents and pluck it again, open. "
                "If it is so on purpose, n goes on and the file says it.",
            )
        case Step.SILENCE:
            return "Keep still.", "Hands off the strings: what comes now, the converter makes up."
        case Step.TOUCH:
            return (
                "Touch, damp and let go of the strings, without plucking.",
                "Both hands, as between two notes: what comes now is noise.",
            )
    return _ask_to_write(asking, found)


def _ask_to_write(asking: Asking, found: Findings) -> tuple[str, str]:
    match asking.step:
        case Step.OFFSET:
            offset, tuning = found.match.offset, found.match.tuning
            title = tuning.title if tuning is not None else ""
            return (
                f"All strings arrive {semitones_words(offset)} than in the tuning {title}.",
                "That sounds the same for all of these. Which is it?",
            )
        case Step.FOUND:
            return "This is your guitar.", "Nothing is written yet."
        case Step.NAME:
            return "What is this guitar called?", "Its file has this name; enter goes on."
        case Step.OVERWRITE:
            return (
                f"There is a guitar {asking.typed} already. Overwrite its file?",
                f"The old one is kept beside it as {asking.typed}.yaml~.",
            )
        case Step.CHOOSE:
            return (
                f"Write {asking.typed}.yaml, and use it from now on?",
                f"Otherwise it is written, and {asking.chosen} stays the guitar that is used unless "
                f"you say --guitar {asking.typed}.",
            )
    return "Done.", ""


def keys_of(asking: Asking) -> tuple[tuple[str, str], ...]:
    """What can be pressed: key and words."""
    match asking.step:
        case Step.OPEN:
            kept = (("k", f"it was string {asking.asked}"),) if asking.doubted else ()
            back = (("b", "back"),) if asking.can_go_back else ()
            return (*kept, ("n", "it does not arrive"), *back, _QUIT)
        case Step.SHARED:
            return (("a", "pluck them again"), ("n", "go on as it is"), _QUIT)
        case Step.RETUNE:
            return (("n", "go on as it is"), _QUIT)
        case Step.FOUND:
            return (("enter", "write it"), ("r", "start over"), _QUIT)
        case Step.NAME:
            return (("enter", "go on"), ("backspace", "delete"), ("escape", "quit"))
        case Step.OVERWRITE:
            return (("y", "overwrite"), ("n", "another name"), _QUIT)
        case Step.CHOOSE:
            return (("y", "write and use it"), ("n", "write only"), ("q", "quit without writing"))
        case Step.OFFSET:
            return (_QUIT,)
    return (("n", "leave this out"), _QUIT)


def sharp_or_flat(cents: float) -> str:
    """How far off pitch: 40 cents flat."""
    return f"{abs(cents):.0f} cents {'sharp' if cents > 0 else 'flat'}"


def misplaced_words(found: float, usual: int, near: int, asked: int, strings: int) -> str:
    """Say that a pluck lies wrong beside a string heard before; empty where it may be the one asked for.

    found, usual: semitones above that string, as heard and in standard tuning.
    """
    if (found > 0) != (usual > 0):
        where = "lower" if usual > 0 else "higher"
        return f"That is {where} than string {near}. Pluck string {asked}."
    if abs(found) <= abs(usual) + _SPARE_SEMITONES + SAME_PITCH:
        return ""
    base = STANDARD_MIDI[near - 1]
    like = min(range(1, strings + 1), key=lambda s: abs(STANDARD_MIDI[s - 1] - base - found))
    if like == asked or abs(STANDARD_MIDI[like - 1] - base - found) > 2:
        return f"That is too far from string {near}: an octave off, or another string. Pluck string {asked}."
    return f"That sounds like string {like}. Pluck string {asked}."
