"""What an asked run asked, as lines of text for its take: what it is, then each prompt as it was asked."""

import json
import math
from collections.abc import Sequence
from typing import Any

from midifret.neck import Neck, parse_name
from midifret.terms import BadInput, CueKind, Exercise, Judged, Place, Prompt, SpelledPitch

ASKED_PREFIX = "asked:"
_VERSION = 1
# An hour of the quickest answers, one each half second [ours]: what is longer is no take of ours.
MOST_ASKED = 7200
_MOST_SECONDS = 3600.0


def is_asked(drill: str) -> bool:
    """Whether a drill name is that of an asked run."""
    return drill.startswith(ASKED_PREFIX)


def asked_exercise(
    what: str, title: str, trains: str, minutes: float, *, time_limit_s: float, naming: bool = False
) -> Exercise:
    """Return what a run of places asked one by one is, before anything was asked.

    what: a word for its name. trains: why it is played. naming: names are typed.
    """
    whole = max(1, round(minutes))
    return Exercise(
        name=ASKED_PREFIX + what,
        title=title,
        stage="practice",
        trains=trains,
        minutes=(whole, whole),
        judged=Judged.NAME if naming else Judged.PLACE,
        prompts=(),
        time_limit_s=time_limit_s,
        shuffled=True,
    )


def head_text(exercise: Exercise) -> str:
    """Write what holds for the whole run: a JSON object on one line."""
    return _line(
        {
            "version": _VERSION,
            "name": exercise.name,
            "title": exercise.title,
            "stage": exercise.stage,
            "trains": exercise.trains,
            "minutes": list(exercise.minutes),
            "judged": exercise.judged.value,
            "time_limit_s": exercise.time_limit_s,
        }
    )


def prompt_text(prompt: Prompt) -> str:
    """Write a prompt that asks for one place: a JSON list on one line.

    Raises ValueError for one with several places, or with more to it than an asked run asks.
    """
    plain = Prompt(
        prompt.n,
        prompt.cue,
        prompt.judged,
        prompt.places[:1],
        prompt.midis[:1],
        prompt.pitch,
        given=prompt.given,
        hint=prompt.hint,
        wait_s=prompt.wait_s,
    )
    if prompt != plain or prompt.given not in (None, prompt.places[0]):
        raise ValueError(f"prompt {prompt.n} is none of an asked run")
    cue = " ".join(kind.value for kind in prompt.cue)
    given = prompt.given is not None
    return _line(
        [
            cue,
            prompt.judged.value,
            str(prompt.places[0]),
            str(prompt.pitch),
            given,
            prompt.hint,
            prompt.wait_s,
        ]
    )


def exercise_of_lines(lines: Sequence[str], neck: Neck) -> Exercise:
    """Return an asked run as it was asked, from `head_text` and one `prompt_text` for each prompt.

    Raises BadInput for other lines, and where the neck lacks a place or is tuned otherwise.
    """
    try:
        head = json.loads(lines[0])
        if head["version"] != _VERSION:
            raise ValueError(f"version {head['version']!r}")
        if not 0 < len(lines) - 1 <= MOST_ASKED:
            raise ValueError("no prompts, or too many")
        least, most = head["minutes"]
        limit = head["time_limit_s"]
        return Exercise(
            name=_text(head["name"]),
            title=_text(head["title"]),
            stage=_text(head["stage"]),
            trains=_text(head["trains"]),
            minutes=(int(_seconds(least)), int(_seconds(most))),
            judged=Judged(head["judged"]),
            prompts=tuple(_prompt(n, json.loads(line), neck) for n, line in enumerate(lines[1:], start=1)),
            time_limit_s=None if limit is None else _seconds(limit),
            shuffled=True,
        )
    except (ValueError, TypeError, LookupError, ArithmeticError, RecursionError) as error:
        raise BadInput(
            f"what the take says was asked cannot be understood: {error}",
            allowed="a take as `midifret practice` keeps it",
        ) from error


def _prompt(n: int, row: Any, neck: Neck) -> Prompt:
    cue, judged, where, spelled, given, hint, wait_s = row
    place = Place.parse(_text(where))
    if not neck.has(place):
        raise ValueError(f"this neck lacks the place {place}")
    step, alter, octave = parse_name(_text(spelled))
    if octave is None:
        raise ValueError(f"{spelled!r} lacks its octave")
    pitch = SpelledPitch(step, alter, octave)
    if neck.midi(place) != pitch.midi:
        raise ValueError(f"on this neck {place} does not sound {pitch}: it is tuned otherwise")
    return Prompt(
        n,
        tuple(CueKind(kind) for kind in _text(cue).split()),
        Judged(judged),
        (place,),
        (pitch.midi,),
        pitch,
        given=place if given is True else None,
        hint=_text(hint),
        wait_s=_seconds(wait_s),
    )


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=True, separators=(",", ":"))


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value


def _seconds(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError(f"{value!r} is no number")
    if not 0 <= value <= _MOST_SECONDS:
        raise ValueError(f"{value!r} is out of range")
    return float(value)
