"""A drill as printed sheets: what is asked in order, the neck that it is about, and the answers."""

from collections.abc import Sequence
from dataclasses import dataclass

from midifret.neck import Neck
from midifret.pages.document import Block, Cell, Document, Drawing, Paper, Table, Words
from midifret.pages.drawing import Job, engrave_apart
from midifret.pages.engraver import FONT
from midifret.pages.finish import finished
from midifret.pages.mei import one_note_mei
from midifret.pages.neck_diagram import Dot, frets_of, neck_diagram
from midifret.terms import BadInput, Place, SpelledPitch

MOST_ITEMS = 1_000
_STAFF_WIDTH_MM, _STAFF_MM = 26.0, 7.0
# Millimetres: of a letter at the size of the sheets, wide ones taken into account; of a line to write on; of
# what stands before the words in a cell; between columns [measured by eye].
_LETTER_MM, _LINE_MM, _BEFORE_MM, _BETWEEN_MM = 1.65, 14.0, 12.0, 6.0
_MOST_COLUMNS = 3
# How wide a neck is drawn: of a unit of its drawing, so that few frets do not fill the page.
_UNIT_MM = 0.24


@dataclass(frozen=True, slots=True)
class SheetItem:
    """One thing asked. cue: in words. staff: drawn after them, None for none. answer: in words.

    name: the note's name, written into the neck. places: those that answer, the suggested one first.
    """

    n: int
    cue: str
    staff: SpelledPitch | None
    answer: str
    name: str
    places: tuple[Place, ...]


def drill_document(
    title: str,
    name: str,
    items: Sequence[SheetItem],
    *,
    neck: Neck,
    about: str = "",
    words: str = "",
    answers: bool = False,
    paper: Paper = Paper.A4,
    left_handed: bool = False,
) -> Document:
    """Lay a drill out: with `answers` the answer sheet, else the one with lines to write on.

    name: as commands take it, at the foot. words: what it trains. left_handed: the neck is drawn the other
    way round. Raises BadInput where nothing or more than
    1,000 things are asked, Unavailable where notes on a staff are asked and the engraving library is missing.
    """
    if not 0 < len(items) <= MOST_ITEMS:
        raise BadInput(
            f"{name}: {len(items):,} questions do not make a sheet", allowed=f"1 to {MOST_ITEMS:,} questions"
        )
    staves = _staves([item.staff for item in items if item.staff is not None])
    cells = tuple(
        Cell(
            str(item.n),
            item.answer if answers else item.cue,
            line=not answers,
            svg="" if item.staff is None else staves[item.staff],
            svg_mm=0.0 if item.staff is None else _STAFF_WIDTH_MM,
        )
        for item in items
    )
    dots = _dots(items)
    shown = dots if answers else []
    frets = frets_of(neck, [dot.place for dot in dots])
    diagram = neck_diagram(neck, shown, frets=frets, left_handed=left_handed)
    units = float(diagram.split('width="', 1)[1].split('"', 1)[0])
    blocks: list[Block] = []
    if words:
        blocks.append(Words(words))
    blocks.append(Drawing(diagram, min(paper.text_mm, units * _UNIT_MM)))
    blocks.append(Table(_columns(cells, paper), cells))
    return Document(
        f"{title}: answers" if answers else title, tuple(blocks), about=about, foot=name, paper=paper
    )


def _dots(items: Sequence[SheetItem]) -> list[Dot]:
    """One dot for each place that is asked, the suggested one alone where several answer."""
    found: dict[Place, Dot] = {}
    for item in items:
        for place in item.places[:1]:
            found.setdefault(place, Dot(place, item.name))
    return [found[place] for place in sorted(found)]


def _columns(cells: Sequence[Cell], paper: Paper) -> int:
    """As many as nine cells in ten fit into; the words of the others take two lines."""
    widths = sorted(
        _BEFORE_MM + len(cell.text) * _LETTER_MM + cell.svg_mm + (_LINE_MM if cell.line else 0.0)
        for cell in cells
    )
    for columns in range(_MOST_COLUMNS, 1, -1):
        if widths[(len(widths) - 1) * 9 // 10] <= (paper.text_mm - _BETWEEN_MM * (columns - 1)) / columns:
            return columns
    return 1


def _staves(pitches: Sequence[SpelledPitch]) -> dict[SpelledPitch, str]:
    """Each pitch once, as a whole note on a short staff."""
    wanted = list(dict.fromkeys(pitches))
    engraved = engrave_apart([Job(one_note_mei(pitch), _STAFF_WIDTH_MM, _STAFF_MM) for pitch in wanted])
    return {pitch: finished(systems[0], font=FONT) for pitch, systems in zip(wanted, engraved, strict=True)}
