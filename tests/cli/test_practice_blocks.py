"""Blocks of a session, with simulated players: what a teacher set, tempo searches, readings in tempo."""

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from midifret.cli import path as path_command
from midifret.cli import today as today_command
from midifret.cli.main import run as run_program
from midifret.cli.planning import Planning, planning_of
from midifret.cli.recorded import exercise_of, judge_read, judge_recording
from midifret.cli.running import Table
from midifret.players.player import TimedPluck
from midifret.practice import Block, BlockKind, RecallKind
from midifret.practice.course import BlockDone, Course
from midifret.practice.path import day_meets
from midifret.session.around import Finished, Leave, Setting
from midifret.session.interlude import Interlude, InterludeKind, Reply
from midifret.terms import Place, Prompt, Verdict
from midifret.wire.take import read_take

from .practised import OPEN_POSITION, practise, practise_days
from .sitting import BEGAN, Knower, Quitting, Sitting, rows

# Eight notes in the first position, a scale as everyone writes it.
SCALE = "X:1\nT:Little scale\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\nEFGA|Bcde|\n"
LESSON = """\
until: 2026-11-04
note: Slowly, and say the names.
rows: row-7
tasks:
  - {drill: row-5-shuffled, minutes: 2}
  - {drill: row-7-leap-1, minutes: 2, tempo_bpm: 50}
  - {score: scale.abc, minutes: 2, position: 1}
  - {score: tunes/scale.abc, minutes: 2, position: 5, tempo_bpm: 60}
"""


@pytest.fixture
def sit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Sitting]:
    def sitting(knower: Knower | None = None, **fields: Any) -> Sitting:
        return Sitting(tmp_path, monkeypatch, knower or Knower(rows(*range(13))), **fields)

    return sitting


def assign(home: Path, text: str = LESSON, name: str = "lesson.yaml") -> Path:
    """Put a teacher's file, and the scores that it names, where the program finds them."""
    folders = home / "assignments", home / "scores" / "tunes"
    for folder in folders:
        folder.mkdir(parents=True, exist_ok=True)
    for folder in (home / "scores", home / "scores" / "tunes"):
        (folder / "scale.abc").write_text(SCALE, encoding="utf-8")
    file = folders[0] / name
    file.write_text(text, encoding="utf-8")
    return file


def plan(sitting: Sitting, minutes: float = 15.0, *, days: float = 0.0) -> Planning:
    """What would be planned now, or some days later."""
    app = sitting.app
    with app.open_book() as book:
        book.ensure_player("me", created_utc=BEGAN)
        now_utc = sitting.wall() + dt.timedelta(days=days)
        neck = app.guitar(None).neck
        return planning_of(app, book, "me", neck, now_utc=now_utc, zone="UTC", minutes=minutes)


def tasks_of(blocks: tuple[Block, ...]) -> list[Block]:
    return [block for block in blocks if block.kind is BlockKind.TASK]


def dones(course: Course, kind: BlockKind = BlockKind.TASK) -> list[BlockDone]:
    return [done for block, done in zip(course.plan.blocks, course.done, strict=True) if block.kind is kind]


def begun(sitting: Sitting, title: str) -> int:
    """The number of the interlude before the block of that title."""
    return next(n for n, each in enumerate(sitting.interludes) if each.title == title)


def only(sitting: Sitting, *titles: str) -> None:
    """Leave out all blocks but those of these titles."""
    asks = sitting._asks

    def choose(interlude: Interlude) -> Reply:
        reply = asks(interlude)
        is_other = interlude.kind is InterludeKind.BLOCK and interlude.title not in titles
        return Reply.SKIP if is_other else reply

    sitting._asks = choose  # type: ignore[method-assign]


# --- what a teacher set ---------------------------------------------------------------------------


