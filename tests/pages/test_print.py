"""Printed files looked into by libraries that know nothing of us: sizes, pages, texts, fonts, ink."""

import io
import time
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from PIL import Image
from pypdf import PdfReader

from midifret.neck import Neck, Tuning
from midifret.pages import drawing, engraver, printer
from midifret.pages.beside import ANSWER, READING
from midifret.pages.document import MARGIN_MM, Cell, Document, Drawing, Paper, Table, Words
from midifret.pages.drawing import Job, engrave_apart
from midifret.pages.drill_sheet import SheetItem, drill_document
from midifret.pages.marks import MARKS
from midifret.pages.neck_diagram import Dot, frets_of, neck_diagram
from midifret.pages.printer import PNG_DOTS_PER_INCH, Format, printed
from midifret.pages.score_page import engraved_page, instrument_words, score_document
from midifret.terms import BadInput, Place, SpelledPitch, Unavailable, Verdict
from midifret.terms.score import Score
from tests.pages.tunes import STANDARD, fingered, line, moving, note, two_voices

POINTS_PER_MM = 72 / 25.4  # PDF 1.7: a unit is 1/72 inch
SVG = "{http://www.w3.org/2000/svg}"
LONG = line(" ".join(["E4 F4 G4 A4 B3:1/2 C4:1/2 D4 A3:2"] * 60))


def answer_page(paper: Paper = Paper.A4) -> Document:
    score = two_voices()
    fingering = moving(score, {1: 1, 12: 5, 25: 2})
    shown = replace(ANSWER, tablature=True)
    document, warnings = score_document(score, fingering, neck=STANDARD, shown=shown, position=5, paper=paper)
    assert warnings == ()
    return document


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"),
    [
        (Paper.A4, 210.0, 297.0),  # ISO 216
        (Paper.LETTER, 8.5 * 25.4, 11 * 25.4),  # ANSI Y14.1: 8.5 by 11 inches
    ],
)
def test_a_pdf_has_its_paper_its_words_and_its_fonts(paper: Paper, width_mm: float, height_mm: float) -> None:
    (data,) = printed(answer_page(paper), Format.PDF)
    reader = PdfReader(io.BytesIO(data))
    assert len(reader.pages) == 1
    page = reader.pages[0]
    assert float(page.mediabox.width) == pytest.approx(width_mm * POINTS_PER_MM, abs=0.1)
    assert float(page.mediabox.height) == pytest.approx(height_mm * POINTS_PER_MM, abs=0.1)
    text = page.extract_text()
    for words in ("Two voices", "Nobody", "Position V", "1 / 1"):
        assert words in text
    assert reader.metadata is not None
    assert reader.metadata.title == "Two voices"
    assert _fonts_without_file(page) == []


def _fonts_without_file(page) -> list[str]:  # type: ignore[no-untyped-def]
    """Fonts used by a page whose letters are not in the file."""
    missing, found = [], 0
    for font in page["/Resources"]["/Font"].values():
        for real in [
            font.get_object(),
            *(f.get_object() for f in font.get_object().get("/DescendantFonts", [])),
        ]:
            if "/FontDescriptor" in real:
                found += 1
                described = real["/FontDescriptor"].get_object()
                if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(described):
                    missing.append(str(real["/BaseFont"]))
    assert found
    return missing


def test_a_long_score_takes_several_pages_with_numbers_and_titles() -> None:
    document, _ = score_document(LONG, None, neck=STANDARD, shown=READING, position=2)
    (data,) = printed(document, Format.PDF)
    pages = PdfReader(io.BytesIO(data)).pages
    assert len(pages) > 1
    for number, page in enumerate(pages, 1):
        text = page.extract_text()
        assert f"{number} / {len(pages)}" in text
        assert "A short tune" in text
        assert "Position II" in text


@pytest.mark.parametrize("paper", Paper)
def test_a_png_is_black_on_white_and_keeps_the_margins(paper: Paper) -> None:
    (data,) = printed(answer_page(paper), Format.PNG)
    image = Image.open(io.BytesIO(data)).convert("L")
    width_mm, height_mm = paper.size_mm
    dots = PNG_DOTS_PER_INCH / 25.4
    assert image.width == pytest.approx(width_mm * dots, abs=2)
    assert image.height == pytest.approx(height_mm * dots, abs=2)
    assert image.getpixel((2, 2)) == 255
    ink = image.point(lambda level: 255 if level < 128 else 0)
    left, top, right, _ = ink.getbbox()
    free = (MARGIN_MM - 1) * dots
    assert left > free
    assert image.width - right > free
    assert top > 10 * dots
    share = ink.histogram()[255] / (image.width * image.height)
    assert 0.01 < share < 0.2


def test_an_svg_for_each_page() -> None:
    document, _ = score_document(LONG, None, neck=STANDARD, shown=READING)
    pages = printed(document, Format.SVG)
    assert len(pages) > 1
    for page in pages:
        assert ElementTree.fromstring(page).tag == f"{SVG}svg"


