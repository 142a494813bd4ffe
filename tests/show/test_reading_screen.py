"""A reading on the screen and afterwards: where notes stand, which sign they have, how much fits."""

from dataclasses import replace

import pytest
from rich.cells import cell_len

from midifret.neck import Accidentals, Language
from midifret.play import summarise
from midifret.reading.alignment import Aligned, Kind
from midifret.reading.build import reading_exercise
from midifret.reading.figures import bar_figures, to_practise
from midifret.session.screen import Screen, Stage
from midifret.show.frame import frame
from midifret.show.reading_rows import reading_document, reading_rows
from midifret.show.reading_staff import reading_staff
from midifret.show.rows import plain
from midifret.terms import Answer, Exercise, Note, Place, Tempo, Verdict
from tests.reading.simulated import NECK, melody, reading, score_of
from tests.session.test_live import GUITAR

TUNE = reading(score_of("55 60 64 69", "64 61 57 55", "55+60 62 64+69 67"))


def screen(exercise: Exercise, n: int, **fields: object) -> Screen:
    values: dict[str, object] = {
        "prompt": exercise.prompts[n - 1],
        "answered": n - 1,
    }
    return Screen(
        Stage.ASKING,
        exercise,
        GUITAR,
        "me",
        False,
        Language.ENGLISH,
        Accidentals.SHARPS,
        **(values | fields),  # type: ignore[arg-type]
    )


def staff(exercise: Exercise, n: int, rows: int = 17, width: int = 80, **fields: object) -> list[str]:
    return [plain(line) for line in reading_staff(screen(exercise, n, **fields), width, rows)]


def test_each_note_stands_on_its_line_or_space() -> None:
    lines = staff(TUNE, 1)
    # A guitar is written an octave above what sounds (LilyPond Notation Reference): G3 sounding is G4, on
    # the second line; C4 is C5, in the third space; E4 is E5, in the top space; A4 is A5, on a ledger line.
    top = next(i for i, line in enumerate(lines) if line.startswith(" ─"))  # the top line
    rows = {number: [i - top for i, line in enumerate(lines) if "█" in line[column : column + 2]]
            for number, column in enumerate((4, 12, 20, 28), start=1)}  # fmt: skip
    assert lines[1].split() == ["1", "2", "3", "4"] * 2
    assert rows == {1: [6], 2: [3], 3: [1], 4: [-2]}
    assert lines[top - 2][27:31] == "─██─"  # a ledger line through it


def test_signs_tell_the_verdicts_apart_without_colour() -> None:
    told = ((1, Verdict.RIGHT), (2, Verdict.WRONG), (3, Verdict.ELSEWHERE), (4, Verdict.MISSED))
    signs = staff(TUNE, 5, verdicts=told)
    assert signs[-1].split() == ["▲▲"]  # bar 2 is shown: those of bar 1 have gone
    signs = staff(TUNE, 4, verdicts=told[:3])
    assert signs[-1].split() == ["✓✓", "✗✗", "○○", "▲▲"]
    chord = staff(TUNE, 11, verdicts=((9, Verdict.RIGHT), (10, Verdict.WRONG)))
    assert chord[-1].split() == ["✗✗", "▲▲"]  # of a chord the worst


