"""A free reading by itself: what it says, and that it does not matter when a note is told."""

import random
import time
from collections.abc import Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.play import Closed, Cued, Ended, Judgement, Output, Phase, Stray, StrayReason, Withdrawn
from midifret.reading.alignment import align
from midifret.reading.events import events_of
from midifret.reading.free_run import FreeReading
from midifret.terms import Answer, Exercise, Note, NoteRevised, NoteSettled, Verdict, Voided
from midifret.terms.calibration import Caveat, NoteInterval
from midifret.terms.notes import Glitch
from tests.reading.simulated import NECK, Faults, melody, perform, reading, score_of

FAULTS = Faults(0.05, 0.05, 0.04, 0.04, 0.04, 0.03, 0.01)
TUNE = reading(score_of("60 62 64 65", "67 65 64 59", "60+64 67"))


def note(number: int, midi: int, time_s: float) -> Note:
    places = NECK.places(midi)
    place = next((place for place in places if 5 <= place.fret <= 8), places[0])  # in position V
    return Note(number, time_s, place.string, place.fret, midi, 80, place.string - 1)


def begun(exercise: Exercise = TUNE) -> tuple[FreeReading, list[Output]]:
    run = FreeReading(exercise)
    return run, run.start(0.0)


def kept(outputs: Sequence[Output]) -> dict[int, Answer]:
    """What a book holds after these outputs."""
    found: dict[int, Answer] = {}
    for output in outputs:
        if isinstance(output, Withdrawn):
            found = {n: answer for n, answer in found.items() if n < output.n}
        elif isinstance(output, Closed):
            assert output.answer.n == len(found) + 1  # in order, none twice
            found[output.answer.n] = output.answer
    return found


def test_the_first_note_is_cued_and_the_last_one_ends_it() -> None:
    run, outputs = begun()
    assert [output.prompt.n for output in outputs if isinstance(output, Cued)] == [1]
    for number, prompt in enumerate(TUNE.prompts, start=1):
        outputs += run.hear(note(number, prompt.midi, float(number)))
    assert isinstance(outputs[-1], Ended)
    assert not outputs[-1].early
    assert run.phase is Phase.ENDED
    assert tuple(kept(outputs).values()) == run.answers
    after = run.hear(note(99, 60, 99.0))
    assert [output.reason for output in after if isinstance(output, Stray)] == [StrayReason.AFTER_END]


def test_what_turns_out_otherwise_is_taken_back() -> None:
    # 64 instead of 62: first it is a wrong try at 62; when 65 and 67 follow, 62 was left out.
    run, outputs = begun()
    outputs += run.hear(note(1, 60, 1.0))
    tried = run.hear(note(2, 64, 2.0))
    assert [output.prompt.n for output in tried if isinstance(output, Judgement)] == [2]
    outputs += tried
    for number, midi in enumerate((65, 67), start=3):
        outputs += run.hear(note(number, midi, float(number)))
    answers = kept(outputs)
    assert [answers[n].verdict is Verdict.MISSED for n in (1, 2)] == [False, True]
    assert answers[3].played is not None
    assert answers[3].played.midi == 64


def test_doubtful_revised_and_voided_notes() -> None:
    run, _ = begun()
    doubtful = note(1, 60, 1.0)._replace(doubtful=True)
    assert run.hear(doubtful) == []
    run.hear(NoteSettled(note(1, 60, 1.0)))
    assert run.prompt is not None
    assert run.prompt.n == 2
    run.hear(note(2, 62, 2.0))
    run.hear(NoteRevised(note(2, 63, 2.0)))
    assert run.verdict(2) is not Verdict.RIGHT
    run.hear(Voided(note(2, 63, 2.0), Glitch.TOO_SHORT, ""))
    assert run.verdict(2) is None
    assert run.prompt is not None
    assert run.prompt.n == 2


