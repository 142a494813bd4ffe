"""The path and assignments: the shipped file is whole, faults are told with their place."""

import datetime as dt

import pytest

from midifret.drills.library import entries
from midifret.files import Home, parse_document, read_document, shipped_folder
from midifret.gear.melody import load_levels
from midifret.gear.path import check_assignment, check_path, load_assignment, load_path
from midifret.practice.path import Strand
from midifret.terms import BadInput, Place

SHIPPED = shipped_folder("config") / "path.yaml"


@pytest.fixture
def home(tmp_path):
    return Home.of(tmp_path)


@pytest.fixture
def drills(home):
    return {entry.name for entry in entries(home)}


def test_the_shipped_path_names_real_drills_and_levels(home, drills):
    path = load_path(home, drills)
    assert {stage.level for stage in path.reading} <= {level.number for level in load_levels(home)}
    assert path.stage(path.reading_after) is path.rows[0]


def test_the_rows_cover_the_neck_to_fret_12_once_in_their_order(home):
    asked = load_path(home).asked()
    # 6 strings x 13 frets; the landmarks come before what lies beside them.
    assert {a.place for a in asked} == {Place(s, f) for s in range(1, 7) for f in range(13)}
    assert len(asked) == 78
    frets = list(dict.fromkeys(a.place.fret for a in asked))
    assert frets == [0, 1, 2, 3, 5, 7, 10, 12, 4, 6, 8, 9, 11]


def test_reading_goes_up_one_fret_at_a_time(home):
    positions = [stage.position for stage in load_path(home).reading]
    assert positions == list(range(1, len(positions) + 1))


def test_a_persons_own_path_takes_its_place(home):
    text = SHIPPED.read_text(encoding="utf-8").replace("tempo_bpm: 50", "tempo_bpm: 72")
    (home.root / "path.yaml").write_text(text, encoding="utf-8")
    assert load_path(home).stage("row-5").gate.tempo_bpm == 72


ROW = "  - {stage: a, title: A, frets: [0-3], gate: {right: 0.9}}\n"


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("reading_after: b\nrows:\n" + ROW + "reading: []\n", 1, 'no stage of rows "b"'),
        ("reading_after: a\nrows:\n" + ROW + ROW + "reading: []\n", 4, "twice"),
        ("reading_after: a\nrows: []\nreading: []\n", 2, "empty"),
        ("reading_after: a\nrows:\n" + ROW.replace("0-3", "3-0") + "reading: []\n", 3, "no frets 3 to 0"),
        ("reading_after: a\nrows:\n" + ROW.replace("0-3", "x") + "reading: []\n", 3, "range of frets"),
        ("reading_after: a\nrows:\n" + ROW.replace("0.9", "2") + "reading: []\n", 3, "out of range"),
        ("reading_after: a\nrows:\n" + ROW.replace("title", "titel") + "reading: []\n", 3, "titel"),
        (
            "reading_after: a\nrows:\n"
            + ROW.replace("gate", "drills: [row-5-leap-9], gate")
            + "reading: []\n",
            3,
            'did you mean "row-5-leap-',
        ),
    ],
)
def test_a_fault_is_told_where_it_stands(text, line, said, drills):
    found, problems = check_path(parse_document(text.encode(), "path.yaml"), drills)
    assert found is None
    assert any(problem.line == line and said in problem.message for problem in problems), problems
    assert all(problem.allowed for problem in problems if said in problem.message)


def test_a_faulty_file_of_a_person_is_refused(home):
    (home.root / "path.yaml").write_text("rows: 3\n", encoding="utf-8")
    with pytest.raises(BadInput, match="path"):
        load_path(home)


ASSIGNMENT = """\
until: 2027-03-01
note: Slowly, please.
rows: row-7
tasks:
  - {drill: row-7-leap-2, minutes: 4, tempo_bpm: 60}
  - {score: etude.musicxml, position: 5, minutes: 6}
"""


def test_an_assignment_says_what_the_teacher_wrote(tmp_path, home, drills):
    file = tmp_path / "lesson.yaml"
    file.write_text(ASSIGNMENT, encoding="utf-8")
    found = load_assignment(file, load_path(home), drills)
    assert [(t.drill, t.score, t.minutes, t.tempo_bpm, t.position) for t in found.tasks] == [
        ("row-7-leap-2", None, 4, 60, None),
        (None, "etude.musicxml", 6, None, 5),
    ]
    assert found.stages == ((Strand.ROWS, "row-7"),)
    assert found.holds_on(dt.date(2027, 3, 1))
    assert not found.holds_on(dt.date(2027, 3, 2))


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("2027-03-01", "2027-02-30", 1),
        ("2027-03-01", "soon", 1),
        ("rows: row-7", "rows: row-6", 3),
        ("row-7-leap-2", "row-7-leap-7", 5),
        ("score: etude.musicxml, ", "", 6),
        ("minutes: 4", "minutes: 0", 5),
    ],
)
def test_a_faulty_assignment_is_told(old, new, line, home, drills):
    document = parse_document(ASSIGNMENT.replace(old, new).encode(), "lesson.yaml")
    found, problems = check_assignment(document, load_path(home), drills)
    assert found is None
    assert [problem.line for problem in problems] == [line]
    assert problems[0].allowed


def test_the_shipped_file_reads_without_a_problem(drills):
    assert check_path(read_document(SHIPPED), drills)[1] == ()
