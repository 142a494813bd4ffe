"""`midifret page`: a score or a drill on paper."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import click

from midifret.cli.app import App, app_of, guitar_option, warn
from midifret.cli.page_score import as_hand_plays, ready
from midifret.cli.page_take import reading_page
from midifret.cli.score_options import ScoreWishes, read_asked, score_options
from midifret.drills.fields import position_number
from midifret.fingering import OpenStrings
from midifret.gear.fingering import load_weights
from midifret.neck import Neck, pitch_name
from midifret.pages.bars import lay_out
from midifret.pages.beside import ANSWER, READING, Strings, beside
from midifret.pages.document import Document, Paper
from midifret.pages.drill_sheet import SheetItem, drill_document
from midifret.pages.musicxml import to_musicxml
from midifret.pages.output import check_folder, check_new, ending_of, format_of, write_pages
from midifret.pages.printer import printed
from midifret.pages.score_page import score_document
from midifret.show.words import cue_words, place_words, places_words, shown_place
from midifret.terms import BadInput, CueKind, Exercise, Judged, Prompt

MOST_PLACES = 3
_DRILL_ENDINGS = ("", ".yaml", ".yml")


@click.command("page")
@click.argument("what", metavar="SCORE|DRILL|TAKE")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="File to write: .pdf, .png, .svg; of a score .musicxml too.",
)
@click.option("--overwrite", is_flag=True, help="Write over files that are there already.")
@click.option("--answers", is_flag=True, help="With everything: fingers, strings, positions; or the answers.")
@click.option("--verdicts", is_flag=True, help="A take of a reading: its music with each note marked.")
@click.option(
    "--position", metavar="N", default=None, help="Read a score in a position, 5 or V; 0 is the open one."
)
@click.option(
    "--open",
    "opened",
    type=click.Choice([each.value for each in OpenStrings]),
    default=None,
    help="When a score has open strings. From position I on: needed; else freely.",
)
@click.option("--tablature", is_flag=True, help="A second staff with the frets.")
@click.option(
    "--strings",
    type=click.Choice([each.value for each in Strings]),
    default=None,
    help="Which notes of a score have their string: none, needed, all.",
)
@click.option("--unfolded", is_flag=True, help="Write the repeats of a score out.")
@click.option("--sounding", is_flag=True, help="Under a capo: notes as they sound, not as the hand plays.")
@click.option("--left-handed", is_flag=True, help="The neck of a drill with the nut at the right.")
@click.option(
    "--paper",
    type=click.Choice([each.value for each in Paper]),
    default=Paper.A4.value,
    show_default=True,
)
@click.option("--seed", type=int, default=0, show_default=True, help="What a shuffled drill starts from.")
@score_options
@guitar_option
@click.pass_context
def command(
    context: click.Context,
    what: str,
    out: Path,
    overwrite: bool,
    answers: bool,
    verdicts: bool,
    position: str | None,
    opened: str | None,
    tablature: bool,
    strings: str | None,
    unfolded: bool,
    sounding: bool,
    left_handed: bool,
    paper: str,
    seed: int,
    wishes: ScoreWishes,
    guitar: str | None,
) -> int:
    """Write SCORE, any score file, as a page to read from, or DRILL as a sheet with its questions.

    With --verdicts write what was read in TAKE, a recording of `midifret read`, each note with its mark.

    A page to read from shows the position alone. Several pages of a .png or .svg become several files.
    """
    app = app_of(context)
    ending = ending_of(out)
    check_folder(out)
    if out.exists() and Path(what).exists() and out.samefile(what):
        raise BadInput(f"{out}: this is the score itself", allowed="another name")
    if not overwrite:
        check_new(out)
    neck = app.guitar(guitar).neck
    if verdicts:
        if (
            answers
            or position
            or opened
            or tablature
            or strings
            or unfolded
            or left_handed
            or wishes != ScoreWishes()
        ):
            raise click.UsageError("a take is printed as it was read: --sounding, --paper and --guitar hold")
        format_ = format_of(out)
        document, warnings = reading_page(
            app, Path(what), guitar=guitar, sounding=sounding, paper=Paper(paper)
        )
        pages = printed(document, format_)
        for warning in dict.fromkeys(warnings):
            warn(warning)
    elif Path(what).suffix.lower() in _DRILL_ENDINGS:
        if position or opened or tablature or strings or unfolded or sounding or wishes != ScoreWishes():
            raise click.UsageError(
                "a drill is printed as it is: --answers, --paper, --seed, --left-handed and --guitar hold"
            )
        exercise = app.exercise(what, neck, seed=seed)
        document = drill_sheet(
            app, exercise, neck, answers=answers, paper=Paper(paper), left_handed=left_handed
        )
        pages = printed(document, format_of(out))
    else:
        if left_handed:
            raise click.UsageError("--left-handed is for drills: the page of a score shows no neck")
        shown = ANSWER if answers else READING
        if strings is not None:
            shown = replace(shown, strings=Strings(strings))
        shown = replace(shown, tablature=tablature)
        score, neck = read_asked(app, Path(what), wishes, neck)
        number = _position(position)
        rule = None if opened is None else OpenStrings(opened)
        page = ready(
            score, neck, load_weights(app.home), position=number, open_strings=rule, unfolded=unfolded
        )
        if ending == "musicxml":
            laid = lay_out(page.score, page.signs)
            text = to_musicxml(laid, beside(page.score, page.fingered, neck, shown, number or 0), neck)
            pages, warnings = (text.encode(),), laid.warnings
        else:
            document, warnings = score_document(
                page.score,
                page.fingered,
                neck=neck,
                shown=shown,
                position=number or 0,
                paper=Paper(paper),
                signs=page.signs,
                drawn=None if sounding else as_hand_plays(page.score, neck.capo),
            )
            pages = printed(document, format_of(out))
        for warning in (*score.remarks, *dict.fromkeys((*page.warnings, *warnings))):
            warn(warning)
    for path in write_pages(out, pages, overwrite=overwrite):
        click.echo(path)
    return 0


def _position(text: str | None) -> int | None:
    if text is None:
        return None
    try:
        return position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None


def drill_sheet(
    app: App, exercise: Exercise, neck: Neck, *, answers: bool, paper: Paper, left_handed: bool = False
) -> Document:
    """An exercise as a sheet to print."""
    least, most = exercise.minutes
    minutes = f"{least} minutes" if least == most else f"{least} to {most} minutes"
    return drill_document(
        exercise.title,
        exercise.name,
        _items(app, exercise.prompts),
        neck=neck,
        about=f"Stage {exercise.stage}, {minutes}",
        words=exercise.trains,
        answers=answers,
        paper=paper,
        left_handed=left_handed,
    )


def _items(app: App, prompts: Sequence[Prompt]) -> list[SheetItem]:
    return [_item(app, prompt) for prompt in prompts]


def _item(app: App, prompt: Prompt) -> SheetItem:
    settings = app.settings
    name = pitch_name(prompt.pitch, settings.language)
    staff = prompt.pitch if CueKind.STAFF in prompt.cue and prompt.judged is not Judged.NAME else None
    if prompt.cue:
        cue = cue_words(prompt, settings.language, settings.accidentals, staff_drawn=staff is not None)
    else:  # on paper a walk is written down as it goes: the place is there, its name is asked
        cue = place_words(prompt.places[0])
    places, more = prompt.places, ""
    if len(places) > MOST_PLACES:
        places, more = places[:1], f", or {len(places) - 1} other places"
    place = shown_place(prompt) if prompt.judged is Judged.NAME else None
    where = place_words(place) if place is not None else places_words(places) + more
    return SheetItem(prompt.n, cue, staff, f"{name}: {where}", name, prompt.places)
