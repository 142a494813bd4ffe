"""The screens between the parts of a session: they fit every terminal, and say what comes and why."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.neck import Accidentals, Language, Neck
from midifret.practice import Asked, Block, BlockKind, DayPlan, RecallKind
from midifret.practice.course import BlockDone, Course
from midifret.practice.load import Load
from midifret.practice.lost import Lost
from midifret.session.interlude import Interlude, InterludeKind, Option, Reply
from midifret.show.interlude_screen import interlude_frame, interlude_lines
from midifret.show.practice_words import (
    block_interlude,
    block_title,
    counted_minutes,
    left_interlude,
    offer_interlude,
    practice_document,
    summary_lines,
    take_up_interlude,
)
from midifret.show.rows import plain, width_of
from midifret.terms import Place
from tests.conftest import STANDARD

NECK = Neck(STANDARD)
ROW_5 = tuple(Asked(Place(string, 5), RecallKind.NAME) for string in range(6, 0, -1))
OPEN = tuple(Asked(Place(string, 0), RecallKind.NAME) for string in range(6, 0, -1))
BLOCKS = (
    Block(BlockKind.WARM_UP, 1.0, "Six places that you know by heart.", asked=ROW_5),
    Block(BlockKind.ROW, 4.0, "Row 5 is your stage on the path.", drill="row-5-shuffled"),
    Block(BlockKind.NEW, 3.0, "What you began holds.", asked=OPEN),
    Block(BlockKind.BREAK, 5.0, "Five minutes away from the guitar."),
    Block(BlockKind.READING, 3.0, "Reading in position V is next.", position=5, level=1),
    Block(BlockKind.CLOSE, 1.0, "Places that come well, to end on.", asked=ROW_5),
)
PLAN = DayPlan(dt.date(2026, 11, 2), 12.0, BLOCKS, (), Lost(None, 0, (), (), ()), Load(12.0, 0.0, 30.0, 5.0))
COURSE = Course(PLAN, 12.0)


def title(drill: str) -> str:
    return {"row-5-shuffled": "Row 5, shuffled, by name"}.get(drill, drill)


def at(number: int) -> Course:
    done = tuple(BlockDone(block.minutes, 10, 8) for block in BLOCKS[:number])
    return Course(PLAN, 12.0, done, number)


def text(interlude: Interlude, width: int = 80, height: int = 24, **fields: object) -> str:
    shown = interlude_frame(interlude, "me", width, height, **fields)  # type: ignore[arg-type]
    return "\n".join(plain(line) for line in shown)


ALL = (
    offer_interlude(),
    *(block_interlude(at(n), title) for n in range(len(BLOCKS))),
    left_interlude(at(1), title),
    take_up_interlude(at(2), title),
)


@given(
    st.sampled_from(ALL), st.integers(1, 200), st.integers(1, 60), st.sampled_from(["", "It is gone. " * 9])
)
def test_a_screen_has_just_the_rows_there_are(
    interlude: Interlude, width: int, height: int, trouble: str
) -> None:
    shown = interlude_frame(interlude, "me", width, height, trouble=trouble)
    assert len(shown) == height
    assert all(width_of(line) <= width for line in shown)


@pytest.mark.parametrize("interlude", ALL)
def test_at_80_by_24_all_is_said(interlude: Interlude) -> None:
    shown = " ".join(text(interlude).split())
    for words in (interlude.title, *interlude.lines, *interlude.quiet):
        assert words in shown
    for option in interlude.options:
        assert option.words in shown


def test_a_block_says_what_how_long_and_why() -> None:
    shown = block_interlude(at(1), title)
    assert shown.title == "Row 5, shuffled, by name"
    assert shown.lines == ("4 minutes. Row 5 is your stage on the path.",)
    assert shown.quiet[-1] == "Then: new: the open strings; break; reading in position V; to end on."
    assert (shown.number, shown.of) == (2, 6)
    assert [option.reply for option in shown.options] == [Reply.GO, Reply.SKIP, Reply.STOP]


def test_a_break_goes_by_itself_and_cautions() -> None:
    shown = block_interlude(at(3), title)
    assert shown.counts_s == 300
    assert "4:58 left" in text(shown, waited_s=2.0)
    assert "Pain is a sign to stop" in shown.quiet[0]
    assert Reply.SKIP not in [option.reply for option in shown.options]


def test_what_is_wrong_with_the_guitar_is_said() -> None:
    assert "The port is gone." in text(ALL[1], trouble="The port is gone.")


def test_a_pipe_has_the_same_words() -> None:
    assert interlude_lines(block_interlude(at(0), title))[:2] == (
        "Warm-up (block 1 of 6)",
        "1 minute. Six places that you know by heart.",
    )


def test_an_interlude_without_number_or_bar() -> None:
    plain_one = Interlude(InterludeKind.END, "Done", ("All.",), (Option(Reply.GO, "enter", "close"),))
    assert "block" not in text(plain_one)


def test_places_of_one_row_are_told_by_it() -> None:
    rows = Block(BlockKind.ROW, 3.0, "", asked=ROW_5)
    assert block_title(rows, title) == "Row 5"
    assert block_title(Block(BlockKind.NEW, 3.0, "", asked=(*ROW_5, *OPEN)), title) == "New places"
    assert block_title(Block(BlockKind.TASK, 3.0, "", score="tune.abc"), title) == "tune.abc"


@pytest.mark.parametrize(
    ("minutes", "words"), [(0.2, "less than a minute"), (1.2, "1 minute"), (14.6, "15 minutes")]
)
def test_minutes_in_words(minutes: float, words: str) -> None:
    assert counted_minutes(minutes) == words


def _summary(course: Course, newly: tuple[Asked, ...], in_time: int) -> tuple[str, ...]:
    return summary_lines(course, title, newly, in_time, PLAN, NECK, Language.ENGLISH, Accidentals.SHARPS)


def test_a_summary_is_honest() -> None:
    ended = at(len(BLOCKS))
    lines = _summary(ended, ROW_5[:2], 8)
    assert lines[0] == "17 minutes played: 48 of 60 answers right at the first try."
    # Fret 5 of strings 6 and 5 sounds A and D: so guitars are tuned by ear [common practice].
    assert lines[1].startswith(
        "Right and in time twice in a row now, as they were not when today began: A (6:5), D (5:5)."
    )
    coming = "row 5, shuffled, by name; new: the open strings; reading in position V"
    assert lines[2] == f"Tomorrow, as it looks now: {coming}."
    assert _summary(ended, (), 8)[1] == "8 places came in time twice in a row, as when today began."
    assert _summary(ended, (), 0)[1] == "No place came in time twice in a row yet."
    assert _summary(COURSE, (), 8) == ("Nothing was answered.",)
    assert _summary(at(4), (), 8)[-1].startswith("Left for today: reading in position V; to end on.")


def test_the_document_has_blocks_that_were_not_played_too() -> None:
    document = practice_document(at(2), ROW_5[:1], 3, None)
    assert [block["answers"] for block in document["blocks"]] == [10, 10, 0, 0, 0, 0]
    assert document["ended"] is False
    assert document["newly_in_time"] == [{"string": 6, "fret": 5, "kind": "name"}]
