"""A plan gathered from book, path and assignments: where a player stands, whatever the book holds."""

import datetime as dt
import math
from pathlib import Path

import pytest

from midifret.book.book import Book
from midifret.cli.app import App
from midifret.cli.planning import BY_PLACEMENT, BY_PLAYER, Planning, planning_of
from midifret.files import Home
from midifret.neck import Neck, Tuning
from midifret.practice import BlockKind, RecallKind, Strand
from midifret.terms import BadInput, Place
from midifret.terms.figures import OwnedTempoKept
from tests.cli.practised import OPEN_POSITION, practise, practise_days

NOW = dt.datetime(2026, 11, 26, 18, tzinfo=dt.UTC)
ROW_5 = tuple(Place(string, 5) for string in range(6, 0, -1))


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path


def plan(
    home: Path,
    *,
    now_utc: dt.datetime = NOW,
    minutes: float = 15.0,
    neck: Neck | None = None,
    zone: str = "UTC",
    player: str = "me",
) -> Planning:
    app = App(Home.of(home))
    neck = neck or app.guitar(None).neck
    if not app.home.book.exists():
        return planning_of(app, None, player, neck, now_utc=now_utc, zone=zone, minutes=minutes)
    with app.open_book() as book:
        return planning_of(app, book, player, neck, now_utc=now_utc, zone=zone, minutes=minutes)


def set_stage(
    home: Path, stage: str, *, strand: Strand = Strand.ROWS, by: str = BY_PLAYER, at_utc: dt.datetime = NOW
) -> None:
    with Book.open(home / "book.sqlite") as book:
        book.ensure_player("me", created_utc=at_utc)
        book.put_stage("me", strand.value, stage, by=by, set_utc=at_utc, zone="UTC")


def assign(home: Path, text: str, name: str = "lesson.yaml") -> Path:
    folder = Home.of(home).assignments
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def is_sensible(planning: Planning, minutes: float = 15.0) -> bool:
    """Whether blocks fill the minutes and each has a reason."""
    played = [block for block in planning.plan.blocks if block.kind is not BlockKind.BREAK]
    return (
        sum(block.minutes for block in played) == pytest.approx(minutes, abs=0.5)
        and all(block.minutes > 0 for block in played)
        and all(block.why.endswith(".") for block in planning.plan.blocks)
    )


# Books of all kinds


def test_without_a_book_it_begins_at_the_beginning_and_makes_none(home: Path) -> None:
    found = plan(home)
    assert is_sensible(found)
    assert found.standing.rows.name == "open-position"
    assert found.standing.reading is None
    assert not (home / "book.sqlite").exists()


def test_a_player_who_has_not_played(home: Path) -> None:
    practise(home, NOW, ROW_5, player="Ben")
    with Book.open(home / "book.sqlite") as book:
        book.add_player("me", created_utc=NOW)
    assert plan(home).plan == plan(home / "nowhere").plan


def test_an_unknown_player_is_refused(home: Path) -> None:
    practise(home, NOW, ROW_5)
    with pytest.raises(BadInput, match=r"there is no player 'Eva'.*known: me"):
        plan(home, player="Eva")


def test_one_answer_is_enough_for_a_plan(home: Path) -> None:
    practise(home, NOW - dt.timedelta(days=1), ROW_5[:1])
    found = plan(home)
    assert is_sensible(found)
    assert [each.place for each in found.memory.items] == [ROW_5[0]]


def test_a_player_who_only_fails_stays_and_gets_nothing_new(home: Path) -> None:
    practise_days(home, NOW, range(1, 8), OPEN_POSITION, right=0.0)
    found = plan(home)
    assert is_sensible(found)
    assert found.standing.rows.name == "open-position"
    assert found.standing.held == frozenset()
    assert not any(block.kind is BlockKind.NEW for block in found.plan.blocks)


def test_what_holds_on_two_days_is_held_and_the_next_stage_begins(home: Path) -> None:
    """config/path.yaml: open position asks for 90% right within 2 s on two days, and reading begins then."""
    practise_days(home, NOW, [3], OPEN_POSITION)
    assert plan(home).standing.rows.name == "open-position"
    practise_days(home, NOW, [2], OPEN_POSITION)
    found = plan(home)
    assert found.standing.rows.name == "row-5"
    assert found.standing.reading is not None
    assert found.standing.reading.name == "position-1"
    assert len(found.shown["open-position"]) == 2


def test_too_slow_does_not_hold(home: Path) -> None:
    practise_days(home, NOW, [3, 2, 1], OPEN_POSITION, recall_s=2.5)
    assert plan(home).standing.rows.name == "open-position"