def test_all_that_a_teacher_may_set_is_played_judged_kept_and_told(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    assign(sitting.home)
    practised = sitting.practise()
    course = practised.course
    assert course is not None
    assert course.block is None
    tasks = tasks_of(course.plan.blocks)
    assert [(t.drill, t.score, t.position, t.tempo_bpm) for t in tasks] == [
        ("row-5-shuffled", None, None, None),
        ("row-7-leap-1", None, None, 50),
        (None, "scale.abc", 1, None),
        (None, "tunes/scale.abc", 5, 60),
    ]
    for task, done in zip(tasks, dones(course), strict=True):
        assert done.answers == done.right > 5
        assert task.minutes * 0.5 <= done.minutes <= task.minutes + 0.6
    # Judged and kept: each task's runs stand in the book as they were played.
    names = {"row-5-shuffled": None, "row-7-leap-1": 50.0, "read:Little scale@I": None}
    played = {setting.exercise.name: setting.exercise.tempo_bpm for setting, _ in sitting.runs}
    assert names.items() <= played.items()
    assert played["read:Little scale@V"] == 60.0
    with sitting.app.open_book() as book:
        minutes = book.drill_minutes_on("me", BEGAN.date())
        for name, tempo_bpm in {**names, "read:Little scale@V": 60.0}.items():
            own = [done for setting, done in sitting.runs if setting.exercise.name == name]
            assert minutes[name, tempo_bpm] == pytest.approx(sum(done.played_s for done in own) / 60)
            assert book.runs_of("me", name) == len(own)
    # The positions were those that were set: one tune has other places in each.
    first, fifth = (
        {
            a.played.place
            for s, done in sitting.runs
            if s.exercise.name == name
            for a in done.answers
            if a.played
        }
        for name in ("read:Little scale@I", "read:Little scale@V")
    )
    assert (
        max(place.fret for place in first if place) <= 5
    )  # frets 1 to 4, and 5 by a stretch (design: reach)
    assert min(place.fret for place in fifth if place and place.fret) >= 5
    # Told as done, and not planned again that day; tomorrow it comes again, after its date no more.
    now = plan(sitting)
    assert [each.is_done for one in now.assignments for each in one.today] == [True] * 4
    assert tasks_of(now.plan.blocks) == []
    assert now.standing.rows.name == "row-7"  # where to be on the path stays
    assert practised.tomorrow is not None
    assert len(tasks_of(practised.tomorrow.blocks)) == 4
    assert len(tasks_of(plan(sitting, days=2).plan.blocks)) == 4  # 4 November, its last day
    assert tasks_of(plan(sitting, days=3).plan.blocks) == []


def test_the_screen_before_a_task_has_position_tempo_and_note(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    assign(sitting.home)
    sitting.practise()
    told = {each.title: " ".join((*each.lines, *each.quiet)) for each in sitting.interludes}
    note = "Your teacher says: Slowly, and say the names."
    assert note in told["Row 5, shuffled, by name"]
    assert f"At 50 beats a minute. {note}" in told["Row 7, string by string"]
    assert f"In position I. {note}" in told["scale.abc"]
    assert f"In position V, at 60 beats a minute. {note}" in told["tunes/scale.abc"]
    assert "Your teacher set this until 4 November." in told["scale.abc"]
    assert not any(note in words for title, words in told.items() if title in ("Weak places", "To end on"))


def test_a_long_note_is_told_shortly_before_a_block(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    long = "Listen to every note before you play the next one. " * 30
    assign(sitting.home, f"until: 2026-11-04\nnote: {long}\ntasks: [{{drill: row-5-leap-1, minutes: 1}}]\n")
    sitting.practise(3.0)
    quiet = " ".join(sitting.interludes[begun(sitting, "Row 5, string by string")].quiet)
    assert "Your teacher says: Listen to every note" in quiet
    assert len(quiet) < 500


def test_what_is_left_of_a_task_comes_in_the_next_session_of_the_day(sit: Callable[..., Sitting]) -> None:
    """A score is left after a while: the rest of its minutes is set again that day, what was done is not."""
    sitting = sit(replies={})
    lesson = (
        "until: 2026-11-04\ntasks: [{drill: row-5-leap-1, minutes: 2}, {drill: row-7-leap-1, minutes: 4}]\n"
    )
    assign(sitting.home, lesson)
    # 0 offer, 1 and 2 the two tasks: the second is left out.
    sitting.replies = {2: Reply.SKIP}
    course = sitting.practise(12.0).course
    assert course is not None
    assert [done.skipped for done in dones(course)] == [False, True]
    now = plan(sitting)
    (today,) = (one.today for one in now.assignments)
    assert [each.is_done for each in today] == [True, False]
    assert [(block.drill, block.minutes) for block in tasks_of(now.plan.blocks)] == [("row-7-leap-1", 4.0)]
    # Its drill played by hand counts as well.
    practise(sitting.home, sitting.wall(), OPEN_POSITION[:4], drill="row-7-leap-1", minutes=2.4)
    now = plan(sitting)
    assert [(block.drill, block.minutes) for block in tasks_of(now.plan.blocks)] == [("row-7-leap-1", 1.5)]
    practise(sitting.home, sitting.wall(), OPEN_POSITION[:4], drill="row-7-leap-1", minutes=1.0)
    assert tasks_of(plan(sitting).plan.blocks) == []


def test_a_drill_in_another_tempo_is_not_what_was_set(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    assign(sitting.home, "until: 2026-11-04\ntasks: [{drill: row-5-leap-1, minutes: 3, tempo_bpm: 60}]\n")
    practise(sitting.home, BEGAN, OPEN_POSITION[:4], drill="row-5-leap-1", minutes=5, tempo_bpm=80.0)
    practise(sitting.home, BEGAN, OPEN_POSITION[:4], drill="row-5-leap-1", minutes=5)
    assert [block.minutes for block in tasks_of(plan(sitting).plan.blocks)] == [3.0]
    practise(sitting.home, BEGAN, OPEN_POSITION[:4], drill="row-5-leap-1", minutes=5, tempo_bpm=60.0)
    assert tasks_of(plan(sitting).plan.blocks) == []


def test_of_two_teachers_who_set_the_same_each_has_their_minutes(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    for name, day in (("ann.yaml", 4), ("ben.yaml", 5)):
        assign(sitting.home, f"until: 2026-11-0{day}\ntasks: [{{drill: row-5-leap-1, minutes: 3}}]\n", name)
    practise(sitting.home, BEGAN, OPEN_POSITION[:4], drill="row-5-leap-1", minutes=4)
    planning = plan(sitting)
    assert [each.played for one in planning.assignments for each in one.today] == pytest.approx([3.0, 1.0])
    assert [block.minutes for block in tasks_of(planning.plan.blocks)] == [2.0]


def test_a_task_that_is_stopped_is_taken_up_and_told_in_between(sit: Callable[..., Sitting]) -> None:
    sitting = sit(replies={2: Reply.STOP})
    assign(sitting.home)
    sitting.practise()
    now = plan(sitting)
    assert [each.is_done for one in now.assignments for each in one.today] == [True, False, False, False]
    again = sitting.practise().course
    assert again is not None
    assert InterludeKind.TAKE_UP in [each.kind for each in sitting.interludes]
    assert [block.drill or block.score for block in tasks_of(again.plan.blocks)] == [
        "row-5-shuffled", "row-7-leap-1", "scale.abc", "tunes/scale.abc",
    ]  # fmt: skip
    assert all(done.answers for done in dones(again))


def test_what_finds_no_room_is_told(sit: Callable[..., Sitting]) -> None:
    """Seven tenths of a session at most are a teacher's (plan.py); a second session has the rest."""
    sitting = sit()
    lesson = (
        "until: 2026-11-04\ntasks: [{drill: row-5-leap-1, minutes: 6}, {drill: row-7-leap-1, minutes: 6}]\n"
    )
    assign(sitting.home, lesson)
    planning = plan(sitting, 10.0)
    (remark,) = planning.plan.remarks
    assert remark.startswith("Your teacher set 12 minutes for a day, and 7 of them fit into this session;")
    sitting.practise(10.0)
    assert remark in sitting.interludes[1].lines
    left = tasks_of(plan(sitting).plan.blocks)
    assert [(block.drill, block.minutes) for block in left] == [("row-7-leap-1", 5.0)]
    assert not any("Your teacher set" in words for words in plan(sitting).plan.remarks)


# --- a warm-up before it --------------------------------------------------------------------------


def test_only_a_warm_up_comes_before_and_says_what_it_is_for(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    practise_days(sitting.home, BEGAN, [3, 2, 1], OPEN_POSITION)
    usual = plan(sitting).plan.blocks
    assert usual[0].why.endswith("that you know by heart, to get hand and eye going.")
    assign(sitting.home)
    blocks = plan(sitting, 20.0).plan.blocks
    kinds = [block.kind for block in blocks]
    assert kinds[:5] == [BlockKind.WARM_UP] + [BlockKind.TASK] * 4
    assert blocks[0].why.endswith("that you know by heart, to be ready for what your teacher set.")
    assert blocks[0].minutes <= 3


@pytest.fixture
def call(
    sit: Callable[..., Sitting], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str, str]]:
    """Call the program at the time of a sitting."""
    sitting = sit()

    class Now(dt.datetime):
        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> "Now":
            at = sitting.wall()
            return cls.fromtimestamp(at.timestamp(), tz)

    class Time:
        datetime, UTC = Now, dt.UTC

    for module in (today_command, path_command):
        monkeypatch.setattr(module, "dt", Time)
        monkeypatch.setattr(module.tzlocal, "get_localzone_name", lambda: "UTC")
    monkeypatch.setenv("COLUMNS", "100")

    def invoke(*arguments: str) -> tuple[int, str, str]:
        code = run_program(["--home", str(sitting.home), *arguments])
        return code, *capsys.readouterr()

    invoke.sitting = sitting  # type: ignore[attr-defined]
    return invoke


def test_today_has_the_assignment_first_and_says_what_is_done(call: Any) -> None:
    sitting = call.sitting
    practise_days(sitting.home, BEGAN, [3, 2, 1], OPEN_POSITION)
    file = assign(sitting.home)
    taken = sitting.home / "from-my-teacher.yaml"
    file.rename(taken)
    code, _, err = call("path", "--assign", str(taken))
    assert (code, err) == (0, "")
    _, out, _ = call("today", "--minutes", "20")
    lines = [line.strip() for line in out.splitlines() if line.strip()]
    assert lines[1:7] == [
        "From your teacher, until 4 November; rows at row-7",
        "Slowly, and say the names.",
        "Row 5, shuffled, by name: 2 minutes a day",
        "Row 7, string by string, at 50 beats a minute: 2 minutes a day",
        "scale.abc, in position I: 2 minutes a day",
        "tunes/scale.abc, at 60 beats a minute, in position V: 2 minutes a day",
    ]
    sitting.replies = {0: Reply.GO, 3: Reply.STOP}  # the warm-up, two tasks, then stop
    sitting.practise(20.0)
    _, out, _ = call("today", "--minutes", "20")
    assert "Row 5, shuffled, by name: 2 minutes a day, done for today" in out
    assert "Row 7, string by string, at 50 beats a minute: 2 minutes a day, done for today" in out
    assert "scale.abc, in position I: 2 minutes a day\n" in out
    document = json.loads(call("today", "--json")[1])
    (work,) = document["assignments"]
    assert [task["done"] for task in work["tasks"]] == [True, True, False, False]
    assert work["tasks"][1] | {"played_minutes": 2.0} == {
        "drill": "row-7-leap-1", "score": None, "title": "Row 7, string by string", "minutes": 2.0,
        "position": None, "tempo_bpm": 50.0, "played_minutes": 2.0, "done": True,
    }  # fmt: skip
    assert [b["score"] for b in document["blocks"] if b["kind"] == "task"] == ["scale.abc", "tunes/scale.abc"]


# --- what cannot be played ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("task", "said"),
    [
        ("{drill: row-5-leap-9}", 'there is no drill "row-5-leap-9"; did you mean "row-5-leap-'),
        ("{score: gone.abc}", 'there is no score "gone.abc"'),
        ("{drill: row-5-leap-1, tempo_bpm: 900}", "900"),
        ("{drill: row-5-leap-1, tempo_bpm: fast}", "fast"),
        ("{drill: row-5-leap-1, position: 5}", "a drill has places of its own and takes no position"),
        ("{score: scale.abc, position: 30}", "30"),
        ("{score: scale.abc, minutes: 0}", "0"),
        ("{drill: row-5-leap-1, score: scale.abc}", "drill or score, one of them"),
        ("{minutes: 5}", "drill or score, one of them"),
    ],
)
def test_what_cannot_be_set_is_refused_and_named(call: Any, task: str, said: str) -> None:
    sitting = call.sitting
    file = assign(sitting.home, f"until: 2026-11-04\ntasks: [{task}]\n")
    elsewhere = sitting.home / "lesson.yaml"
    file.rename(elsewhere)
    code, out, err = call("path", "--assign", str(elsewhere))
    assert code == 2
    assert out == ""
    assert said in " ".join(err.split())
    assert "lesson.yaml:2" in err
    assert "Traceback" not in err
    assert not list((sitting.home / "assignments").iterdir())
    # Dropped in without being checked, it is left out with the same words, and practice goes on.
    elsewhere.rename(file)
    code, _, err = call("today")
    assert code == 0
    assert said in " ".join(err.split())
    course = sitting.practise(3.0).course
    assert course is not None
    assert course.block is None
    assert tasks_of(course.plan.blocks) == []
    assert any(said in words for words in sitting.said)
    assert any(said in line for line in sitting.interludes[1].lines)


def test_a_date_that_is_over_is_refused(call: Any) -> None:
    file = assign(call.sitting.home, "until: 2026-11-01\ntasks: [{drill: row-5-leap-1}]\n")
    elsewhere = call.sitting.home / "lesson.yaml"
    file.rename(elsewhere)
    code, _, err = call("path", "--assign", str(elsewhere))
    assert code == 2
    assert "was until 2026-11-01, and today is 2026-11-02 (a date from today on)" in " ".join(err.split())


@pytest.mark.parametrize(
    ("breaks", "named", "said"),
    [
        (lambda home: (home / "scores" / "scale.abc").unlink(), "scale.abc", "scale.abc"),
        (lambda home: (home / "scores" / "scale.abc").write_text("no music"), "scale.abc", "scale.abc"),
        (lambda home: (home / "drills" / "mine.yaml").unlink(), "mine", "mine"),
        (lambda home: (home / "drills" / "mine.yaml").write_text("title: x\n"), "mine", "mine.yaml"),
        (lambda home: (home / "drills" / "mine.yaml").write_text(NAMED), "mine", "tempo"),
    ],
)
def test_what_breaks_after_it_was_planned_is_left_out_and_told(
    sit: Callable[..., Sitting], breaks: Callable[[Path], object], named: str, said: str
) -> None:
    """A file that goes, or is spoilt, in the middle of a session takes nothing else with it."""
    sitting = sit(replies={2: Reply.STOP})
    (sitting.home / "drills").mkdir(parents=True)
    (sitting.home / "drills" / "mine.yaml").write_text(MINE, encoding="utf-8")
    drills = "{drill: row-5-leap-1, minutes: 1}, {drill: mine, minutes: 1, tempo_bpm: 60}"
    assign(sitting.home, f"until: 2026-11-04\ntasks: [{drills}, {{score: scale.abc, minutes: 1}}]\n")
    sitting.practise(6.0)
    breaks(sitting.home)
    course = sitting.practise().course
    assert course is not None
    assert course.block is None
    skipped = {
        block.drill or block.score
        for block, done in zip(course.plan.blocks, course.done, strict=True)
        if done.skipped
    }
    assert skipped == {named}
    (told,) = [words for words in sitting.said if words.startswith(f"{named} is left out: ")]
    assert said in told.split("is left out: ")[1]
    assert any(told in each.lines for each in sitting.interludes)


MINE = """\
title: Mine
stage: My own
trains: Two strings.
minutes: 1-2
ask: {row: {fret: 5, leap: 1}}
show: nothing
judge: place
"""
NAMED = MINE.replace("show: nothing", "show: place").replace("judge: place", "judge: name")


def test_who_leaves_everything_out_comes_to_the_end(sit: Callable[..., Sitting]) -> None:
    """What was left out is not offered again and again to fill the time."""
    sitting = sit()
    practise_days(sitting.home, BEGAN, [4, 3, 2, 1], (*OPEN_POSITION, *ROW_5))
    only(sitting)
    course = sitting.practise(20.0).course
    assert course is not None
    assert course.block is None
    assert course.played == 0.0
    blocks = [each for each in sitting.interludes if each.kind is InterludeKind.BLOCK]
    assert len(blocks) <= 10


# --- how long a block takes -----------------------------------------------------------------------


@pytest.mark.parametrize("recall_s", [3.0, 8.0, 9.5])
def test_a_drill_ends_soon_after_its_time(sit: Callable[..., Sitting], recall_s: float) -> None:
    """At most half a minute and the answer at hand over its minutes, however slow the player."""
    sitting = sit(Knower(rows(*range(13)), recall_s=recall_s))
    assign(sitting.home, "until: 2026-11-04\ntasks: [{drill: open-position-by-name, minutes: 2}]\n")
    course = sitting.practise(6.0).course
    assert course is not None
    (done,) = dones(course)
    assert done.minutes * 60 <= 120 + 30 + recall_s + 1
    own = [(s, f) for s, f in sitting.runs if s.exercise.name == "open-position-by-name"]
    notes = len(own[0][0].exercise.prompts)
    if recall_s * notes < 110:
        assert all(not finished.ended_early for _, finished in own)
    elif recall_s * notes > 160:
        assert done.minutes * 60 > 120
        assert [finished.ended_early for _, finished in own] == [True]
    assert course.block is None
    assert course.played == pytest.approx(6.0, abs=1.5)


# --- a search for the tempo -----------------------------------------------------------------------


@dataclass
class Paced(Knower):
    """Keeps up with a beat to a certain tempo; beyond that every second note is left out."""

    owns_bpm: float = 90.0
    last_s: float = -1e9
    count: int = 0

    def on_beat(self, prompt: Prompt, due_s: float) -> tuple[TimedPluck, ...]:
        self.count += 1
        fast = due_s - self.last_s < 60 / self.owns_bpm
        self.last_s = due_s
        return () if fast and self.count % 2 else Knower.on_beat(self, prompt, due_s)


SHUFFLED = "Row 5, shuffled, by name"
ROW_5 = tuple(Place(string, 5) for string in range(6, 0, -1))
DRILLS_OF_5 = ("row-5-leap-1", "row-5-leap-2", "row-5-leap-3", "row-5-shuffled")


def at_tempo_of_row_5(sitting: Sitting, drills: tuple[str, ...] = DRILLS_OF_5) -> None:
    """Row 5 is by heart and these of its drills went well: what its gate still lacks is a tempo of 50."""
    practise_days(sitting.home, BEGAN, [4, 3, 2, 1], (*OPEN_POSITION, *ROW_5))
    for drill in drills:
        practise(sitting.home, BEGAN - dt.timedelta(days=1), ROW_5, drill=drill, minutes=1, gate_met=True)
    with sitting.app.open_book() as book:
        book.put_stage("me", "rows", "row-5", by="player", set_utc=BEGAN - dt.timedelta(days=1), zone="UTC")


def searched(sitting: Sitting) -> list[tuple[Setting, Finished]]:
    return [(setting, done) for setting, done in sitting.runs if setting.exercise.name == "row-5-shuffled"]


@pytest.mark.parametrize("owns_bpm", [90.0, 42.0])
def test_a_search_in_a_session_finds_the_tempo_that_is_owned(
    sit: Callable[..., Sitting], owns_bpm: float
) -> None:
    sitting = sit(Paced(rows(*range(13)), owns_bpm=owns_bpm))
    at_tempo_of_row_5(sitting)
    only(sitting, SHUFFLED)
    course = sitting.practise(20.0).course
    assert course is not None
    (number,) = [n for n, block in enumerate(course.plan.blocks) if block.kind is BlockKind.ROW]
    block, done = course.plan.blocks[number], course.done[number]
    assert (block.drill, block.tempo_bpm) == ("row-5-shuffled", 50.0)
    assert "In tempo, from 50 beats a minute." in sitting.interludes[begun(sitting, SHUFFLED)].quiet
    runs = searched(sitting)
    tempos = {setting.exercise.tempo_bpm for setting, _ in runs}
    assert len(tempos) >= 3
    assert min(tempos) < owns_bpm < max(tempos)  # type: ignore[type-var]
    assert done.answers == sum(len(finished.answers) for _, finished in runs) <= 132
    # It ends with its time, or with the pass in which that runs out: 12 notes and 4 beats at 30 bpm are 32 s.
    assert 0.5 < done.minutes <= block.minutes + 32 / 60
    # Kept for the day, and told: the stage shows it, its gate counts it from 50 on.
    with sitting.app.open_book() as book:
        (owned,) = [one for one in book.owned_tempos("me") if one.drill == "row-5-shuffled"]
    assert owned.tempo_bpm == pytest.approx(owns_bpm, rel=0.15)
    assert owned.low_bpm < owns_bpm < owned.high_bpm
    assert owned.names_cued  # shuffled, by name
    assert owned.passes == len(runs)
    planning = plan(sitting)
    shown = planning.shown["row-5"][-1]
    assert shown.tempo_bpm == pytest.approx(owned.tempo_bpm)
    stage = planning.path.stage("row-5")
    assert stage is not None
    assert day_meets(stage.gate, shown) == (owns_bpm > 50)


def test_a_drill_that_goes_well_goes_on_into_tempo(sit: Callable[..., Sitting]) -> None:
    """The last drill of the row passes its gate in the block itself; what is left of it is a search."""
    sitting = sit(Paced(rows(*range(13)), owns_bpm=70.0))
    at_tempo_of_row_5(sitting, DRILLS_OF_5[:-1])
    only(sitting, SHUFFLED)
    course = sitting.practise(20.0).course
    assert course is not None
    tempos = [setting.exercise.tempo_bpm for setting, _ in searched(sitting)]
    assert tempos[0] is None
    assert tempos.count(None) == 1
    assert len(tempos) > 3
    ((block, done),) = [
        (block, done)
        for block, done in zip(course.plan.blocks, course.done, strict=True)
        if block.kind is BlockKind.ROW and block.drill == "row-5-shuffled"
    ]
    assert block.tempo_bpm is None
    assert done.minutes <= block.minutes + 32 / 60
    assert done.answers == sum(len(finished.answers) for _, finished in searched(sitting))
    with sitting.app.open_book() as book:
        assert [one.drill for one in book.owned_tempos("me")] == ["row-5-shuffled"]


def test_a_search_that_is_left_keeps_its_passes(sit: Callable[..., Sitting]) -> None:
    sitting = sit(Paced(rows(*range(13))))
    at_tempo_of_row_5(sitting)
    only(sitting, SHUFFLED)
    quits = {"left": 1}

    def on_run(setting: Setting, table: Table) -> Table:
        if setting.exercise.tempo is None or len(searched(sitting)) < 2:
            return table
        return replace(table, view=Quitting(sitting, quits))

    sitting.on_run = on_run
    asks = sitting._asks

    def stop_when_left(interlude: Interlude) -> Reply:
        return Reply.STOP if interlude.kind is InterludeKind.LEFT else asks(interlude)

    sitting._asks = stop_when_left  # type: ignore[method-assign]
    practised = sitting.practise(20.0)
    assert practised.leave is Leave.QUIT
    assert practised.course is not None
    assert practised.course.block is not None
    assert practised.course.of_block.answers >= 24
    runs = searched(sitting)
    assert [done.ended_early for _, done in runs] == [False, False, True]
    with sitting.app.open_book() as book:
        (owned,) = book.owned_tempos("me")
    assert owned.passes == 2  # the one that was left counts for nothing
    # Taken up, the search goes on with what is left of the block.
    sitting._asks = asks  # type: ignore[method-assign]
    again = sitting.practise().course
    assert again is not None
    assert again.block is None
    with sitting.app.open_book() as book:
        (owned,) = book.owned_tempos("me")
    assert owned.passes > 2


def test_the_takes_of_a_search_are_judged_as_they_were_live(sit: Callable[..., Sitting]) -> None:
    sitting = sit(Paced(rows(*range(13)), owns_bpm=70.0))
    at_tempo_of_row_5(sitting)
    only(sitting, SHUFFLED)
    sitting.practise(20.0)
    assert judged_alike(sitting, "row-5-shuffled") >= 3


def judged_alike(sitting: Sitting, drill: str) -> int:
    """Judge the takes of a drill or reading again; every answer has to be what it was. Returns how many."""
    takes = sorted(sitting.app.home.takes.glob("*.mid"), key=lambda path: path.stat().st_mtime_ns)
    guitar = sitting.app.guitar(None)
    count = 0
    for path, (setting, finished) in zip(takes, sitting.runs, strict=True):
        if not setting.exercise.name.startswith(drill):
            continue
        take = read_take(path)
        exercise = exercise_of(sitting.app, take.drill, guitar.neck, take, seed=take.seed or 0)
        if setting.exercise.score is None:
            answers, _ = judge_recording(exercise, guitar, take)
        else:
            answers, _, _ = judge_read(exercise, guitar, take)
        assert [(a.n, a.verdict) for a in answers] == [(a.n, a.verdict) for a in finished.answers]
        count += 1
    return count


# --- readings in tempo ----------------------------------------------------------------------------


def read_well(sitting: Sitting) -> None:
    """Open position holds, and a reading in position I went well in free tempo yesterday."""
    practise_days(sitting.home, BEGAN, [4, 3, 2, 1], OPEN_POSITION)
    yesterday = BEGAN - dt.timedelta(days=1)
    practise(
        sitting.home, yesterday, OPEN_POSITION[:12], kind=RecallKind.STAFF, drill="read:Before@I", minutes=2
    )


def readings(sitting: Sitting) -> list[tuple[Setting, Finished]]:
    return [(setting, done) for setting, done in sitting.runs if setting.exercise.score is not None]


def test_a_reading_comes_in_tempo_once_one_went_well(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    read_well(sitting)
    only(sitting, "Reading in position I", "Reading in position II")
    course = sitting.practise(20.0).course
    assert course is not None
    ((block, done),) = [
        (block, done)
        for block, done in zip(course.plan.blocks, course.done, strict=True)
        if block.kind is BlockKind.READING
    ]
    assert "In tempo, 50 beats a minute." in sitting.interludes[begun(sitting, "Reading in position I")].quiet
    runs = readings(sitting)
    assert runs
    assert {setting.exercise.tempo_bpm for setting, _ in runs} == {50.0}
    assert len({setting.exercise.name for setting, _ in runs}) == len(runs)  # no melody twice
    for setting, finished in runs:
        assert len(finished.answers) == len(setting.exercise.prompts) >= 8
        assert all(answer.right and answer.late_ms is not None for answer in finished.answers)
        # As long as the music and its count-in are at that tempo: the beat waits for nobody.
        score = setting.exercise.score
        assert score is not None
        last = max(float(note.onset_quarter) for note in score.notes)
        assert finished.played_s >= last * 60 / 50 - 0.1
    assert done.answers == sum(len(finished.answers) for _, finished in runs)
    assert done.minutes <= block.minutes * 1.5 + 0.1
    planning = plan(sitting)
    shown = planning.shown["position-1"][-1]
    assert (shown.right, shown.tempo_bpm) == (1.0, 50.0)
    assert judged_alike(sitting, "read:") == len(runs)


def test_before_that_the_cursor_waits(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    practise_days(sitting.home, BEGAN, [4, 3, 2, 1], OPEN_POSITION)
    title = "Reading in position I"
    only(sitting, title)
    sitting.practise(20.0)
    assert "The cursor waits for each note." in sitting.interludes[begun(sitting, title)].quiet
    assert {setting.exercise.tempo for setting, _ in readings(sitting)} == {None}


def test_readings_in_tempo_on_two_days_lead_to_the_next_position(sit: Callable[..., Sitting]) -> None:
    """config/path.yaml: 90% right at 50 beats a minute on two days."""
    sitting = sit()
    read_well(sitting)
    only(sitting, "Reading in position I", "Reading in position II")
    positions = []
    for _ in range(3):
        course = sitting.practise(20.0).course
        assert course is not None
        positions += [block.position for block in course.plan.blocks if block.kind is BlockKind.READING]
        sitting.clock.wait_s(86_400 - sitting.clock.now_s() % 86_400)
    assert positions == [1, 1, 2]


def test_who_does_not_keep_up_in_tempo_stays_in_the_position(sit: Callable[..., Sitting]) -> None:
    """The melodies come one after the other all the same, also where the last note of one was missed."""
    sitting = sit(Paced(rows(*range(13)), owns_bpm=20.0))
    read_well(sitting)
    only(sitting, "Reading in position I", "Reading in position II")
    course = sitting.practise(20.0).course
    assert course is not None
    assert course.block is None
    runs = readings(sitting)
    assert any(finished.ended_early for _, finished in runs[:-1])
    block, done = next(
        (block, done)
        for block, done in zip(course.plan.blocks, course.done, strict=True)
        if block.kind is BlockKind.READING
    )
    assert block.minutes * 0.8 <= done.minutes <= block.minutes * 1.5
    for _, finished in runs:
        verdicts = [answer.verdict for answer in finished.answers]
        assert 0.35 < verdicts.count(Verdict.MISSED) / len(verdicts) < 0.6
    planning = plan(sitting)
    today = [day for day in planning.shown["position-1"] if day.day == BEGAN.date()]
    assert all(day.right < 0.7 for day in today)
    assert planning.standing.reading is not None
    assert planning.standing.reading.name == "position-1"
    assert judged_alike(sitting, "read:") == len(runs)


def test_who_plays_nothing_in_tempo_is_left_alone(sit: Callable[..., Sitting]) -> None:
    """A melody without a note is the last one: the beat would go on for ever."""

    class Gone(Knower):
        def on_beat(self, prompt: Prompt, due_s: float) -> tuple[TimedPluck, ...]:
            return ()

    sitting = sit(Gone(rows(*range(13))))
    read_well(sitting)
    only(sitting, "Reading in position I", "Reading in position II")
    course = sitting.practise(20.0).course
    assert course is not None
    assert course.block is None
    assert len(readings(sitting)) == 1