def test_before_the_start_and_in_a_pause_nothing_counts() -> None:
    run = FreeReading(TUNE)
    assert run.hear(note(1, 60, 0.5)) == [Stray(note(1, 60, 0.5), StrayReason.BEFORE_CUE)]
    run.start(1.0)
    assert run.hear(note(2, 60, 0.9)) == [Stray(note(2, 60, 0.9), StrayReason.BEFORE_CUE)]
    run.hear(note(3, 60, 2.0))
    run.hear(note(4, 62, 3.0))
    run.pause_since(2.5)  # so the second note came in the pause
    assert run.prompt is not None
    assert run.prompt.n == 2
    assert run.hear(note(5, 62, 3.5)) == [Stray(note(5, 62, 3.5), StrayReason.PAUSED)]
    run.resume(4.0)
    run.hear(note(6, 62, 4.5))
    assert run.verdict(2) is Verdict.RIGHT
    assert run.elapsed_s(6.0) == 3.5


def test_a_guitar_that_tells_no_strings_is_judged_by_pitch() -> None:
    run = FreeReading(TUNE, assume_on=NECK)
    run.start(0.0)
    for number, midi in enumerate((60, 63, 62), start=1):
        run.hear(note(number, midi, float(number))._replace(string=None, fret=None))
    assert run.verdict(1) is Verdict.RIGHT
    # One fret above the asked note, taken to be on its string.
    assert run.verdict(2) is Verdict.FRET_OFF


def test_a_note_struck_along_with_the_right_one_is_no_answer() -> None:
    run, _ = begun()
    run.hear(note(1, 61, 1.0))  # brushed a hundredth of a second before
    outputs = run.hear(note(2, 60, 1.01))
    assert run.answers[0].verdict is Verdict.RIGHT
    assert run.answers[0].corrections == ()
    assert any(isinstance(output, Closed) for output in outputs)


def test_who_is_lost_at_the_first_note_has_missed_nothing_after_it() -> None:
    run, outputs = begun()
    for number, midi in enumerate((61, 58, 61, 58), start=1):
        outputs += run.hear(note(number, midi, float(number)))
    outputs += run.end(9.0, all_asked=True)  # a whole recording
    assert [answer.verdict for answer in run.answers] == [Verdict.FRET_OFF]
    assert isinstance(outputs[-1], Ended)
    assert outputs[-1].early


def test_of_a_chord_that_was_begun_all_is_reached_and_nothing_of_what_follows() -> None:
    run, _ = begun()
    for number, prompt in enumerate(TUNE.prompts[:8], start=1):
        run.hear(note(number, prompt.midi, float(number)))
    run.hear(note(9, 64, 9.0))  # of 60 and 64 the upper one alone
    run.end(12.0)
    assert [answer.n for answer in run.answers] == list(range(1, 11))
    assert [answer.verdict for answer in run.answers[8:]] == [Verdict.MISSED, Verdict.RIGHT]


def test_before_the_last_note_played_what_was_left_out_is_missed() -> None:
    run, _ = begun()
    for number, n in enumerate((1, 2, 3, 5, 6, 7), start=1):
        run.hear(note(number, TUNE.prompts[n - 1].midi, float(number)))
    run.end(9.0, all_asked=True)
    missed = [answer.n for answer in run.answers if answer.verdict is Verdict.MISSED]
    assert (len(run.answers), missed) == (7, [4])


def taken(interval_s: float, first_midi: int, second_midi: int) -> NoteInterval:
    """As it came; the flag shows that it was asked."""
    return NoteInterval(round(interval_s, 6), None, frozenset({Caveat.STALE}))


def intervals(run: FreeReading) -> dict[int, float]:
    return {answer.n: answer.interval.time_s for answer in run.answers if answer.interval}


def test_a_note_has_the_interval_since_the_note_that_closed_the_event_before() -> None:
    run = FreeReading(TUNE, interval=taken)
    run.start(0.0)
    run.hear(note(1, 60, 1.0))
    run.hear(note(2, 61, 1.5))  # wrong first, right a second later
    run.hear(note(3, 62, 2.5))
    run.hear(note(4, 64, 3.0))
    run.pause(3.2)
    run.resume(5.2)
    run.hear(note(5, 65, 6.0))  # two seconds of them paused
    for number, midi in enumerate((67, 65, 64), start=6):
        run.hear(note(number, midi, float(number) + 1))
    run.hear(note(9, 59, 10.0)._replace(string=4, fret=9))  # by stretching
    run.hear(note(10, 64, 11.5))
    run.hear(note(11, 60, 11.6))
    run.hear(note(12, 67, 12.6))
    assert run.phase is Phase.ENDED
    # The chord of prompts 9 and 10 has its interval at the note struck first, and is closed by the other.
    assert intervals(run) == {2: 0.5, 3: 0.5, 4: 1.0, 5: 1.0, 6: 1.0, 7: 1.0, 8: 1.0, 10: 1.5, 11: 1.0}