def test_only_the_first_answer_of_a_day_counts_for_a_gate(home: Path) -> None:
    for ago in (3, 2):
        at_utc = NOW - dt.timedelta(days=ago, hours=3)
        practise(home, at_utc, OPEN_POSITION, right=0.0)
        practise(home, at_utc + dt.timedelta(hours=1), OPEN_POSITION, right=1.0)
    assert plan(home).standing.held == frozenset()


def test_answers_on_the_staff_show_nothing_by_name(home: Path) -> None:
    practise_days(home, NOW, [3, 2], OPEN_POSITION, kind=RecallKind.STAFF)
    found = plan(home)
    assert found.standing.held == frozenset()
    assert {each.kind for each in found.memory.items} == {RecallKind.STAFF}


def test_owned_tempo_counts_where_a_gate_asks_for_it(home: Path) -> None:
    """config/path.yaml: row 5 asks for 50 beats a minute besides."""
    practise_days(home, NOW, [5, 4], OPEN_POSITION)
    practise_days(home, NOW, [3, 2], ROW_5)
    assert plan(home).standing.rows.name == "row-5"
    with Book.open(home / "book.sqlite") as book:
        for ago in (3, 2):
            day = (NOW - dt.timedelta(days=ago)).date()
            kept = OwnedTempoKept("row-5-leap-1", day, "default", 55.0, 50.0, 60.0, 96, 8, "", False)
            book.put_owned_tempo("me", kept)
    assert plan(home).standing.rows.name == "row-7"


def read(
    home: Path, ago: int, drill: str, *, right: float = 1.0, notes: int = 12, bpm: float | None = 60.0
) -> None:
    places = [Place(1 + n % 6, 5) for n in range(notes)]
    at_utc = NOW - dt.timedelta(days=ago)
    practise(home, at_utc, places, kind=RecallKind.STAFF, drill=drill, tempo_bpm=bpm, right=right)


def test_readings_in_a_position_on_two_days_move_reading_on(home: Path) -> None:
    """config/path.yaml: position I asks for 90% right at 50 beats a minute on two days."""
    practise_days(home, NOW, [9, 8], OPEN_POSITION)
    read(home, 3, "read:tune-abc@I")
    read(home, 2, "read:tune-abc@I", right=0.0)
    read(home, 2, "read:other@I", notes=5)  # too short
    read(home, 1, "read:other@I", bpm=None)  # in free tempo
    read(home, 1, "read:other@II")
    read(home, 1, "read:other@anywhere")
    found = plan(home).standing.reading
    assert found is not None
    assert found.name == "position-1"
    read(home, 1, "read:other@I")
    found = plan(home).standing.reading
    assert found is not None
    assert found.name == "position-2"


# Clocks and machines


def test_a_clock_set_back_is_told_where_it_makes_a_practice_ages_old(home: Path) -> None:
    practise_days(home, NOW, [20_000], OPEN_POSITION)
    found = plan(home)
    assert is_sensible(found)
    assert "more than ten years ago" in found.remarks[0]
    practise_days(home, NOW, [1], OPEN_POSITION)
    assert plan(home).remarks == ()


def test_answers_from_the_future_are_told_and_show_nothing_for_the_path(home: Path) -> None:
    practise_days(home, NOW, [-400, -401], OPEN_POSITION)
    found = plan(home)
    assert is_sensible(found)
    assert found.standing.held == frozenset()
    assert len(found.memory.items) == len(OPEN_POSITION)
    assert found.remarks[0].startswith("4 runs are dated later than now")
    assert plan(home, now_utc=NOW + dt.timedelta(days=500)).standing.rows.name == "row-5"


def test_a_practice_of_just_now_on_a_machine_a_little_ahead_is_not_told(home: Path) -> None:
    practise(home, NOW + dt.timedelta(minutes=5), OPEN_POSITION)
    assert plan(home).remarks == ()


def test_two_machines_on_one_book_add_up(home: Path) -> None:
    """Both played on the same days, one in another zone: minutes of a day add up, gates see both."""
    for ago in (3, 2):
        at_utc = NOW - dt.timedelta(days=ago)
        practise(home, at_utc, OPEN_POSITION[:12], minutes=10.0, seed=1)
        plan(home)
        practise(home, at_utc - dt.timedelta(minutes=5), OPEN_POSITION[12:], minutes=20.0, seed=2)
    found = plan(home)
    assert {each.minutes for each in found.given.history} == {30.0}
    assert found.standing.rows.name == "row-5"


def test_what_was_played_today_and_lately_bounds_the_minutes(home: Path) -> None:
    practise(home, NOW - dt.timedelta(days=1), ROW_5, minutes=10.0)
    found = plan(home, minutes=60.0)
    assert found.plan.minutes < 25  # load.py: 20 minutes for who played 10 lately
    assert "minutes instead of 60" in found.plan.remarks[0]


