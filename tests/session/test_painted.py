"""A view that tells later when a cue appeared, and when a key was pressed."""

import pytest

from midifret.neck import Language
from midifret.session.live import UNSEEN
from midifret.session.naming import NameEntry
from midifret.session.screen import Press, Stage
from midifret.terms import Verdict
from midifret.terms.calibration import Caveat

from .test_live import POLL_S, Script, exercise, play, setting

FIRST_CUE_S = 3.0  # after the countdown


def test_a_response_counts_from_when_the_cue_appeared() -> None:
    def prepare(script: Script) -> None:
        script.paints_after_s, script.told_after_s = 0.03, 0.01
        script.pluck(4.0, "6:5")
        script.pluck(5.0, "5:5")

    finished, script = play(setting(exercise("6:5", "5:5")), prepare)
    first, second = finished.answers
    assert first.response_s == pytest.approx(4.0 - (FIRST_CUE_S + 0.03), abs=2 * POLL_S)
    assert second.response_s == pytest.approx(1.0 - 0.03, abs=2 * POLL_S)
    assert all(answer.cue_sure for answer in finished.answers)
    assert script.unsure == set()
    # The take holds what was painted, so that it is judged alike.
    assert script.cues[1] == pytest.approx(first.cue_s)
    assert script.cues[1] == pytest.approx(FIRST_CUE_S + 0.03, abs=2 * POLL_S)


def test_an_answer_before_that_is_told_has_no_time() -> None:
    def prepare(script: Script) -> None:
        script.paints_after_s, script.told_after_s = 0.03, 0.5
        script.pluck(3.2, "6:5")
        script.pluck(5.0, "5:5")

    finished, script = play(setting(exercise("6:5", "5:5")), prepare)
    first, second = finished.answers
    assert (first.verdict, first.response_s, first.cue_sure) == (Verdict.RIGHT, None, False)
    assert second.response_s is not None
    assert script.unsure == {1}
    assert Caveat.CUE_UNSURE in finished.summary.recall_caveats
    assert finished.summary.median_response_s == second.response_s  # it is in no figure


def test_a_browser_that_cannot_tell() -> None:
    def prepare(script: Script) -> None:
        script.paints_after_s, script.knows_when = 0.01, False
        script.pluck(4.0, "6:5")

    finished, script = play(setting(exercise("6:5")), prepare)
    assert (finished.answers[0].response_s, finished.answers[0].cue_sure) == (None, False)
    assert script.unsure == {1}


def test_a_second_report_of_the_same_cue_changes_nothing() -> None:
    def prepare(script: Script) -> None:
        script.paints_after_s = 0.01
        script.to_tell.append((3.5, 1, 3.5))
        script.pluck(4.0, "6:5")

    finished, _ = play(setting(exercise("6:5")), prepare)
    assert finished.answers[0].response_s == pytest.approx(1.0 - 0.01, abs=2 * POLL_S)


def test_a_pause_before_it_is_told_leaves_it_unknown() -> None:
    def prepare(script: Script) -> None:
        script.paints_after_s, script.told_after_s = 0.01, 0.2
        script.to_press += [(3.1, " "), (6.0, " ")]
        script.pluck(7.0, "6:5")

    finished, _ = play(setting(exercise("6:5")), prepare)
    assert (finished.answers[0].right, finished.answers[0].response_s) == (True, None)


def test_a_name_counts_from_when_it_was_pressed() -> None:
    def prepare(script: Script) -> None:
        script.presses.append((4.2, Press("A", 4.1, is_name=True)))  # told a tenth of a second later

    finished, script = play(setting(exercise("6:5", naming=True)), prepare)
    assert finished.answers[0].typed == "a"
    assert finished.answers[0].answer_s == pytest.approx(4.1)
    assert script.names == [("A", pytest.approx(4.1))]


def test_a_name_of_no_known_moment_has_no_time() -> None:
    def prepare(script: Script) -> None:
        script.presses.append((4.2, Press("A", None, sure=False, is_name=True)))

    finished, script = play(setting(exercise("6:5", naming=True)), prepare)
    assert (finished.answers[0].verdict, finished.answers[0].response_s) == (Verdict.RIGHT, None)
    assert script.unsure == {1}


def test_a_name_pressed_for_the_prompt_before_is_not_taken_for_this_one() -> None:
    """Two names pressed on a slow link: the second was meant for what had gone when it came."""

    def prepare(script: Script) -> None:
        script.presses.append((4.2, Press("A", 4.1, is_name=True)))
        script.presses.append((4.3, Press("D", 4.0, is_name=True)))
        script.presses.append((5.0, Press("A", 4.9, is_name=True)))

    finished, _ = play(setting(exercise("6:5", "6:5", naming=True)), prepare)
    assert [answer.typed for answer in finished.answers] == ["a", "a"]


@pytest.mark.parametrize(
    ("language", "name", "pitch_class"),
    [
        (Language.ENGLISH, "F♯", 6),
        (Language.GERMAN, "H", 11),
        (Language.GERMAN, "B", 10),
        (Language.FIXED_DO, "si♭", 10),
    ],
)
def test_whole_names(language: Language, name: str, pitch_class: int) -> None:
    named = NameEntry(language).whole(name, 1.5)
    assert named is not None
    assert (named.pitch.pitch_class, named.time_s) == (pitch_class, 1.5)


def test_what_is_no_name_is_not_taken() -> None:
    entry = NameEntry(Language.ENGLISH)
    assert entry.whole("H", 1.0) is None
    assert entry.whole("", 1.0) is None


# --- the page goes and comes back -----------------------------------------------------------------


def test_a_run_waits_while_nobody_has_the_page_open_and_then_goes_on() -> None:
    def prepare(script: Script) -> None:
        script.unseen = [(4.0, 6.0)]
        script.pluck(5.0, "6:5")  # unseen: it counts for nothing
        script.pluck(10.0, "6:5")

    finished, script = play(setting(exercise("6:5", "5:5", limit_s=30.0)), prepare, give_up_s=12.0)
    said = [screen for screen in script.screens if screen.message == UNSEEN]
    assert said
    assert all(screen.stage is Stage.PAUSED for screen in said[1:])
    assert any(screen.count == 3 for screen in script.screens if screen.stage is Stage.PAUSED)
    [first] = finished.answers
    assert first.answer_s == pytest.approx(10.0, abs=POLL_S)
    # From the first cue to the loss, and from going on three seconds after it is back.
    assert first.response_s == pytest.approx((4.0 - FIRST_CUE_S) + (10.0 - 9.0), abs=0.25)


def test_a_note_just_before_the_loss_is_noticed_counts() -> None:
    def prepare(script: Script) -> None:
        script.unseen = [(4.0, 6.0)]
        script.unseen_told_s = 1.0  # it is noticed later, as a link that fell silent
        script.pluck(4.5, "6:5")

    finished, _ = play(setting(exercise("6:5", "5:5")), prepare, give_up_s=7.0)
    assert [answer.right for answer in finished.answers] == [True]


def test_what_the_player_had_paused_stays_paused() -> None:
    def prepare(script: Script) -> None:
        script.to_press.append((3.5, " "))
        script.unseen = [(4.0, 6.0)]

    _, script = play(setting(exercise("6:5")), prepare, give_up_s=12.0)
    assert script.screens[-1].stage is Stage.PAUSED


def test_a_countdown_begins_again() -> None:
    def prepare(script: Script) -> None:
        script.unseen = [(1.0, 5.0)]

    _, script = play(setting(exercise("6:5")), prepare, give_up_s=10.0)
    assert script.cues[1] == pytest.approx(5.0 + 3.0, abs=0.25)
