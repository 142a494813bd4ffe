"""Exercises put into a tempo, and parts of them for one pass."""

from collections.abc import Sequence
from dataclasses import replace

from midifret.tempo import LEAST_BETWEEN_S
from midifret.terms import BadInput, Exercise, Judged, Prompt, Tempo


def untimed(prompts: Sequence[Prompt]) -> str:
    """Why prompts cannot be due on beats; empty where they can."""
    if any(prompt.judged is Judged.NAME for prompt in prompts):
        return "it asks for names to be typed, which no beat can wait for"
    if any(prompt.held is not None for prompt in prompts):
        return "it asks for two notes that sound together"
    return ""


def too_close(tempo: Tempo) -> str:
    """Why notes cannot be due as close together as a tempo has them; empty where they can."""
    if tempo.between_s >= LEAST_BETWEEN_S:
        return ""
    apart_ms = 1000 * tempo.between_s
    return f"{tempo.notes_a_beat} notes a beat at {tempo.tempo_bpm:g} bpm are {apart_ms:.3g} ms apart"


def put_in_tempo(exercise: Exercise, tempo: Tempo | None) -> Exercise:
    """Return an exercise in another tempo, or in free tempo for None.

    Raises BadInput for an exercise that cannot be played in tempo.
    """
    if tempo is None:
        return replace(exercise, tempo=None)
    reason = untimed(exercise.prompts)
    if reason:
        raise BadInput(
            f"the drill {exercise.name} cannot be played in tempo: {reason}", allowed="play it in free tempo"
        )
    if close := too_close(tempo):
        raise BadInput(
            f"the drill {exercise.name} cannot be played so fast: {close}",
            allowed=f"{1000 * LEAST_BETWEEN_S:.0f} ms or more",
        )
    return replace(exercise, tempo=tempo, time_limit_s=None)


def section(exercise: Exercise, begin: int, count: int) -> Exercise:
    """Return so many of the prompts, from one on (0 for the first) and round again, numbered anew.

    Where a walk is entered in the middle, its first note is shown as the walk's beginning would be. The gate
    of a drill is met by the whole of it, so a part has none.
    """
    total = len(exercise.prompts)
    prompts = [exercise.prompts[(begin + i) % total] for i in range(min(count, total))]
    numbered = tuple(replace(prompt, n=n) for n, prompt in enumerate(prompts, start=1))
    gate = exercise.gate if len(numbered) == total else None
    return replace(exercise, prompts=numbered, section=(begin % total, len(numbered)), gate=gate)