@pytest.mark.parametrize("minutes", [0.0, -1.0, 2.9, 120.5, math.nan, math.inf])
def test_minutes_out_of_range_are_refused(home: Path, minutes: float) -> None:
    with pytest.raises(BadInput, match=r"cannot be planned \(3 to 120 minutes\)"):
        plan(home, minutes=minutes)


def test_an_unknown_zone_is_refused(home: Path) -> None:
    with pytest.raises(BadInput, match="no time zone 'Mars/Base'"):
        plan(home, zone="Mars/Base")


def test_the_practice_day_ends_at_four(home: Path) -> None:
    late = dt.datetime(2026, 11, 27, 3, 30, tzinfo=dt.UTC)
    assert plan(home, now_utc=late).day == dt.date(2026, 11, 26)


@pytest.mark.parametrize("open_midi", [(64, 59, 55, 50, 45, 40, 35), (67, 62, 57, 50)])
def test_other_necks_have_their_own_places(home: Path, open_midi: tuple[int, ...]) -> None:
    neck = Neck(Tuning("other", "Other", open_midi), 12, capo=5)
    found = plan(home, neck=neck)
    asked = {each.place for block in found.plan.blocks for each in block.asked}
    assert asked
    assert max(place.string for place in asked) <= len(open_midi)
    assert max(place.fret for place in asked) <= 7
    # Rows 8 to 12 and positions above IV are not there: nobody waits before a stage that has no places.
    assert [stage.name for stage in found.path.rows if "10" in stage.name or "12" in stage.name] == []
    assert found.path.reading[-1].position == 4


# Going on, going back


def test_going_on_counts_the_stages_before_as_held(home: Path) -> None:
    set_stage(home, "row-7")
    found = plan(home)
    assert found.standing.rows.name == "row-7"
    assert found.standing.held == {"open-position", "row-5"}
    assert found.standing.chosen == {Strand.ROWS}
    assert found.standing.reading is not None  # open position counts as held


def test_going_back_holds_until_the_gate_is_met_from_then_on(home: Path) -> None:
    practise_days(home, NOW, [9, 8], OPEN_POSITION)
    set_stage(home, "open-position", at_utc=NOW - dt.timedelta(days=5))
    assert plan(home).standing.rows.name == "open-position"
    practise_days(home, NOW, [4], OPEN_POSITION)
    assert plan(home).standing.rows.name == "open-position"
    practise_days(home, NOW, [3], OPEN_POSITION)
    found = plan(home)
    assert found.standing.rows.name == "row-5"
    assert found.stages_set == {}


def test_the_gates_decide_again_and_a_placement_run_stays(home: Path) -> None:
    set_stage(home, "row-5", by=BY_PLACEMENT)
    set_stage(home, "row-10")
    assert plan(home).standing.rows.name == "row-10"
    set_stage(home, "")
    found = plan(home)
    assert found.standing.rows.name == "row-5"
    assert found.stages_set[Strand.ROWS].by == BY_PLACEMENT


def test_the_gates_decide_again_where_no_placement_run_was(home: Path) -> None:
    set_stage(home, "row-10")
    set_stage(home, "")
    assert plan(home).standing.rows.name == "open-position"


def test_reading_may_be_begun_before_its_time(home: Path) -> None:
    set_stage(home, "position-5", strand=Strand.READING)
    found = plan(home).standing
    assert found.reading is not None
    assert (found.reading.name, found.rows.name) == ("position-5", "open-position")


def test_a_stage_that_the_path_has_no_more_is_told(home: Path) -> None:
    set_stage(home, "row-3")
    found = plan(home)
    assert found.standing.rows.name == "open-position"
    assert found.remarks == ('The stage "row-3", which was set, is not on the path any more.',)


def test_a_path_of_ones_own_holds(home: Path) -> None:
    (home / "path.yaml").write_text(
        "reading_after: first\n"
        "rows:\n  - {stage: first, title: Row 3, frets: [3], gate: {right: 0.8, days: 1}}\n"
        "reading: []\n",
        encoding="utf-8",
    )
    assert [stage.name for stage in plan(home).path.rows] == ["first"]
    practise_days(home, NOW, [1], [Place(string, 3) for string in range(1, 7)])
    found = plan(home)
    assert found.standing.held == {"first"}
    assert found.standing.reading is None