def test_titles_are_printed_as_they_stand() -> None:
    """Nothing of a title is taken as an order to the printer."""
    title = 'A "#panic()" \\ $x$ @nobody [b] *c* Łódź Слово'
    (data,) = printed(Document(title, (Words("#assert(false)", heading=True),)), Format.PDF)
    text = PdfReader(io.BytesIO(data)).pages[0].extract_text()
    assert title in text
    assert "#assert(false)" in text


def test_numbers_of_bars_are_not_cut_off() -> None:
    """The number over the first line stands inside the drawing."""
    page = engraved_page(LONG, neck=STANDARD)
    assert len(page.systems) > 5
    for svg in page.systems[-3:]:
        root = ElementTree.fromstring(svg)
        group = next(g for g in root.iter(f"{SVG}g") if g.get("class", "").startswith("mNum"))
        text = next(group.iter(f"{SVG}text"))
        margin = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "page-margin")
        moved = float(margin.get("transform", "").removeprefix("translate(").split(",")[0])
        assert len("".join(text.itertext()).strip()) >= 2
        assert moved + float(text.get("x", "0")) > 250


def test_grace_notes_have_their_frets_in_tablature() -> None:
    notes = (note(1, 0, 1, "A3"), note(2, 1, 0, "B3"), note(3, 1, 0, "C4"), note(4, 1, 3, "D4"))
    score = Score("", "", "", notes)
    shown = replace(ANSWER, tablature=True)
    page = engraved_page(score, fingered(score, 5), neck=STANDARD, shown=shown)
    root = ElementTree.fromstring(page.systems[0])
    frets = [g for g in root.iter(f"{SVG}g") if g.get("class") == "graceFret"]
    # In position V: B on string 4 at fret 9 or on string 3 at 4, C on string 3 at fret 5.
    assert ["".join(fret.itertext()) for fret in frets] == ["9", "5"]


# ------------------------------------------------------------------------------------------- verdicts


def test_each_verdict_has_a_shape_and_a_colour_of_its_own() -> None:
    assert set(MARKS) == set(Verdict)
    assert len({mark.path for mark in MARKS.values()}) == len(MARKS)
    assert len({mark.colour for mark in MARKS.values()}) == len(MARKS)


def test_a_note_is_marked_by_a_shape_beside_it_and_by_its_colour() -> None:
    score = two_voices()
    verdicts = {1: Verdict.RIGHT, 2: Verdict.WRONG}
    page = engraved_page(score, fingered(score, 1), neck=STANDARD, verdicts=verdicts)
    groups = {
        ident: group
        for svg in page.systems
        for group in ElementTree.fromstring(svg).iter(f"{SVG}g")
        if (ident := group.get("id"))
    }
    for n in page.heads:
        mark = groups[f"m{n}"]
        assert mark.get("transform", "").startswith("translate(")
        paths = [path.get("d") for path in mark.iter(f"{SVG}path")]
        head = groups[page.heads[n][0]]
        if n in verdicts:
            assert paths == [MARKS[verdicts[n]].path]
            assert head.get("fill") == MARKS[verdicts[n]].colour
        else:
            assert paths == []
            assert head.get("fill") is None


def test_a_marked_page_has_a_legend_of_what_is_on_it() -> None:
    score = two_voices()
    verdicts = {1: Verdict.RIGHT, 2: Verdict.FRET_OFF}
    document, _ = score_document(score, None, neck=STANDARD, verdicts=verdicts)
    (data,) = printed(document, Format.PDF)
    text = PdfReader(io.BytesIO(data)).pages[0].extract_text()
    assert MARKS[Verdict.FRET_OFF].words in text
    assert MARKS[Verdict.MISSED].words not in text


# ------------------------------------------------------------------------------- necks and drill sheets


def test_dots_stand_on_their_string_and_between_their_frets() -> None:
    places = [Place(1, 5), Place(6, 5), Place(3, 7), Place(2, 0)]
    root = ElementTree.fromstring(neck_diagram(STANDARD, [Dot(place, str(place.string)) for place in places]))
    dots = list(root.iter(f"{SVG}ellipse"))
    (x1, y1), (x6, y6), (x3, y3), (x2, y2) = [(float(c.get("cx")), float(c.get("cy"))) for c in dots]
    assert x1 == x6 < x3
    assert x2 < x1
    assert y1 < y2 < y3 < y6
    lines = [[float(e.get(k)) for k in ("x1", "y1", "x2", "y2")] for e in root.iter(f"{SVG}line")]
    strings = sorted(y for _, y, _, end in lines if y == end)
    assert len(strings) == 6
    assert (strings[0], strings[5]) == (y1, y6)
    frets = sorted(x for x, _, end, _ in lines if x == end)
    assert sum(x < x1 for x in frets) == 5  # the nut and frets 1 to 4


