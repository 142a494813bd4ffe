"""Plain lines for pipes: one for each event, nothing twice, wording that other programs can rely on."""

import dataclasses
import io
from collections.abc import Callable

from midifret.session.screen import LastAnswer, Screen, Stage, StringCheck
from midifret.show.line_view import LineView, SilentView
from midifret.terms import CueKind, Place, Prompt, SpelledPitch, Verdict

change = dataclasses.replace


def lines_for(*moments: Screen) -> list[str]:
    out = io.StringIO()
    view = LineView(out)
    for moment in moments:
        view.show(moment)
    return out.getvalue().splitlines()


def test_a_run_as_lines(screens: dict[str, Screen], prompt_of: Callable[..., Prompt]) -> None:
    name_and_string = (CueKind.NAME, CueKind.STRING)
    d = prompt_of(1, name_and_string, Place(4, 0), SpelledPitch("D", 0, 3))
    e = prompt_of(2, name_and_string, Place(4, 2), SpelledPitch("E", 0, 3))
    f = prompt_of(3, name_and_string, Place(4, 3), SpelledPitch("F", 0, 3))
    base = change(screens["name"], last=None, prompt=None)
    base = change(base, exercise=change(base.exercise, prompts=(d, e, f)))
    right = LastAnswer(
        1, Verdict.RIGHT, (Place(4, 0),), Place(4, 0), "D", "D", "", first=True, response_s=0.82
    )
    high = LastAnswer(
        2, Verdict.FRET_OFF, (Place(4, 2),), Place(4, 3), "E", "F", "", first=True, response_s=1.1
    )
    mended = LastAnswer(
        2, Verdict.RIGHT, (Place(4, 2),), Place(4, 2), "E", "E", "", first=False, response_s=None
    )
    counting = change(base, stage=Stage.COUNTDOWN, count=2)
    asking = change(base, stage=Stage.ASKING)
    assert lines_for(
        counting,
        counting,
        change(counting, count=1),
        change(asking, prompt=d),
        change(asking, prompt=d, elapsed_s=99),
        change(asking, prompt=e, last=right),
        change(asking, prompt=e, last=high),
        change(asking, prompt=e, last=high, stage=Stage.PAUSED),
        change(asking, prompt=e, last=high, stage=Stage.PAUSED),
        change(asking, prompt=e, last=high),
        change(asking, prompt=f, last=mended, message="the capo slipped"),
        change(asking, prompt=f, last=mended, message="the capo slipped", elapsed_s=120),
        change(screens["ended"], last=mended),
    ) == [
        "count 2",
        "count 1",
        "1/3 cue: D on string 4",
        "1/3 right 0.82 s",
        "2/3 cue: E on string 4",
        "2/3 fret-off 1.10 s: Right string, one fret too high.",
        "paused",
        "go on",
        "2/3 cue: E on string 4",
        "2/3 then right",
        "note: the capo slipped",
        "3/3 cue: F on string 4",
        "end: 14 of 17 right",
        "Median time of the right answers 0.82 s (middle half: 0.31 s wide)",
        "Not right: one fret off 2, wrong note 1.",
        "✗ Gate not met yet.",
        "  right 82% of 90% asked: not yet",
        "  0 of 3 runs in a row: not yet",
        "Slowest places",
        "  string 4, fret 2   2.10 s",
        "  string 5, fret 3   1.90 s",
        "Least sure places",
        "  string 4, fret 3   1 of 3 right",
    ]


def test_the_check_of_the_strings_as_lines(screens: dict[str, Screen]) -> None:
    waiting = tuple(StringCheck(s, "E", "waiting", None, ok=False) for s in (1, 2))
    heard = (StringCheck(1, "E", "heard, in tune", 2.0, ok=True), waiting[1])
    base = change(screens["checking"], checks=waiting)
    assert lines_for(base, base, change(base, checks=heard), change(base, checks=heard)) == [
        "check: pluck each open string once",
        "check string 1 E: heard, in tune +2 cents",
    ]


def test_the_same_prompt_again_after_a_new_start_is_told_again(screens: dict[str, Screen]) -> None:
    asking = change(screens["name"], last=None)
    counting = change(asking, stage=Stage.COUNTDOWN, prompt=None, count=1)
    assert lines_for(asking, counting, asking) == [
        "3/17 cue: D on string 4",
        "count 1",
        "3/17 cue: D on string 4",
    ]


def test_every_line_is_flushed_at_once(screens: dict[str, Screen]) -> None:
    class Pipe(io.StringIO):
        flushed = 0

        def flush(self) -> None:
            self.flushed += 1

    pipe = Pipe()
    view = LineView(pipe)
    view.show(screens["name"])
    assert pipe.flushed == 1


def test_ascii_where_the_pipe_has_no_signs(screen: Screen) -> None:
    raw = io.BytesIO()
    LineView(io.TextIOWrapper(raw, encoding="ascii", errors="strict")).show(screen)


def test_a_message_cannot_break_into_lines(screens: dict[str, Screen]) -> None:
    lines = lines_for(change(screens["name"], last=None, message="one\ntwo\x1b[2J"))
    assert lines == ["note: one two [2J", "3/17 cue: D on string 4"]


def test_views_without_keys(screens: dict[str, Screen]) -> None:
    with SilentView() as silent, LineView(io.StringIO()) as lines:
        silent.show(screens["name"])
        assert silent.keys() == lines.keys() == []


def test_a_guitar_that_goes_and_comes_back_as_lines(screens: dict[str, Screen]) -> None:
    asking = change(screens["name"], last=None, stage=Stage.ASKING, message="")
    gone = change(asking, stage=Stage.PAUSED, message="The guitar's port is gone. The run waits.")
    back = change(gone, message="The guitar is back.")
    lines = lines_for(asking, gone, gone, change(back, count=3), change(back, count=3), change(back, count=2))
    assert lines[1:] == [
        "note: The guitar's port is gone. The run waits.",
        "paused",
        "note: The guitar is back.",
        "count 3",
        "count 2",
    ]


def test_an_answer_taken_back_is_told(screens: dict[str, Screen], prompt_of: Callable[..., Prompt]) -> None:
    """A note that counted turned out to be none: whoever reads the lines must not keep its verdict."""
    prompts = tuple(prompt_of(n, (CueKind.NAME,), Place(4, 0), SpelledPitch("D", 0, 3)) for n in (1, 2))
    base = change(screens["name"], last=None, message="")
    base = change(base, exercise=change(base.exercise, prompts=prompts), stage=Stage.ASKING)
    second = change(base, prompt=prompts[1], answered=1, right=1)
    first = change(base, prompt=prompts[0], answered=0, right=0)
    told = lines_for(second, first)
    assert told[-2:] == [
        "1/2 taken back: what was heard turned out otherwise",
        told[-1],
    ]
    assert told[-1].startswith("1/2 cue")
    again = change(first, stage=Stage.COUNTDOWN, count=3, prompt=None)
    assert "taken back" not in " ".join(lines_for(second, again))  # a new start takes nothing back
