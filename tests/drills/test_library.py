"""The drills that come with the program, and a person's own beside them."""

import re

import pytest

from midifret.drills import build
from midifret.drills.library import check, entries, find, load_all
from midifret.files import Home, read_document
from midifret.gear import load_tunings
from midifret.neck import Neck
from midifret.terms import BadInput

SHIPPED = load_all(Home.of("no-such-folder"))[0]


@pytest.mark.parametrize("drill", SHIPPED, ids=lambda drill: drill.name)
def test_every_shipped_drill_builds_on_every_tuning_and_says_what_it_trains(drill, neck):
    exercise = build(drill, neck)
    assert exercise.prompts
    assert [p.n for p in exercise.prompts] == list(range(1, len(exercise.prompts) + 1))
    assert all(p.midis == tuple(map(neck.midi, p.places)) for p in exercise.prompts)
    assert all(p.midi == p.pitch.midi for p in exercise.prompts)
    assert len(re.findall(r"[.!?](?=\s|$)", exercise.trains)) == 2
    assert 3 <= exercise.minutes[0] <= exercise.minutes[1] <= 5
    assert exercise.gate.runs_in_a_row == 1
    for tuning in load_tunings(Home.of("no-such-folder")):
        assert build(drill, Neck(tuning)).prompts


def test_shipped_drills_are_all_there_and_each_has_one_name():
    assert {"row-6-from-5", "places-of-c-sharp", "same-pitch-low", "taken-string-open"} <= {
        d.name for d in SHIPPED
    }
    assert len({drill.name for drill in SHIPPED}) == len(SHIPPED)


def test_an_own_drill_replaces_a_shipped_one_and_joins_others(home, neck):
    home.writable(home.drills)
    text = "title: Mine\nstage: Own\ntrains: A. B.\nask:\n"
    text += "  - drill: {name: row-5-leap-1, count: 3}\n  - drill: row-7-leap-1\n"
    (home.drills / "row-5-leap-2.yaml").write_text(text)
    mine = find("row-5-leap-2", home)
    assert (mine.content.title, mine.shipped) == ("Mine", False)
    assert len(build(mine, neck).prompts) == 3 + 11


def test_a_file_is_found_by_its_path(tmp_path, home, neck):
    path = tmp_path / "x.yaml"
    path.write_text("title: X\nstage: S\ntrains: A. B.\nask: {row: {fret: 1}}\n")
    assert len(build(find(str(path), home), neck).prompts) == 6


def test_an_unknown_name_brings_the_nearest(home):
    with pytest.raises(BadInput, match="did you mean row-5-leap-2"):
        find("row5leap2", home)


def test_circles_and_twins_are_told(home):
    home.writable(home.drills / "sub")
    head = "title: X\nstage: S\ntrains: A. B.\n"
    (home.drills / "a.yaml").write_text(head + "ask: {drill: b}\n")
    (home.drills / "b.yaml").write_text(head + "ask: {drill: a}\n")
    with pytest.raises(BadInput, match=r"b\.yaml:4:\d+: .*circle: a > b > a"):
        find("a", home)
    (home.drills / "sub" / "a.yaml").write_text(head)
    with pytest.raises(BadInput, match="two drills have the name a"):
        entries(home)


def test_check_tells_faults_of_the_file_and_of_the_guitar_in_one_pass(tmp_path, home, neck):
    path = tmp_path / "x.yaml"
    path.write_text(
        "titel: X\nstage: S\ntrains: A. B.\nask:\n  - places: [9:1]\n  - row: {fret: 5}\nshow: nmae\n"
    )
    problems = check(read_document(path), neck, home)
    assert [(p.line, p.column) for p in problems] == [(1, 1), (1, 1), (5, 14), (7, 7)]
    assert {p.key for p in problems} == {"title", "titel", "ask[1].places[1]", "show"}
