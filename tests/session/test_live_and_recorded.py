"""What is judged live and what is judged from the take must agree, whatever the player does."""

from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.session.recorded import judge_take
from midifret.terms import TimedMessage
from midifret.terms.marks import CuePoint, Mark, TypedName

from .test_live import GUITAR, Script, exercise, play, setting

PLACES = ("6:5", "5:5", "4:5", "5:6", "4:0", "1:1")
_steps = st.lists(
    st.tuples(st.floats(0.05, 1.5), st.sampled_from(PLACES), st.sampled_from(["", "", "", " ", "n"])),
    max_size=14,
)


@given(steps=_steps, limit_s=st.one_of(st.none(), st.floats(0.6, 2.0)), quits=st.booleans())
@settings(max_examples=150, deadline=None)
def test_a_take_gives_the_verdicts_of_its_live_run(
    steps: list[tuple[float, str, str]], limit_s: float | None, quits: bool
) -> None:
    asked = exercise("6:5", "5:5", "4:5", "6:5", limit_s=limit_s)

    def prepare(script: Script) -> None:
        time_s = 3.5
        for gap_s, place, key in steps:
            time_s += gap_s
            if key:
                script.to_press.append((time_s, key))
            else:
                script.pluck(time_s, place)
        if quits:
            script.to_press.append((time_s + 0.5, "q"))

    finished, script = play(setting(asked), prepare, give_up_s=40.0)
    answers, _ = judge_take(
        asked,
        GUITAR,
        [TimedMessage(time_s, data) for time_s, data in script.messages],
        cues=[CuePoint(n, time_s) for n, time_s in script.cues.items()],
        marks=[Mark(kind, time_s) for kind, time_s in script.marks],
        typed=[TypedName(name, time_s) for name, time_s in script.names],
        end_s=40.0,
    )
    assert [answer.verdict for answer in answers] == [answer.verdict for answer in finished.answers]
    for recorded, live in zip(answers, finished.answers, strict=True):
        assert (recorded.response_s is None) == (live.response_s is None)
        if live.response_s is not None and recorded.response_s is not None:
            assert abs(recorded.response_s - live.response_s) < 0.001