@pytest.mark.parametrize(("width", "height"), [(80, 24), (60, 16), (120, 40), (40, 10), (20, 5)])
def test_it_fits_any_terminal(width: int, height: int) -> None:
    for exercise in (TUNE, reading(melody(80, 3, chords=0.3, low=40, high=83), 9)):
        for tempo in (None, Tempo(60.0)):
            for n in (1, len(exercise.prompts) // 2, len(exercise.prompts)):
                rows = frame(screen(replace(exercise, tempo=tempo), n), width, height)
                assert len(rows) == height
                assert all(cell_len(plain(line)) <= width for line in rows)


def test_where_both_compass_and_room_are_great_a_row_holds_a_line_and_a_space() -> None:
    low_and_high = reading(score_of("40 83 64 67"), 9)
    lines = staff(low_and_high, 1, rows=14)
    assert len(lines) <= 14
    heads = "".join(line for line in lines)
    assert "▄▄" in heads or "▀▀" in heads
    assert "██" not in heads


def test_a_full_bar_is_shown_alone_and_around_the_cursor() -> None:
    crowded = reading(score_of(" ".join(["60"] * 40)))
    lines = staff(crowded, 30)
    assert "▲▲" in lines[-1]
    assert lines[0].strip().startswith("bar 1")


def test_ascii_alone_will_do() -> None:
    rows = frame(screen(TUNE, 6, verdicts=((5, Verdict.WRONG),)), 80, 24, ascii_only=True)
    assert all(plain(line).isascii() for line in rows)


def answers_of(exercise: Exercise, verdicts: dict[int, Verdict]) -> list[Answer]:
    """One answer for each prompt, a note every half second; right where nothing is said."""
    found = []
    for prompt in exercise.prompts:
        verdict = verdicts.get(prompt.n, Verdict.RIGHT)
        place = prompt.places[0] if verdict is Verdict.RIGHT else Place(6, 1)
        note = Note(prompt.n, prompt.n / 2, place.string, place.fret, NECK.midi(place), 80, 0)
        missed = verdict is Verdict.MISSED
        found.append(
            Answer(prompt, verdict, None, None if missed else note.onset_s, played=None if missed else note)
        )
    return found


def beside(answers: list[Answer], *extra_after: int) -> list[Aligned]:
    found = []
    for answer in answers:
        if answer.played is not None:
            found.append(Aligned(answer.played, answer.n, Kind.MATCHED))
        if answer.n in extra_after:
            found.append(Aligned(Note(1000 + answer.n, answer.n / 2 + 0.1, 6, 1, 41, 80, 5), 0, Kind.EXTRA))
    return found


FAULTS = {2: Verdict.ELSEWHERE, 6: Verdict.MISSED, 7: Verdict.WRONG}


def test_afterwards_every_note_has_its_sign_and_the_worst_bars_are_told() -> None:
    answers = answers_of(TUNE, FAULTS)
    rows = [plain(line) for line in reading_rows(TUNE, answers, beside(answers, 5), Language.ENGLISH)]
    assert " ".join(rows[1].split()) == "1 │ G✓ C○ E✓ A✓ 2 │ E✓ C♯– A✗ G✓ 3 │ G✓+C✓ D✓ E✓+A✓ G✓"
    practise = rows[rows.index("Where to practise") + 1 :]
    assert practise[0].split(maxsplit=2)[:2] == ["bar", "2"]
    assert "2 of 4 right, 1 missed, 1 extra" in practise[0]
    assert any("C♯" in row and "missed" in row for row in practise)
    assert all(cell_len(row) <= 76 for row in rows)


def test_names_are_those_of_the_players_language() -> None:
    answers = answers_of(TUNE, {})
    rows = [plain(line) for line in reading_rows(TUNE, answers, beside(answers), Language.FIXED_DO)]
    assert "sol✓" in rows[1]
    assert "Where to practise" not in rows


def test_bars_count_what_belongs_to_them() -> None:
    answers = answers_of(TUNE, FAULTS)
    figures = bar_figures(TUNE, answers, beside(answers, 5, 8))
    assert [(f.notes, f.right, f.wrong, f.missed, f.extra) for f in figures] == [
        (4, 3, 1, 0, 0),
        (4, 2, 1, 1, 2),
        (6, 6, 0, 0, 0),
    ]
    assert [figure.name for figure in to_practise(figures)] == ["2", "1"]


def test_a_note_that_was_waited_for_is_a_hesitation_and_no_fault() -> None:
    answers = answers_of(TUNE, {})
    late = [
        replace(answer, answer_s=(answer.answer_s or 0.0) + (3.0 if answer.n > 4 else 0.0))
        for answer in answers
    ]
    figures = bar_figures(TUNE, late, beside(answers))
    assert [figure.hesitations for figure in figures] == [0, 1, 0]
    assert [figure.faults for figure in figures] == [0, 0, 0]
    in_tempo = replace(TUNE, tempo=Tempo(60.0))
    assert all(figure.hesitations == 0 for figure in bar_figures(in_tempo, late, beside(answers)))


def test_the_document_tells_of_every_written_and_every_played_note() -> None:
    answers = answers_of(TUNE, FAULTS)[:8]  # left after two bars
    played = beside(answers, 5)
    document = reading_document(TUNE, answers, summarise(TUNE, answers), {}, played)
    assert [note["verdict"] for note in document["page"]][5:9] == ["missed", "wrong", "right", None]
    assert len(document["alignment"]) == len(played)
    assert [item["n"] for item in document["alignment"]] == [1, 2, 3, 4, 5, None, 7, 8]
    assert document["alignment"][5]["kind"] == "extra"
    assert (document["position"], document["position_name"], document["open_strings"]) == (5, "V", "needed")
    assert document["practise"] == ["2", "1"]


def test_places_are_shown_where_a_fingering_is_followed() -> None:
    fingered = reading_exercise(score_of("60 64"), NECK, None, fingered={1: Place(4, 10), 2: Place(2, 5)})
    assert staff(fingered, 1)[-1].split() == ["4:10", "2:5"]
