"""Whole practice sessions with simulated players: from the plan to the summary, stopped and taken up."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from midifret.cli import practice as practice_command
from midifret.cli.main import run as run_program
from midifret.cli.recorded import exercise_of, judge_recording
from midifret.cli.remembering import memory_now
from midifret.practice import BlockKind
from midifret.session.around import Leave
from midifret.session.interlude import InterludeKind, Reply
from midifret.terms import BadInput, CueKind, Place, Unavailable, Verdict
from midifret.wire.journal import Journal, recover
from midifret.wire.take import read_take

from .playing import Port
from .sitting import Knower, Quitting, Sitting, rows

SEVENTEEN_S = 15 * 60.0


@pytest.fixture
def sit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Sitting]:
    def sitting(knower: Knower | None = None, **fields: Any) -> Sitting:
        return Sitting(tmp_path, monkeypatch, knower or Knower(lambda place: True), **fields)

    return sitting


def asked_names(sitting: Sitting) -> list[str]:
    return [setting.exercise.name for setting, _ in sitting.runs]


# --- whole sessions -------------------------------------------------------------------------------


def test_somebody_who_knows_much(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    practised = sitting.practise()
    course = practised.course
    assert course is not None
    assert course.block is None
    assert course.played == pytest.approx(15.0, abs=1.5)
    assert sum(done.right for done in course.done) == sum(done.answers for done in course.done) > 200
    # New rows came as the old came right: more than the first one were asked.
    new = {p.places[0].fret for p in sitting.knower.asked if CueKind.STRING in p.cue}
    assert len(new) >= 4
    assert practised.tomorrow is not None
    assert practised.lines[0].startswith("15 minutes played")
    assert "Tomorrow, as it looks now" in practised.lines[-1]


def test_somebody_who_knows_little(sit: Callable[..., Sitting]) -> None:
    sitting = sit(Knower(rows(0)))
    course = sitting.practise().course
    assert course is not None
    assert course.block is None
    assert course.played == pytest.approx(15.0, abs=1.0)  # a drill may run over by half a minute
    # It ends on what succeeds: the open strings.
    assert course.plan.blocks[-1].kind is BlockKind.CLOSE
    assert course.done[-1].right == course.done[-1].answers > 0
    assert {asked.place.fret for asked in course.plan.blocks[-1].asked} == {0}


def test_somebody_who_fails_at_everything_ends_on_places_that_are_shown(sit: Callable[..., Sitting]) -> None:
    sitting = sit(Knower(rows()))
    practised = sitting.practise()
    course = practised.course
    assert course is not None
    assert course.block is None
    setting, finished = sitting.runs[-1]
    assert setting.exercise.name == "asked:close"
    assert all(CueKind.PLACE in answer.prompt.cue and answer.right for answer in finished.answers)
    assert course.done[-1].answers == 0  # what is shown is no answer
    assert "No place came in time" in practised.lines[1]


def test_a_second_day_does_not_rise_suddenly_and_a_third_begins_with_what_is_known(
    sit: Callable[..., Sitting],
) -> None:
    sitting = sit()
    sitting.practise()
    sitting.clock.wait_s(86400 - sitting.clock.now_s())
    began = len(sitting.interludes)
    practised = sitting.practise(60.0)
    course = practised.course
    assert course is not None
    # Not more than the longest day so far by a third, or 20 minutes (load_today).
    assert course.minutes == 20.0
    assert any("20 minutes instead of 60" in line for line in sitting.interludes[began].lines)
    assert sitting.interludes[began].kind is InterludeKind.BLOCK  # no placement is offered any more
    sitting.clock.wait_s(86400 - sitting.clock.now_s() % 86400)
    third = sitting.practise().course
    assert third is not None
    assert third.plan.blocks[0].kind is BlockKind.WARM_UP  # by then memory has seen that places last a night


def test_days_grow_step_by_step_and_long_ones_have_a_break(sit: Callable[..., Sitting]) -> None:
    """By a third from day to day at most (load.py); five minutes of rest where half an hour is passed."""
    sitting = sit(Knower(rows(0, 1, 2, 5)))
    minutes = []
    for _ in range(3):
        began_s, first = sitting.clock.now_s(), len(sitting.interludes)
        course = sitting.practise(60.0).course
        assert course is not None
        minutes.append(course.minutes)
        took = (sitting.clock.now_s() - began_s) / 60
        breaks = [each for each in sitting.interludes[first:] if each.kind is InterludeKind.BREAK]
        assert len(breaks) == (1 if course.minutes > 30 else 0)
        assert took - course.played == pytest.approx(5.0 * len(breaks), abs=0.6)
        sitting.clock.wait_s(86400 - sitting.clock.now_s() % 86400)
    assert minutes == [20.0, 26.0, 34.0]


def test_memory_after_a_session_is_that_of_all_its_answers(sit: Callable[..., Sitting]) -> None:
    sitting = sit(Knower(rows(0, 1)))
    sitting.practise(5.0)
    with sitting.app.open_book() as book:
        memory = memory_now(book, "me", sitting.wall())
        answers = [a for _, finished in sitting.runs for a in finished.answers]
        kept = book.report("me")
    assert sum(place.answers for place in kept.places) == sum(a.counted_place is not None for a in answers)
    asked = [a for a in answers if a.prompt.cue and CueKind.PLACE not in a.prompt.cue]
    assert sum(item.answers for item in memory.items.values()) == len(asked)


# --- takes ----------------------------------------------------------------------------------------


def test_the_takes_of_a_session_are_judged_as_they_were_live(sit: Callable[..., Sitting]) -> None:
    sitting = sit(Knower(rows(0, 1)))
    sitting.practise(9.0)
    takes = sorted(sitting.app.home.takes.glob("*.mid"), key=lambda path: path.stat().st_mtime_ns)
    assert len(takes) == len(sitting.runs)
    guitar = sitting.app.guitar(None)
    asked = 0
    for path, (setting, finished) in zip(takes, sitting.runs, strict=True):
        take = read_take(path)
        assert take.drill == setting.exercise.name
        if not take.asked:
            continue
        asked += 1
        exercise = exercise_of(sitting.app, take.drill, guitar.neck, take, seed=take.seed or 0)
        answers, _ = judge_recording(exercise, guitar, take)
        assert [(a.prompt, a.verdict, len(a.corrections)) for a in answers] == [
            (a.prompt, a.verdict, len(a.corrections)) for a in finished.answers
        ]
        for recorded, live in zip(answers, finished.answers, strict=True):
            assert (recorded.response_s is None) == (live.response_s is None)
            if live.response_s is not None and recorded.response_s is not None:
                assert recorded.response_s == pytest.approx(live.response_s, abs=0.001)
    assert asked >= 2


def test_judge_and_replay_take_them(sit: Callable[..., Sitting], capsys: pytest.CaptureFixture[str]) -> None:
    sitting = sit(Knower(rows(0, 1)))
    sitting.practise(9.0)
    setting, finished = next(run for run in sitting.runs if run[0].ask is not None)
    takes = sorted(sitting.app.home.takes.glob("*.mid"), key=lambda path: path.stat().st_mtime_ns)
    take = takes[next(n for n, (played, _) in enumerate(sitting.runs) if played is setting)]
    home = ["--home", str(sitting.home)]
    assert run_program([*home, "judge", setting.exercise.name, str(take), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["summary"]["right"] == sum(a.right for a in finished.answers)
    assert run_program([*home, "replay", str(take), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["answers"] == document["answers"]
    assert run_program([*home, "judge", "asked:other", str(take)]) == 2
    assert "is not asked:other" in capsys.readouterr().err
    other = next(path for path in takes if "asked" not in path.name)
    assert run_program([*home, "judge", "asked:weak", str(other)]) == 2
    assert "does not say what was asked" in capsys.readouterr().err


def test_a_run_that_was_killed_is_recovered_with_what_it_asked(tmp_path: Path) -> None:
    """A process that dies leaves its journal: what was asked stands in it."""
    journal = Journal(tmp_path / "a.mid", drill="asked:weak", guitar="default", asked="HEAD", thread=False)
    journal.asked("ONE")
    journal.cue(1, 0.5)
    journal.asked('TWO "2"')
    journal.withdraw_from(2)  # a late note: its cue is taken back, not what was asked
    journal.flush()
    journal._unlock()
    (found,) = recover(tmp_path)
    assert found.take is not None
    assert found.take.asked == ("HEAD", "ONE", 'TWO "2"')
    assert read_take(found.take_path).asked == found.take.asked


# --- stopped and taken up -------------------------------------------------------------------------


def test_a_session_that_was_stopped_is_taken_up_the_same_day(sit: Callable[..., Sitting]) -> None:
    sitting = sit(replies={2: Reply.STOP})
    first = sitting.practise()
    assert first.leave is Leave.QUIT
    assert first.course is not None
    assert first.course.at == 1
    left = [block.kind for block in first.course.plan.blocks[1:]]
    assert "Left for today" in first.lines[-1]
    sitting.clock.wait_s(3 * 3600)
    began = len(sitting.interludes)
    again = sitting.practise()
    assert sitting.interludes[began].kind is InterludeKind.TAKE_UP
    assert again.course is not None
    assert again.course.done[0] == first.course.done[0]
    assert again.course.plan.blocks[1].kind is left[0]
    assert again.course.block is None
    assert again.course.played == pytest.approx(15.0, abs=1.5)
    with sitting.app.open_book() as book:
        (kept,) = book.sessions("me")
        assert kept.ended_utc is not None
        assert kept.minutes == pytest.approx(again.course.played)


def test_it_can_be_planned_anew(sit: Callable[..., Sitting]) -> None:
    sitting = sit(replies={2: Reply.STOP})
    sitting.practise()
    again = sitting.practise(anew=True)
    assert again.course is not None
    assert InterludeKind.TAKE_UP not in [each.kind for each in sitting.interludes]
    with sitting.app.open_book() as book:
        old, new = book.sessions("me")
    assert old.ended_utc is not None
    assert new.ended_utc is not None
    assert len(old.done) == 1


def test_planned_anew_by_the_player(sit: Callable[..., Sitting]) -> None:
    sitting = sit(replies={2: Reply.STOP, 4: Reply.ANEW})
    sitting.practise()
    sitting.practise()
    with sitting.app.open_book() as book:
        assert len(book.sessions("me")) == 2


def test_what_was_stopped_yesterday_is_over(sit: Callable[..., Sitting]) -> None:
    sitting = sit(replies={2: Reply.STOP})
    sitting.practise()
    sitting.clock.wait_s(86400)
    began = len(sitting.interludes)
    sitting.practise()
    assert sitting.interludes[began].kind is InterludeKind.BLOCK


def test_a_block_that_is_left_can_be_gone_on_with_or_skipped(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    quits = {"left": 2}
    sitting.on_run = lambda setting, table: replace(table, view=Quitting(sitting, quits))
    # 0 offer, 1 block, 2 left it: go on; 3 left again: skip
    sitting.replies = {3: Reply.SKIP}
    practised = sitting.practise()
    assert [each.kind for each in sitting.interludes[:5]] == [
        InterludeKind.OFFER,
        InterludeKind.BLOCK,
        InterludeKind.LEFT,
        InterludeKind.LEFT,
        InterludeKind.BLOCK,
    ]
    assert practised.course is not None
    assert practised.course.done[0].skipped
    assert practised.course.done[0].answers > 0
    assert practised.course.block is None


def test_an_interruption_keeps_all_that_was_done(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    quits = {"left": 1}
    sitting.on_run = lambda setting, table: replace(table, view=Quitting(sitting, quits, "ctrl-c"))
    practised = sitting.practise()
    assert practised.leave is Leave.INTERRUPTED
    assert practised.course is not None
    assert practised.course.block is not None
    assert practised.course.of_block.answers > 0
    again = sitting.practise()
    assert again.course is not None
    assert again.course.block is None
    assert again.course.done[0].answers > practised.course.of_block.answers


def test_a_full_disk_stops_the_session_and_keeps_it(
    sit: Callable[..., Sitting], monkeypatch: pytest.MonkeyPatch
) -> None:
    sitting = sit()
    full_s = sitting.clock.now_s() + 30.0

    def check(journal: Journal) -> None:
        if sitting.clock.now_s() > full_s:
            raise Unavailable("the disk is full", allowed="make room")

    monkeypatch.setattr(Journal, "check", check)
    with pytest.raises(Unavailable, match="full"):
        sitting.practise()
    monkeypatch.undo()
    with Sitting(sitting.home, monkeypatch, sitting.knower).app.open_book() as book:
        (kept,) = book.sessions("me")
        assert kept.ended_utc is None
        assert kept.minutes > 0


def test_a_guitar_that_is_unplugged_is_waited_for(sit: Callable[..., Sitting]) -> None:
    sitting = sit(again_after_s=3.0)
    sitting.on_run = lambda setting, table: replace(table, source=_Unplugged(table.source, sitting))
    course = sitting.practise(5.0).course
    assert course is not None
    assert course.block is None
    assert course.played == pytest.approx(5.0, abs=1.0)
    wrong = [a for _, finished in sitting.runs for a in finished.answers if a.verdict is not Verdict.RIGHT]
    assert wrong == []  # while it was gone, nothing was missed
    assert sitting.clock.now_s() > 5 * 60 + GONE_S


GONE_S = 40.0


class _Unplugged:
    """A guitar that is gone from the 5th to the 45th second of each run."""

    trouble = "The guitar's port is gone."

    def __init__(self, source: Any, sitting: Sitting) -> None:
        self._source, self._clock = source, sitting.clock
        self._from_s = sitting.clock.now_s() + 5.0
        self.last_there_s = sitting.clock.now_s()

    @property
    def _gone(self) -> bool:
        return self._from_s <= self._clock.now_s() < self._from_s + GONE_S

    def poll(self) -> Any:
        return [] if self._gone else self._source.poll()

    def connected(self, *, at_once: bool = False) -> bool:
        if not self._gone:
            self.last_there_s = self._clock.now_s()
        return not self._gone


# --- blocks that cannot be played -----------------------------------------------------------------


def test_a_drill_that_is_not_there_is_left_out_and_told(sit: Callable[..., Sitting]) -> None:
    sitting = sit()
    path = Path("config/path.yaml").read_text(encoding="utf-8")
    sitting.home.mkdir(exist_ok=True)
    own = path.replace("open-position-in-order, open-position-by-name", "open-position-by-name")
    (sitting.home / "path.yaml").write_text(own, encoding="utf-8")
    (sitting.home / "drills").mkdir()
    bad = sitting.home / "drills" / "open-position-by-name.yaml"
    bad.write_text("title: x\n", encoding="utf-8")
    practised = sitting.practise(6.0)
    assert practised.course is not None
    assert practised.course.block is None


@pytest.mark.parametrize(
    ("kind", "cue"), [("naming", (CueKind.PLACE,)), ("staff", (CueKind.STAFF, CueKind.STRING))]
)
def test_a_path_may_ask_otherwise(sit: Callable[..., Sitting], kind: str, cue: tuple[CueKind, ...]) -> None:
    sitting = sit()
    path = Path("config/path.yaml").read_text(encoding="utf-8")
    sitting.home.mkdir(exist_ok=True)
    own = path.replace("    frets: [0-3]\n", f"    frets: [0-3]\n    kind: {kind}\n")
    (sitting.home / "path.yaml").write_text(own, encoding="utf-8")
    course = sitting.practise(4.0).course
    assert course is not None
    assert course.block is None
    asked = [a for setting, done in sitting.runs if setting.ask is not None for a in done.answers]
    assert any(answer.prompt.cue == cue for answer in asked)
    assert all(answer.right for answer in asked)
    assert {each.kind.value for block in course.plan.blocks for each in block.asked} >= {kind}


def test_minutes_out_of_range(sit: Callable[..., Sitting]) -> None:
    with pytest.raises(BadInput, match="a session of 1 minutes"):
        sit().practise(1.0)


# --- placement ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("knows", "stage"),
    [(rows(), "open-position"), (rows(0, 1, 2, 3), "row-5"), (rows(0, 1, 2, 3, 5, 7), "row-10")],
)
def test_a_placement_run(sit: Callable[..., Sitting], knows: Callable[[Place], bool], stage: str) -> None:
    sitting = sit(Knower(knows))
    with sitting.app.open_book() as book:
        placed = sitting.practising(book).place()
        assert (placed.stage, placed.ended) == (stage, True)
        (kept,) = book.stages_set("me")
        assert (kept.strand, kept.stage, kept.by) == ("rows", stage, "placement")
        assert memory_now(book, "me", sitting.wall()).items  # its answers are answers like others
    _, finished = sitting.runs[-1]
    assert finished.played_s <= 250
    assert placed.title.lower() in placed.lines[0].lower()


def test_a_first_session_offers_it_and_begins_where_it_says(sit: Callable[..., Sitting]) -> None:
    sitting = sit(Knower(rows(0, 1, 2, 3, 5)), replies={0: Reply.GO})
    practised = sitting.practise()
    assert [each.kind for each in sitting.interludes[:3]] == [
        InterludeKind.OFFER,
        InterludeKind.PLACED,
        InterludeKind.BLOCK,
    ]
    assert practised.placed is not None
    assert practised.placed.stage == "row-7"
    assert practised.course is not None
    assert {block.drill for block in practised.course.plan.blocks if block.drill} == {"row-7-leap-1"}


def test_a_placement_run_that_is_left_sets_nothing(sit: Callable[..., Sitting]) -> None:
    sitting = sit(replies={0: Reply.GO})
    quits = {"left": 1}
    sitting.on_run = lambda setting, table: replace(table, view=Quitting(sitting, quits))
    practised = sitting.practise()
    assert practised.course is None
    with sitting.app.open_book() as book:
        assert book.stages_set("me") == ()


# --- the command ----------------------------------------------------------------------------------


@pytest.fixture
def call(
    sit: Callable[..., Sitting], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str, str]]:
    sitting = sit(Knower(rows(0, 1, 2, 3)))
    monkeypatch.setattr(practice_command, "open_source", lambda *_, **__: Port())
    monkeypatch.setattr(practice_command, "RealClock", lambda: sitting.clock)

    def invoke(*arguments: str) -> tuple[int, str, str]:
        code = run_program(["--home", str(sitting.home), "practice", "--no-check", *arguments])
        return code, *capsys.readouterr()

    return invoke


def test_the_command_prints_one_document(call: Callable[..., tuple[int, str, str]]) -> None:
    code, out, lines = call("--minutes", "4", "--json")
    assert code == 0
    document = json.loads(out)
    assert document["placement"] is None
    session = document["session"]
    assert session["ended"] is True
    assert session["minutes"] == 4.0
    assert sum(block["answers"] for block in session["blocks"]) > 20
    assert session["tomorrow"]
    assert {"kind", "drill", "score", "minutes", "why"} <= set(session["tomorrow"][0])
    assert "Where to begin?" in lines
    assert "block 1 of" in lines


def test_the_command_places_alone(call: Callable[..., tuple[int, str, str]]) -> None:
    code, out, _ = call("--placement", "--json")
    assert code == 0
    document = json.loads(out)
    assert document["session"] is None
    assert document["placement"]["stage"] == "row-5"
    assert document["placement"]["set"] is True


def test_the_command_tells_people(call: Callable[..., tuple[int, str, str]]) -> None:
    code, out, _ = call("--minutes", "3")
    assert code == 0
    assert "right at the first try." in out
    assert "Tomorrow, as it looks now" in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--minutes", "2"], "3 to 120 minutes"),
        (["--minutes", "nan"], "3 to 120 minutes"),
        (["--minutes", "121"], "3 to 120 minutes"),
        (["--placement", "--anew"], "--anew and --placement cannot go together"),
        (["--placement", "--minutes", "5"], "--minutes and --placement cannot go together"),
        (["--player", "nobody"], "nobody"),
        (["--guitar", "nothing"], "nothing"),
    ],
)
def test_the_command_refuses(
    call: Callable[..., tuple[int, str, str]], arguments: list[str], words: str
) -> None:
    code, out, err = call(*arguments)
    assert code == 2
    assert words in err
    assert "Traceback" not in err
    assert out == ""
