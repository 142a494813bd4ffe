"""Time played, with pauses known as a whole, open, and after the fact."""

from midifret.play.stopwatch import Stopwatch


def test_pauses_are_left_out_as_far_as_they_reach() -> None:
    watch = Stopwatch()
    assert watch.played_s(5.0) == 0.0
    watch.began_s = 1.0
    watch.leave_out(2.0, 4.0)
    watch.pause(6.0)
    assert [watch.played_s(until_s) for until_s in (1.5, 3.0, 5.0, 6.0, 9.0)] == [0.5, 1.0, 2.0, 3.0, 3.0]
    watch.resume(7.0)
    assert watch.played_s(9.0) == 5.0
    assert watch.between_s(3.0, 6.5) == 2.0
    assert [watch.is_paused(time_s) for time_s in (1.9, 2.0, 3.9, 4.0, 6.5, 7.0)] == [
        False, True, True, False, True, False
    ]  # fmt: skip