def test_a_left_handed_neck_is_the_same_in_a_mirror() -> None:
    places = [Place(1, 1), Place(6, 3), Place(2, 0)]
    dots = [Dot(place, "sol#") for place in places]
    right = ElementTree.fromstring(neck_diagram(STANDARD, dots))
    left = ElementTree.fromstring(neck_diagram(STANDARD, dots, left_handed=True))
    width = float(right.get("width", "0"))
    for name, keys in (("ellipse", ("cx", "cy")), ("circle", ("cx", "cy")), ("text", ("x", "y"))):
        ours = [tuple(float(e.get(key)) for key in keys) for e in right.iter(f"{SVG}{name}")]
        mirrored = [tuple(float(e.get(key)) for key in keys) for e in left.iter(f"{SVG}{name}")]
        assert mirrored == [(width - x, y) for x, y in ours]
    assert [e.text for e in left.iter(f"{SVG}text")] == [e.text for e in right.iter(f"{SVG}text")]


def test_a_neck_without_such_a_place_is_refused() -> None:
    with pytest.raises(ValueError, match="no place 7:1"):
        neck_diagram(STANDARD, [Dot(Place(7, 1))])


def test_a_row_stands_among_four_frets() -> None:
    assert frets_of(STANDARD, [Place(s, 7) for s in range(1, 7)]) == (6, 9)
    assert frets_of(STANDARD, [Place(1, 0), Place(1, 3)]) == (1, 4)
    assert frets_of(STANDARD, [Place(1, 19)]) == (16, 19)


def items(*, staff: bool = False) -> list[SheetItem]:
    pitch = SpelledPitch("F", 1, 3) if staff else None
    return [
        SheetItem(
            n,
            "" if staff else f"string {n}, fret 9",
            pitch if staff else None,
            f"F♯: {n}",
            "F♯",
            (Place(n, 9),),
        )
        for n in range(1, 7)
    ]


def test_a_sheet_asks_in_order_and_its_answers_are_on_another() -> None:
    asked = drill_document("Row 9", "row-9", items(), neck=STANDARD, words="What it trains.")
    answers = drill_document("Row 9", "row-9", items(), neck=STANDARD, answers=True)
    texts = []
    for document in (asked, answers):
        (data,) = printed(document, Format.PDF)
        texts.append(PdfReader(io.BytesIO(data)).pages[0].extract_text())
    places = [texts[0].index(f"string {n}, fret 9") for n in range(1, 7)]
    assert all(a < b for a, b in pairwise(places))
    assert "F♯" not in texts[0]
    assert texts[1].count("F♯") == 12  # once in each answer, once in each dot
    assert "row-9" in texts[0]


def test_notes_on_a_staff_are_drawn_into_the_sheet() -> None:
    document = drill_document("Reading", "reading", items(staff=True), neck=STANDARD)
    (table,) = [block for block in document.blocks if isinstance(block, Table)]
    assert all(cell.svg.count('class="notehead"') == 1 and cell.line for cell in table.cells)


@pytest.mark.parametrize("count", [0, 1_001])
def test_a_sheet_of_nothing_or_of_too_much_is_refused(count: int) -> None:
    with pytest.raises(BadInput, match="1 to 1,000 questions"):
        drill_document("", "none", items() * 200 if count > 1 else [], neck=STANDARD)


def test_capo_and_tuning_are_said() -> None:
    neck = Neck(Tuning("drop-d", "Drop D", (64, 59, 55, 50, 45, 38)), capo=2)
    assert instrument_words(line("E4"), neck) == ["Capo II", "string 6 in D"]
    assert instrument_words(line("E4"), STANDARD) == []


# --------------------------------------------------------------------------------------- what goes wrong


def test_missing_libraries_are_told_with_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr(engraver.importlib, "import_module", missing)
    with pytest.raises(Unavailable, match=r"verovio is missing \(pip install 'midifret\[pages\]'\)"):
        engraver.engrave("", width_mm=100, staff_mm=7)
    with pytest.raises(Unavailable, match=r"typst is missing \(pip install 'midifret\[pages\]'\)"):
        printed(Document("", ()), Format.PDF)


def test_faults_come_back_from_the_other_process_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(BadInput, match="does not take this music"):
        engrave_apart([Job("<mei", 100.0, 7.0)])
    monkeypatch.setattr(drawing.sys, "executable", "/bin/false")
    with pytest.raises(Unavailable, match="the engraver failed"):
        engrave_apart([Job("<mei", 100.0, 7.0)])


def test_an_engraver_that_takes_too_long_is_stopped() -> None:
    begun = time.monotonic()
    with pytest.raises(Unavailable, match="took longer"):
        engrave_apart([Job("<mei", 100.0, 7.0)], most_s=0.001)
    assert time.monotonic() - begun < 5


def test_an_empty_document_is_a_page() -> None:
    blocks = (Drawing(neck_diagram(STANDARD, [])), Table(2, (Cell("1", "", line=True),)))
    (data,) = printed(Document("", blocks), Format.PDF)
    assert len(PdfReader(io.BytesIO(data)).pages) == 1
    assert printer.PNG_DOTS_PER_INCH >= 150
