"""The report as a printed document: the same sections, with nothing folded."""

from itertools import zip_longest

from midifret.pages.document import Beside, Block, Document, Drawing, Figures, Legend, Paper, Words
from midifret.report_page.parts import Group, Numbers, Part, Picture, Section, Sheet, Steps, Text
from midifret.report_page.sections import head, sections, title_of
from midifret.report_page.style import DRAWN
from midifret.report_page.values import Progress

_DOT_MM = 25.4 / 96  # of CSS (CSS Values and Units 3, section 5.2)
_BESIDE, _GUTTER_MM = 2, 8.0


def report_document(progress: Progress, paper: Paper = Paper.A4) -> Document:
    """Return the report for the printer. What a picture says is not repeated as a table."""
    blocks: list[Block] = []
    breaks: list[int] = []
    whole: tuple[Part, ...] = (*head(progress), *sections(progress))
    for part in whole:
        if isinstance(part, Section) and part.group is Group.TEACHER:
            breaks.append(len(blocks))
        blocks += _blocks(part, paper.text_mm, small=False)
    return Document(title_of(progress), tuple(blocks), foot="midifret", paper=paper, breaks=tuple(breaks))


def _blocks(part: Part, width_mm: float, *, small: bool) -> list[Block]:
    """small: headings in it are those of parts of a section."""
    match part:
        case Text(text, strong):
            return [Words(text, heading=strong, small=strong)]
        case Steps(items):
            return [Words(item, number=number) for number, item in enumerate(items, 1)]
        case Picture(svg):
            return [_drawing(svg, width_mm)]
        case Numbers():
            return [] if part.repeats or not part.rows else _table(part)
        case Sheet(lines, _, legend):
            return [*([Legend(legend)] if legend else []), *(Drawing(line) for line in lines)]
        case Section(title, parts, group):
            inside = [one for one in parts if not (group is Group.ROWS and isinstance(one, Section))]
            blocks: list[Block] = [Words(title, heading=True, small=small)]
            for one, following in zip_longest(inside, inside[1:]):
                shown = (following is None and group is Group.ROWS) or isinstance(following, Picture | Sheet)
                if isinstance(one, Text) and not one.strong and shown:
                    blocks.append(Words(one.text, kept=True))
                else:
                    blocks += _blocks(one, width_mm, small=True)
            beside = [one for one in parts if one not in inside]
            if beside:
                room_mm = (width_mm - _GUTTER_MM) / _BESIDE
                cells = tuple(tuple(_blocks(one, room_mm, small=True)) for one in beside)
                blocks.append(Beside(_BESIDE, cells))
            return blocks


def _table(table: Numbers) -> list[Block]:
    figures = Figures(table.heads, table.rows)
    return [Words(table.label, heading=True, small=True), figures] if table.folded else [figures]


def _drawing(svg: str, width_mm: float) -> Drawing:
    """A picture with its style in it, as large as on the screen or as wide as there is room."""
    start, inside = svg.split(">", 1)
    dots = float(start.split(' width="', 1)[1].split('"', 1)[0])
    whole = f'{start} xmlns="http://www.w3.org/2000/svg"><style>{DRAWN}</style>{inside}'
    return Drawing(whole, min(dots * _DOT_MM, width_mm), 2.0)
