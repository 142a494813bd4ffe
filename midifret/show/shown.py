"""What every screen of a run shows alike, on a terminal or on a page: values and words, no rows."""

from midifret.session.screen import LastAnswer, Screen, Stage, StringCheck
from midifret.show.neck import Mark
from midifret.show.words import (
    beside_words,
    clock_words,
    cue_words,
    late_words,
    seconds_words,
    shown_names,
    shown_place,
    typed_shown,
)
from midifret.terms import CueKind, Judged, Place, Prompt, Verdict

BEGIN_WORDS = "Pluck any string, or press enter, to begin."
GOES_ON_WORDS = "It goes on by itself; a key goes on at once."
PAUSED_WORDS = "Paused. The prompt is hidden and the time stands still."


def marks_on_neck(screen: Screen) -> dict[Place, Mark]:
    """What the small neck shows: the last answer, and the places that the present cue gives away."""
    marks: dict[Place, Mark] = {}
    last = screen.last
    if last is not None:
        if last.verdict is not Verdict.RIGHT and not still_to_find(screen, last):
            marks |= dict.fromkeys(last.asked, Mark.ASKED)
        if last.played is not None:
            marks[last.played] = Mark.RIGHT if last.verdict is Verdict.RIGHT else Mark.WRONG
    prompt = screen.prompt
    if prompt is not None and screen.stage is Stage.ASKING:
        place = shown_place(prompt)
        if prompt.given is not None:
            marks[prompt.given] = Mark.GIVEN
        if place is not None:
            marks[place] = Mark.NAMED if prompt.judged is Judged.NAME else Mark.SHOWN
        if prompt.held is not None:
            marks[prompt.held] = Mark.HELD
    return marks


def still_to_find(screen: Screen, last: LastAnswer) -> bool:
    """Whether the places of the last answer are those that the open prompt still wants found, each once."""
    prompt = screen.prompt
    return prompt is not None and prompt.each_once is not None and prompt.places == last.asked


def of_before(screen: Screen) -> LastAnswer | None:
    """The last answer, but not where it belongs to the open prompt: in a pause it would tell that."""
    last, prompt = screen.last, screen.prompt
    return None if last is not None and prompt is not None and last.n == prompt.n else last


def time_words(last: LastAnswer) -> str:
    """The time of a first answer: in tempo how early or late it was; empty for none."""
    if not last.first:
        return ""
    if last.late_ms is not None:
        return late_words(last.late_ms)
    return seconds_words(last.response_s) if last.response_s is not None else ""


def waits_words(screen: Screen) -> str:
    """What is said while nothing is asked though the run goes on: a cue will come, at some moment."""
    coming = screen.exercise.prompts[screen.answered :]
    if not coming or not coming[0].wait_s:
        return ""
    return "Wait for it." if screen.lasts_s is None else "There it is. The next one comes by itself."


def caption(screen: Screen, prompt: Prompt, *, staff_drawn: bool = True) -> str:
    """The words that stand with a cue, of which the large form shows a part."""
    if not prompt.cue:
        return "; ".join(beside_words(prompt))
    return cue_words(prompt, screen.language, screen.accidentals, staff_drawn=staff_drawn)


def large_name(screen: Screen, prompt: Prompt) -> str:
    """The name in a cue's large form; where it is to be named, what was typed so far, or a question mark."""
    if prompt.judged is Judged.NAME:
        return typed_shown(screen.typed, screen.language) or "?"
    if CueKind.NAME in prompt.cue:
        return " / ".join(shown_names(prompt.pitch, screen.language, screen.accidentals))
    return ""


def check_words(check: StringCheck) -> tuple[str, str, str, str]:
    """One string in the check of the open strings: sign, string, cents and how it stands."""
    waiting = check.cents is None and not check.ok
    sign = "✓" if check.ok else "·" if waiting else "✗"
    cents = "" if check.cents is None else f"{check.cents:+.0f} cents"
    return sign, f"string {check.string}  {check.name:<4}", cents, check.state


def minutes_words(screen: Screen) -> str:
    """How long the exercise should be practised; empty where what it trains says so."""
    exercise = screen.exercise
    if screen.lasts_s is not None:
        return f"About {minutes_long(screen.lasts_s)}, as it goes."
    least, most = exercise.minutes
    minutes = f"{least} to {most} minutes" if least != most else f"{least} minutes"
    return "" if "minute" in exercise.trains else f"Spend {minutes} on it."


def minutes_long(seconds: float) -> str:
    """A length in words, to half a minute: `half a minute`, `1 minute`, `2.5 minutes`."""
    halves = max(1, round(seconds / 30))
    return {1: "half a minute", 2: "1 minute"}.get(halves, f"{halves / 2:g} minutes")


def over_words(screen: Screen) -> tuple[str, str]:
    """That the run is over, and how long it took."""
    return "The run is over.", f"Time played {clock_words(screen.elapsed_s)}."
