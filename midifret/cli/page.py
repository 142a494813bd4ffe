"""`midifret page`: a drill as printed sheets, questions and answers."""

from pathlib import Path

import click

from midifret.cli.app import App, app_of, guitar_option
from midifret.neck import Neck, pitch_name
from midifret.pages.document import Document, Paper
from midifret.pages.drill_sheet import SheetItem, drill_document
from midifret.pages.output import check_folder, format_of, write_pages
from midifret.pages.printer import printed
from midifret.show.words import cue_words, place_words, places_words, shown_place
from midifret.terms import CueKind, Exercise, Judged, Prompt

MOST_PLACES = 3


@click.command("page")
@click.argument("drill")
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, help="File to write: .pdf, .png, .svg."
)
@click.option("--answers", is_flag=True, help="The answer sheet.")
@click.option(
    "--paper", type=click.Choice([each.value for each in Paper]), default=Paper.A4.value, show_default=True
)
@click.option("--seed", type=int, default=0, show_default=True, help="What a shuffled drill starts from.")
@guitar_option
@click.pass_context
def command(
    context: click.Context, drill: str, out: Path, answers: bool, paper: str, seed: int, guitar: str | None
) -> int:
    """Print DRILL, a name or a .yaml file, as a sheet with its questions in order, or with the answers.

    Several pages of a .png or .svg are written as several files.
    """
    app = app_of(context)
    kind = format_of(out)
    check_folder(out)
    neck = app.guitar(guitar).neck
    exercise = app.exercise(drill, neck, seed=seed)
    document = drill_sheet(app, exercise, neck, answers=answers, paper=Paper(paper))
    for path in write_pages(out, printed(document, kind)):
        click.echo(path)
    return 0


def drill_sheet(app: App, exercise: Exercise, neck: Neck, *, answers: bool, paper: Paper) -> Document:
    """An exercise as a sheet to print."""
    items = [_item(app, prompt) for prompt in exercise.prompts]
    least, most = exercise.minutes
    minutes = f"{least} minutes" if least == most else f"{least} to {most} minutes"
    return drill_document(
        exercise.title,
        exercise.name,
        items,
        neck=neck,
        about=f"Stage {exercise.stage}, {minutes}",
        words=exercise.trains,
        answers=answers,
        paper=paper,
    )


def _item(app: App, prompt: Prompt) -> SheetItem:
    settings = app.settings
    name = pitch_name(prompt.pitch, settings.language)
    staff = prompt.pitch if CueKind.STAFF in prompt.cue and prompt.judged is not Judged.NAME else None
    if prompt.cue:
        cue = cue_words(prompt, settings.language, settings.accidentals, staff_drawn=staff is not None)
    else:  # on paper a walk is written down as it goes: the place is there, its name is asked
        cue = place_words(prompt.places[0])
    if staff is not None and cue.startswith(name):
        cue = cue.removeprefix(name).lstrip("; ")  # the staff is read, not its name
    places = prompt.places[:MOST_PLACES]
    more = " ..." if len(prompt.places) > len(places) else ""
    place = shown_place(prompt) if prompt.judged is Judged.NAME else None
    where = place_words(place) if place is not None else places_words(places) + more
    return SheetItem(prompt.n, cue, staff, f"{name}: {where}", name, prompt.places)
