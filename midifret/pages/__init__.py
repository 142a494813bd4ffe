"""Engraved pages: a score or a drill as it is printed, with what stands beside the notes."""

from midifret.pages.bars import lay_out
from midifret.pages.beside import ANSWER, READING, Positions, Shown, Strings, beside
from midifret.pages.document import Document, Paper
from midifret.pages.drill_sheet import SheetItem, drill_document
from midifret.pages.marks import MARKS, mark_attributes
from midifret.pages.musicxml import to_musicxml
from midifret.pages.neck_diagram import Dot, neck_diagram
from midifret.pages.output import write_pages
from midifret.pages.printer import Format, printed
from midifret.pages.score_page import EngravedPage, engraved_page, score_document

__all__ = [
    "ANSWER",
    "MARKS",
    "READING",
    "Document",
    "Dot",
    "EngravedPage",
    "Format",
    "Paper",
    "Positions",
    "SheetItem",
    "Shown",
    "Strings",
    "beside",
    "drill_document",
    "engraved_page",
    "lay_out",
    "mark_attributes",
    "neck_diagram",
    "printed",
    "score_document",
    "to_musicxml",
    "write_pages",
]
