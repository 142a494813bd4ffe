"""Kinds of page of a score: to read from, with the answers, with verdicts; as values to print or to show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from midifret.neck import Neck, pitch_name, roman
from midifret.neck.names import spell
from midifret.pages.bars import Laid, lay_out
from midifret.pages.beside import READING, Shown, beside
from midifret.pages.document import Block, Document, Drawing, Legend, Paper
from midifret.pages.drawing import Job, engrave_apart
from midifret.pages.engraver import FONT
from midifret.pages.finish import finished
from midifret.pages.marks import MARKS, legend_svg
from midifret.pages.mei import to_mei
from midifret.pages.musicxml import STANDARD_MIDIS
from midifret.terms import Verdict
from midifret.terms.fingered import FingeredScore
from midifret.terms.score import Directions, Score

STAFF_MM = 7.0  # usual height of the five lines in print [common practice, no source]


@dataclass(frozen=True, slots=True)
class EngravedPage:
    """A score engraved for a screen.

    systems: an SVG for each, from the top. heads: ids of the groups of each note's heads, by its number, the
    struck one first. The group m{n} beside note n is where its mark goes: a group, moved to its place.
    """

    systems: tuple[str, ...]
    heads: Mapping[int, tuple[str, ...]]
    warnings: tuple[str, ...]


def engraved_page(
    score: Score,
    fingered: FingeredScore | None = None,
    *,
    neck: Neck,
    shown: Shown = READING,
    position: int = 0,
    width_mm: float = Paper.A4.text_mm,
    verdicts: Mapping[int, Verdict] | None = None,
    marks: bool = True,
    signs: Sequence[Directions] = (),
) -> EngravedPage:
    """Engrave a score, in a process of its own.

    position: the one it is read in, 0 for none. verdicts: by the notes' numbers. marks: leave room for marks.
    signs: of repeats, one for each bar; empty for none.
    Raises BadInput for an empty or too long score, Unavailable without the engraving library.
    """
    laid = lay_out(score, signs)
    svgs = _systems(laid, score, fingered, neck, shown, position, width_mm, verdicts, marks=marks)
    return EngravedPage(svgs, laid.heads, laid.warnings)


def score_document(
    score: Score,
    fingered: FingeredScore | None = None,
    *,
    neck: Neck,
    shown: Shown = READING,
    position: int = 0,
    paper: Paper = Paper.A4,
    verdicts: Mapping[int, Verdict] | None = None,
    signs: Sequence[Directions] = (),
    drawn: Score | None = None,
) -> tuple[Document, tuple[str, ...]]:
    """Lay a score out for print; return the document and what is drawn otherwise than it sounds, in words.

    drawn: the same notes at other pitches, which are put on the staff: what the hand plays under a capo; None
    for the sounding ones. Raises as `engraved_page`.
    """
    laid = lay_out(drawn or score, signs)
    marks = verdicts is not None
    svgs = _systems(laid, score, fingered, neck, shown, position, paper.text_mm, verdicts, marks=marks)
    blocks: list[Block] = [Drawing(svg) for svg in svgs]
    if verdicts:
        seen = [verdict for verdict in Verdict if verdict in verdicts.values()]
        blocks.append(Legend(tuple((legend_svg(verdict), MARKS[verdict].words) for verdict in seen)))
    where = f"Position {roman(position)}" if position else ""
    words = [word for word in (where, *instrument_words(score, neck)) if word]
    if score.capo or neck.capo:
        words.append("notes as they sound" if drawn is None else "notes as the hand plays them")
    if any(bar.played > 1 for bar in score.bars):
        words.append("repeats written out")
    return Document(
        score.title or score.source,
        tuple(blocks),
        by=score.composer,
        about=", ".join(words),
        foot=where,
        paper=paper,
    ), laid.warnings


def instrument_words(score: Score, neck: Neck) -> list[str]:
    """Capo and tuning, where they are not the usual ones: what is printed over the first staff."""
    words = []
    capo = score.capo or neck.capo
    if capo:
        words.append(f"Capo {roman(capo)}")
    tuning = score.tuning_midis or neck.tuning.open_midi
    if len(tuning) != len(STANDARD_MIDIS):
        words.append(
            f"{len(tuning)} strings, from the lowest: {' '.join(_name(midi) for midi in tuning[::-1])}"
        )
    else:
        words += [
            f"string {string} in {_name(midi)}"
            for string, (midi, usual) in reversed([*enumerate(zip(tuning, STANDARD_MIDIS, strict=True), 1)])
            if midi != usual
        ]
    return words


def _name(midi: int) -> str:
    return pitch_name(spell(midi)[0])


def _systems(
    laid: Laid,
    score: Score,
    fingered: FingeredScore | None,
    neck: Neck,
    shown: Shown,
    position: int,
    width_mm: float,
    verdicts: Mapping[int, Verdict] | None,
    *,
    marks: bool,
) -> tuple[str, ...]:
    printed = beside(score, fingered, neck, shown, position)
    mei = to_mei(laid, printed, neck, tablature=shown.tablature, marks=marks)
    (systems,) = engrave_apart([Job(mei, width_mm, STAFF_MM)])
    graces = {
        laid.heads[note.n][0]: printed.places[note.n]
        for note in laid.score.notes
        if shown.tablature and not note.duration_quarter and note.n in printed.places
    }
    return tuple(
        finished(svg, font=FONT, verdicts=verdicts, heads=laid.heads, graces=graces, fingers=printed.fingers)
        for svg in systems
    )
