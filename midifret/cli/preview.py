"""`midifret preview`: a drill as it will be asked."""

import textwrap
from typing import Any

import click

from midifret.cli.app import app_of, guitar_option, json_option, print_document
from midifret.gear import Settings
from midifret.neck import pitch_name
from midifret.show.words import cue_words
from midifret.terms import CueKind, Exercise, Judged, Prompt

MOST_PLACES = 4


@click.command("preview")
@click.argument("drill")
@click.option("--seed", type=int, default=0, show_default=True, help="What a shuffled drill starts from.")
@guitar_option
@json_option
@click.pass_context
def command(context: click.Context, drill: str, seed: int, guitar: str | None, as_json: bool) -> int:
    """Print DRILL, a name or a .yaml file, as it will be asked."""
    app = app_of(context)
    exercise = app.exercise(drill, app.guitar(guitar).neck, seed=seed)
    if as_json:
        print_document(preview_document(exercise))
    else:
        for line in preview_lines(exercise, app.settings):
            click.echo(line)
    return 0


def preview_document(exercise: Exercise) -> dict[str, Any]:
    """What `preview --json` prints, the prompts in the order they are asked.

    name: in English with its sounding octave, for example F#3. cue: the kinds that are shown.
    """
    return {
        "drill": exercise.name,
        "judged": exercise.judged.value,
        "tempo_bpm": exercise.tempo_bpm,
        "prompts": [
            {
                "n": prompt.n,
                "cue": [kind.value for kind in prompt.cue],
                "places": [{"string": place.string, "fret": place.fret} for place in prompt.places],
                "midi": prompt.midi,
                "name": str(prompt.pitch),
                "judged": prompt.judged.value,
            }
            for prompt in exercise.prompts
        ],
    }


def preview_lines(exercise: Exercise, settings: Settings) -> list[str]:
    """The drill for people: what it trains, then each prompt with its cue and its answer."""
    least, most = exercise.minutes
    minutes = f"{least} minutes" if least == most else f"{least} to {most} minutes"
    lines = [f"{exercise.title} ({exercise.name})", f"Stage {exercise.stage}, {minutes}", ""]
    lines += [*textwrap.wrap(exercise.trains, 78), ""]
    rows = [_row(prompt, settings) for prompt in exercise.prompts]
    span = max(len(row[2]) for row in rows)
    widest = min(max(len(row[1]) for row in rows), 10)
    for n, name, places, cue in rows:
        head = f"{n:>4}  {name:<{widest}}  {places:<{span}}  "
        wrapped = textwrap.wrap(cue, max(20, 79 - len(head))) or [""]
        lines.append((head + wrapped[0]).rstrip())
        lines += [" " * len(head) + rest for rest in wrapped[1:]]
    lines.append("")
    if exercise.time_limit_s is not None:
        lines.append(f"Time limit: {exercise.time_limit_s:g} s a question.")
    if exercise.gate is not None:
        gate = exercise.gate
        speed = f", median at most {gate.median_response_s:g} s" if gate.median_response_s else ""
        runs = "" if gate.runs_in_a_row == 1 else f", {gate.runs_in_a_row} runs in a row"
        lines.append(f"Gate: {100 * gate.right:g}% right at the first try{speed}{runs}.")
    return lines


def _row(prompt: Prompt, settings: Settings) -> tuple[int, str, str, str]:
    name = pitch_name(prompt.pitch, settings.language)
    shown = [str(place) for place in prompt.places[: MOST_PLACES - 1]]
    more = len(prompt.places) - len(shown)
    places = " ".join(shown) + (f" +{more}" if more else "")
    cue = cue_words(prompt, settings.language, settings.accidentals) if prompt.cue else "nothing shown"
    if prompt.judged is Judged.PITCH and {CueKind.STRING, CueKind.PLACE} & {*prompt.cue}:
        cue += "; the same pitch elsewhere counts too"
    return prompt.n, name, places, cue
