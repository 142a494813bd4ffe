"""`midifret preview`: a drill as it will be asked."""

from typing import Any

import click

from midifret.cli.app import app_of, guitar_option, json_option, print_document
from midifret.neck import pitch_name
from midifret.show.run_figures import place_document
from midifret.show.words import cue_words, places_words
from midifret.terms import Exercise, Judged

_JUDGED_WORDS = {
    Judged.PLACE: "by string and fret",
    Judged.PITCH: "by pitch, anywhere on the neck",
    Judged.POSITION: "by pitch, within the reach of a position",
    Judged.NAME: "by the name typed",
}


@click.command("preview")
@click.argument("drill")
@click.option("--seed", type=int, default=0, show_default=True, help="Seed of a shuffled drill.")
@guitar_option
@json_option
@click.pass_context
def command(context: click.Context, drill: str, seed: int, guitar: str | None, as_json: bool) -> int:
    """Print DRILL, a name from `midifret drills` or a file, as it will be asked: cue and answer."""
    app = app_of(context)
    exercise = app.exercise(drill, app.guitar(guitar).neck, seed=seed)
    if as_json:
        print_document(preview_document(exercise))
        return 0
    settings = app.settings
    least, most = exercise.minutes
    click.echo(exercise.title)
    click.echo(click.wrap_text(exercise.trains, 78))
    minutes = f"{least}" if least == most else f"{least} to {most}"
    limit = "" if exercise.time_limit_s is None else f", {exercise.time_limit_s:g} s for each"
    judged = _JUDGED_WORDS[exercise.judged]
    click.echo(f"{minutes} minutes, {len(exercise.prompts)} prompts{limit}, judged {judged}.")
    if exercise.gate is not None:
        gate = exercise.gate
        speed = "" if gate.median_response_s is None else f", median at most {gate.median_response_s:g} s"
        runs = "" if gate.runs_in_a_row == 1 else f", {gate.runs_in_a_row} runs in a row"
        click.echo(f"Gate: {gate.right:.0%} right at the first try{speed}{runs}.")
    click.echo()
    for prompt in exercise.prompts:
        words = cue_words(prompt, settings.language, settings.accidentals)
        if prompt.judged is Judged.NAME:
            answer = f"type {pitch_name(prompt.pitch, settings.language, signs=False)}"
        else:
            answer = places_words(prompt.places)
        click.echo(f"{prompt.n:>4}  {words:<40}  {answer}")
    return 0


def preview_document(exercise: Exercise) -> dict[str, Any]:
    """What `preview --json` prints.

    drill, judged, tempo_bpm (null in free tempo), and prompts in the order in which they are asked: n; cue,
    what is shown; places, every one that answers, the suggested one first; midi and name, in English with
    the sounding octave, of the suggested answer; judged; given, held: places or null; may_play: places that
    may come before the answer; each_once: prompts of the same number share their places, each once.
    """
    return {
        "drill": exercise.name,
        "judged": exercise.judged.value,
        "tempo_bpm": exercise.tempo_bpm,
        "seed": exercise.seed,
        "time_limit_s": exercise.time_limit_s,
        "prompts": [
            {
                "n": prompt.n,
                "cue": [kind.value for kind in prompt.cue],
                "places": [place_document(place) for place in prompt.places],
                "midi": prompt.midi,
                "name": str(prompt.pitch),
                "judged": prompt.judged.value,
                "given": None if prompt.given is None else place_document(prompt.given),
                "held": None if prompt.held is None else place_document(prompt.held),
                "may_play": [place_document(place) for place in prompt.may_play],
                "each_once": prompt.each_once,
                "hint": prompt.hint,
            }
            for prompt in exercise.prompts
        ],
    }