def test_a_faulty_path_of_ones_own_is_refused(home: Path) -> None:
    (home / "path.yaml").write_text("rows: 5\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"path in .*path\.yaml has faults"):
        plan(home)


def test_a_drill_whose_gate_was_met_gives_way_to_the_next(home: Path) -> None:
    """drills/2-landmark-rows/row-5-leap-1.yaml says how many runs in a row its gate asks for."""
    set_stage(home, "row-5")
    before = plan(home)
    assert before.given.drills_done == frozenset()
    for n in range(3):
        at_utc = NOW - dt.timedelta(days=1, minutes=20 * (3 - n))
        practise(home, at_utc, ROW_5, drill="row-5-leap-1", gate_met=True, seed=n)
    assert plan(home).given.drills_done == {"row-5-leap-1"}
    practise(home, NOW - dt.timedelta(hours=1), ROW_5, drill="row-5-leap-1", gate_met=False)
    assert plan(home).given.drills_done == frozenset()


# What a teacher sets


def test_what_a_teacher_sets_comes_first(home: Path) -> None:
    assign(
        home, "until: 2026-12-01\nnote: Slowly.\nrows: row-7\ntasks:\n  - {drill: row-5-leap-1, minutes: 4}\n"
    )
    found = plan(home)
    assert found.plan.blocks[0].kind is BlockKind.TASK
    assert (found.plan.blocks[0].drill, found.plan.blocks[0].minutes) == ("row-5-leap-1", 4)
    assert found.standing.rows.name == "row-7"
    assert found.standing.set_by_teacher == {Strand.ROWS}
    assert found.assignments[0].content.note == "Slowly."


def test_a_teacher_goes_before_what_the_player_set(home: Path) -> None:
    set_stage(home, "row-10")
    set_stage(home, "position-3", strand=Strand.READING)
    assign(home, "until: 2026-12-01\nrows: row-5\n")
    found = plan(home).standing
    assert found.rows.name == "row-5"
    assert (found.set_by_teacher, found.chosen) == ({Strand.ROWS}, {Strand.READING})


def test_an_assignment_that_is_over_is_left_out_without_a_word(home: Path) -> None:
    assign(home, "until: 2026-11-25\nrows: row-7\n", "old.yaml")
    assign(home, "until: 2026-11-26\nnote: today still\n", "new.yaml")
    found = plan(home)
    assert [one.file.name for one in found.assignments] == ["new.yaml"]
    assert found.left_out == ()
    assert found.standing.rows.name == "open-position"


def test_of_two_assignments_the_one_that_ends_first_comes_first(home: Path) -> None:
    assign(home, "until: 2026-12-20\nrows: row-10\ntasks: [{drill: row-10-leap-1, minutes: 3}]\n", "a.yaml")
    assign(home, "until: 2026-12-01\nrows: row-5\ntasks: [{drill: row-5-leap-1, minutes: 3}]\n", "b.yaml")
    found = plan(home)
    assert [block.drill for block in found.plan.blocks[:2]] == ["row-5-leap-1", "row-10-leap-1"]
    assert found.standing.rows.name == "row-5"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("until: 2026-12-01\ntasks: [{drill: row-5-leap-9}]\n", r'no drill "row-5-leap-9"; did you mean'),
        (
            "until: 2026-12-01\ntasks: [{score: waltz.musicxml}]\n",
            r'no score "waltz.musicxml" \(allowed: etude.abc\)',
        ),
        ("until: 2026-12-01\ntasks: [{score: etude.abd}]\n", r'did you mean "etude.abc"'),
        ("until: 2026-12-01\nrows: row-6\n", r'no stage of rows "row-6"'),
        ("until: soon\n", r"is no date"),
        ("until: [\n", r"lesson\.yaml"),
        ("", r"lesson\.yaml"),
        ("\0", r"lesson\.yaml"),
    ],
)
def test_a_faulty_assignment_is_told_and_stops_nothing(home: Path, text: str, said: str) -> None:
    (home / "scores").mkdir()
    (home / "scores" / "etude.abc").write_text("X:1\nK:C\nC", encoding="utf-8")
    (home / "scores" / ".hidden.abc").write_text("", encoding="utf-8")
    file = assign(home, text)
    assign(home, "until: 2026-12-01\ntasks: [{score: etude.abc, minutes: 3, position: 5}]\n", "good.yaml")
    found = plan(home)
    assert [one.file.name for one in found.assignments] == ["good.yaml"]
    assert found.plan.blocks[0].score == "etude.abc"
    (error,) = found.left_out
    assert file.name in str(error)
    with pytest.raises(BadInput, match=said):
        raise error


def test_a_folder_in_the_place_of_a_file_is_told(home: Path) -> None:
    folder = Home.of(home).assignments / "lesson.yaml"
    folder.mkdir(parents=True)
    found = plan(home)
    assert len(found.left_out) == 1
    assert is_sensible(found)