def test_after_a_note_that_never_was_right_and_in_another_order_there_is_no_interval() -> None:
    run = FreeReading(TUNE, interval=taken)
    run.start(0.0)
    for number, midi in enumerate((60, 61, 64, 65, 67), start=1):  # 61 stands for 62
        run.hear(note(number, midi, float(number)))
    run.end(9.0)
    assert intervals(run) == {2: 1.0, 4: 1.0, 5: 1.0}


@given(seed=st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_intervals_too_are_a_function_of_the_notes_alone(seed: int) -> None:
    exercise = reading(melody(30, seed, chords=0.2))
    played = [item.note for item in perform(exercise, FAULTS, seed)]
    draw = random.Random(seed)
    mixed = sorted(enumerate(played), key=lambda item: item[0] + draw.uniform(0, 5))
    in_order, late = FreeReading(exercise, interval=taken), FreeReading(exercise, interval=taken)
    for run, notes in ((in_order, played), (late, [each for _, each in mixed])):
        run.start(0.0)
        outputs = [output for each in notes for output in run.hear(each)]
        outputs += run.end(1000.0)
        assert tuple(kept(outputs).values()) == run.answers
    assert in_order.answers == late.answers


def test_nothing_played_is_nothing_reached() -> None:
    run, _ = begun()
    run.end(9.0, all_asked=True)
    assert run.answers == ()


@given(seed=st.integers(0, 10_000), late=st.integers(0, 8))
@settings(max_examples=60, deadline=None)
def test_it_does_not_matter_when_a_note_is_told(seed: int, late: int) -> None:
    # Doubtful notes are told late, others before them: the answers are a function of the notes alone.
    exercise = reading(melody(40, seed, chords=0.2))
    played = [item.note for item in perform(exercise, FAULTS, seed)]
    in_order, _ = begun(exercise)
    for each in played:
        in_order.hear(each)
    draw = random.Random(seed)
    mixed = sorted(enumerate(played), key=lambda item: item[0] + draw.uniform(0, late))
    run, outputs = begun(exercise)
    for _, each in mixed:
        outputs += run.hear(each)
    for told in (in_order, run):
        told.end(1000.0, all_asked=True)
    assert run.answers == in_order.answers
    assert run.alignment() == in_order.alignment()


@given(seed=st.integers(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_what_it_said_on_the_way_adds_up_to_what_it_says_in_the_end(seed: int) -> None:
    exercise = reading(melody(40, seed, chords=0.2))
    played = [item.note for item in perform(exercise, FAULTS, seed)]
    run, outputs = begun(exercise)
    for each in played:
        outputs += run.hear(each)
    outputs += run.end(1000.0, all_asked=True)
    assert tuple(kept(outputs).values()) == run.answers
    last = run.answers[-1].n
    assert max(item.n for item in run.alignment()) <= last  # what was played for lies before the end
    assert any(answer.played for answer in run.answers[-4:])  # chords have up to four notes
    if run.alignment() and len(run.alignment()) == len(played):
        # Nothing came after the end: it is the best path over all.
        best = align(events_of(exercise), played, whole=False)
        assert run.alignment() == best.notes


def test_a_note_costs_the_same_at_the_end_of_a_long_piece_as_at_its_beginning() -> None:
    # Time of this process alone. Issue: below 1 ms a note in a piece of a thousand.
    exercise = reading(melody(1000, 5, chords=0.2))
    run, _ = begun(exercise)
    times_s = []
    for item in perform(exercise, FAULTS, 7):
        begin_s = time.process_time()
        run.hear(item.note)
        times_s.append(time.process_time() - begin_s)
    tenth = len(times_s) // 10
    first, last = sorted(times_s[:tenth]), sorted(times_s[-tenth:])
    assert last[tenth // 2] < 0.001
    assert last[tenth // 2] < 3 * first[tenth // 2]  # a quadratic cost would be some ten times as much
