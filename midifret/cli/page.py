"""`midifret page`: a score or a drill on paper."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import click

from midifret.cli.app import App, app_of, guitar_option, warn
from midifret.cli.score_options import ScoreWishes, read_asked, score_options
from midifret.drills.fields import position_number
from midifret.fingering import Choices, Fingering, Kept, OpenStrings, finger
from midifret.gear.fingering import load_weights
from midifret.neck import Neck, pitch_name
from midifret.pages.bars import lay_out
from midifret.pages.beside import ANSWER, READING, Strings, beside
from midifret.pages.document import Document, Paper
from midifret.pages.drill_sheet import SheetItem, drill_document
from midifret.pages.musicxml import to_musicxml
from midifret.pages.output import check_folder, ending_of, format_of, write_pages
from midifret.pages.printer import printed
from midifret.pages.score_page import score_document
from midifret.show.words import cue_words, place_words, places_words, shown_place
from midifret.terms import BadInput, CueKind, Exercise, Judged, Prompt
from midifret.terms.fingered import FingeredNote, FingeredScore
from midifret.terms.score import Barre, Score

MOST_PLACES = 3
# A barre over so many strings is printed as a whole one [common practice, no source].
WHOLE_BARRE_STRINGS = 5
_DRILL_ENDINGS = ("", ".yaml", ".yml")


@click.command("page")
@click.argument("what", metavar="SCORE|DRILL")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="File to write: .pdf, .png, .svg; of a score .musicxml too.",
)
@click.option("--answers", is_flag=True, help="With everything: fingers, strings, positions; or the answers.")
@click.option("--position", metavar="N", default=None, help="Read a score in a position, 5 or V.")
@click.option("--tablature", is_flag=True, help="A second staff with the frets.")
@click.option(
    "--strings",
    type=click.Choice([each.value for each in Strings]),
    default=None,
    help="Which notes of a score have their string: none, needed, all.",
)
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
    answers: bool,
    position: str | None,
    tablature: bool,
    strings: str | None,
    paper: str,
    seed: int,
    wishes: ScoreWishes,
    guitar: str | None,
) -> int:
    """Write SCORE, any score file, as a page to read from, or DRILL as a sheet with its questions.

    A page to read from shows the position alone. Several pages of a .png or .svg become several files.
    """
    app = app_of(context)
    ending = ending_of(out)
    check_folder(out)
    neck = app.guitar(guitar).neck
    if Path(what).suffix.lower() in _DRILL_ENDINGS:
        if position or tablature or strings or wishes != ScoreWishes():
            raise click.UsageError(
                "a drill is printed as it is: --answers, --paper, --seed and --guitar hold"
            )
        exercise = app.exercise(what, neck, seed=seed)
        document = drill_sheet(app, exercise, neck, answers=answers, paper=Paper(paper))
        pages = printed(document, format_of(out))
    else:
        shown = ANSWER if answers else READING
        if strings is not None:
            shown = replace(shown, strings=Strings(strings))
        shown = replace(shown, tablature=tablature)
        score, neck = read_asked(Path(what), wishes, neck)
        number = _position(position)
        fingering = _fingered(app, score, neck, number)
        if ending == "musicxml":
            laid = lay_out(score)
            text = to_musicxml(laid, beside(score, fingering, neck, shown, number or 0), neck)
            pages, warnings = (text.encode(),), laid.warnings
        else:
            document, warnings = score_document(
                score, fingering, neck=neck, shown=shown, position=number or 0, paper=Paper(paper)
            )
            pages = printed(document, format_of(out))
        for warning in (*score.remarks, *dict.fromkeys(warnings)):
            warn(warning)
    for path in write_pages(out, pages):
        click.echo(path)
    return 0


def _position(text: str | None) -> int | None:
    if text is None:
        return None
    try:
        return position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None


def _fingered(app: App, score: Score, neck: Neck, position: int | None) -> FingeredScore:
    """Finger the score in the position, or freely as it is printed."""
    if position is None:
        choices = Choices(kept=frozenset(Kept))
    else:
        choices = Choices(position=position, open_strings=OpenStrings.NEEDED)
    return as_printed(score, finger(score, neck, choices, load_weights(app.home)))


def as_printed(score: Score, fingering: Fingering) -> FingeredScore:
    """A fingering as it is printed, with a barre where the first finger holds several strings at once."""
    barres = _barres(score, fingering)
    notes = tuple(
        FingeredNote(
            note.n,
            note.place,
            note.finger,
            note.position,
            barre=barres.get(note.n),
            shift=note.shifted,
        )
        for note in fingering.notes
    )
    return FingeredScore(notes, fingering.shifts, fingering.open_strings, fingering.cost)


def _barres(score: Score, fingering: Fingering) -> Mapping[int, Barre]:
    """The notes under each barre: held by the first finger at one fret on several strings at once."""
    held: list[_Held] = []
    found: dict[int, Barre] = {}
    for note, each in zip(score.notes, fingering.notes, strict=True):
        if each.finger != 1 or each.place is None:
            continue
        end = note.end_quarter if each.let_go_quarter is None else each.let_go_quarter
        now = _Held({each.n}, {each.place.string}, each.place.fret, end)
        for other in [other for other in held if other.end_quarter <= note.onset_quarter]:
            held.remove(other)
        for other in [other for other in held if other.fret == now.fret]:
            held.remove(other)
            now.notes |= other.notes
            now.strings |= other.strings
            now.end_quarter = max(now.end_quarter, other.end_quarter)
        held.append(now)
        if len(now.strings) > 1:
            whole = max(now.strings) >= WHOLE_BARRE_STRINGS
            found |= dict.fromkeys(now.notes, Barre.FULL if whole else Barre.PARTIAL)
    return found


@dataclass(slots=True)
class _Held:
    """What the first finger holds at one fret: notes and strings, and until when."""

    notes: set[int]
    strings: set[int]
    fret: int
    end_quarter: Fraction


def drill_sheet(app: App, exercise: Exercise, neck: Neck, *, answers: bool, paper: Paper) -> Document:
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
