"""Places asked one by one: what is asked, when it ends, and a memory that goes back with the answers."""

import datetime as dt
import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.files import Home
from midifret.gear.path import load_path
from midifret.neck import Accidentals, Neck, Tuning
from midifret.practice import Asked, Memory, MethodPath, RecallKind, remember, remembered
from midifret.practice.asking import (
    TOLD_S,
    BlockAsker,
    PlacementAsker,
    limit_s,
    prompt_of,
    sample_of,
    says_fretted,
    wait_after,
)
from midifret.practice.path import PLACES_A_STAGE
from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, Verdict
from midifret.terms.calibration import Recall
from tests.conftest import STANDARD

NECK = Neck(STANDARD)
LONG_NECK = Neck(STANDARD, 24)
NOON_S = dt.datetime(2026, 11, 2, 12, tzinfo=dt.UTC).timestamp()
ROW_5 = tuple(Asked(Place(string, 5), RecallKind.NAME) for string in range(6, 0, -1))


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> MethodPath:
    return load_path(Home.of(str(tmp_path_factory.mktemp("home"))))


def answer(
    prompt: Prompt, at_s: float, *, right: bool = True, recall_s: float = 0.9, found: bool = True
) -> Answer:
    """An answer at a time of the run; wrong ones one fret off and, where found, right a second later."""
    place = prompt.places[0]
    if not right and not found:
        return Answer(prompt, Verdict.MISSED, at_s - recall_s)
    played = Note(prompt.n, at_s, place.string, place.fret + (not right), prompt.midi, 90, place.string - 1)
    then = Note(prompt.n + 1000, at_s + 1, place.string, place.fret, prompt.midi, 90, place.string - 1)
    return Answer(
        prompt,
        Verdict.RIGHT if right else Verdict.FRET_OFF,
        at_s - recall_s,
        at_s,
        recall_s,
        Recall(recall_s, 0.0, 0.05, frozenset()) if right else None,
        played,
        corrections=() if right else (then,),
    )


def play(
    ask: BlockAsker | PlacementAsker,
    knows: object,
    *,
    each_s: float = 2.0,
    recall_s: float = 0.9,
    most: int = 400,
) -> list[Answer]:
    """Answer all that is asked: knows says of a place whether it comes."""
    answers: list[Answer] = []
    time_s = 0.0
    while len(answers) < most:
        prompt = ask(tuple(answers), time_s, time_s)
        if prompt is None:
            return answers
        time_s += each_s + prompt.wait_s
        right = knows(prompt.places[0])  # type: ignore[operator]
        answers.append(answer(prompt, time_s, right=right, found=right, recall_s=recall_s))
    raise AssertionError("it never ends")


def asker(memory: Memory | None = None, places: tuple[Asked, ...] = ROW_5, **fields: object) -> BlockAsker:
    given: dict[str, object] = {"began_s": NOON_S, "lasts_s": 60.0} | fields
    return BlockAsker((memory or Memory()).kept, places, NECK, **given)  # type: ignore[arg-type]


# --- prompts --------------------------------------------------------------------------------------


def test_a_name_comes_with_its_string() -> None:
    prompt = prompt_of(1, ROW_5[0], NECK)
    assert prompt.cue == (CueKind.NAME, CueKind.STRING)
    assert (prompt.places, prompt.judged) == ((Place(6, 5),), Judged.PLACE)
    assert prompt.midi == 45  # the fifth fret of E2 (40) is A2, as guitars are tuned [common practice]
    assert str(prompt.pitch) == "A2"


@given(st.integers(1, 6), st.integers(0, 12), st.integers(0, 12))
def test_no_two_places_of_a_string_are_asked_alike(string: int, fret: int, other: int) -> None:
    """Up to fret 12, which the path goes to: name, string and what stands beside them tell the place."""

    def shown(where: int) -> tuple[object, ...]:
        prompt = prompt_of(1, Asked(Place(string, where), RecallKind.NAME), NECK)
        return prompt.pitch.step, prompt.pitch.alter, string, prompt.hint

    assert (shown(fret) == shown(other)) == (fret == other)


@given(st.integers(1, 6), st.integers(0, 24), st.integers(0, 24), st.booleans(), st.booleans())
def test_every_cue_by_name_has_one_answer_by_what_is_said_before(
    string: int, fret: int, other: int, fretted: bool, also: bool
) -> None:
    """The lowest place; fretted: the lowest but the open string; the higher one: that above fret 12."""

    def shown(where: int, says: bool) -> tuple[object, ...]:
        prompt = prompt_of(1, Asked(Place(string, where), RecallKind.NAME), LONG_NECK, fretted=says)
        return prompt.pitch.step, prompt.pitch.alter, prompt.hint

    if fret != other:
        assert shown(fret, fretted) != shown(other, also)
    hint = shown(fret, fretted)[2]
    lowest = {"": 0, "fretted": 1, "the higher one": 13}[str(hint)]
    name = LONG_NECK.midi(Place(string, fret)) % 12
    named = [f for f in range(lowest, 25) if LONG_NECK.midi(Place(string, f)) % 12 == name]
    assert named[0] == fret


def test_what_stands_beside_a_name_does_not_tell_the_fret() -> None:
    """Fret 12 says that it is fretted; so do about half of the others, and the other half says nothing."""
    places = tuple(
        Asked(Place(string, fret), RecallKind.NAME) for fret in range(13) for string in range(1, 7)
    )
    hints: dict[int, list[str]] = {}
    for n in range(1, 201):
        for asked in places:
            prompt = prompt_of(n, asked, NECK, fretted=says_fretted(n, asked, places))
            hints.setdefault(asked.place.fret, []).append(prompt.hint)
    assert set(hints[12]) == {"fretted"}
    assert set(hints[0]) == {""}
    for fret in range(1, 12):
        assert set(hints[fret]) == {"", "fretted"}
        # Drawn 1,200 times at one half: 0.43 to 0.57 is five deviations, sqrt(1200 / 4) / 1200 each.
        assert 0.43 < hints[fret].count("fretted") / len(hints[fret]) < 0.57


def test_who_is_not_asked_fret_12_reads_no_such_word() -> None:
    ask = asker(places=tuple(Asked(Place(s, f), RecallKind.NAME) for s in range(1, 7) for f in range(12)))
    assert {each.prompt.hint for each in play(ask, lambda place: True)} == {""}
    with_12 = asker(
        places=tuple(Asked(Place(s, f), RecallKind.NAME) for s in range(1, 7) for f in (0, 5, 12)),
        lasts_s=200.0,
    )
    said = {(each.prompt.places[0].fret, each.prompt.hint) for each in play(with_12, lambda place: True)}
    assert said == {(0, ""), (5, ""), (5, "fretted"), (12, "fretted")}


def test_the_other_kinds_of_cue() -> None:
    staff = prompt_of(1, Asked(Place(3, 2), RecallKind.STAFF), NECK)
    assert staff.cue == (CueKind.STAFF, CueKind.STRING)
    naming = prompt_of(2, Asked(Place(3, 2), RecallKind.NAMING), NECK)
    assert (naming.cue, naming.judged, naming.given) == ((CueKind.PLACE,), Judged.NAME, Place(3, 2))
    with pytest.raises(ValueError, match="interval"):
        prompt_of(1, Asked(Place(3, 2), RecallKind.INTERVAL), NECK)
    with pytest.raises(ValueError, match="no place 6:24"):
        prompt_of(1, Asked(Place(6, 24), RecallKind.NAME), NECK)


def test_both_spellings_take_turns_where_the_player_wants_both() -> None:
    asked = Asked(Place(6, 4), RecallKind.NAME)  # between G and A
    names = {str(prompt_of(n, asked, NECK, Accidentals.BOTH).pitch) for n in (1, 2)}
    assert names == {"G#2", "Ab2"}


def test_a_place_that_is_shown_shows_no_recall() -> None:
    shown = prompt_of(1, ROW_5[0], NECK, told=True)
    assert CueKind.PLACE in shown.cue
    assert remembered(answer(shown, 5.0), 0.0) is None


def test_who_is_slow_gets_longer_and_nobody_is_left_alone() -> None:
    assert limit_s(Memory()) == 10.0  # 2.85 times 3.5 s
    slow = Memory()
    for number in range(60):
        place = Place(6 - number % 6, number % 13)
        given = remembered(
            answer(prompt_of(1, Asked(place, RecallKind.NAME), NECK), 0.0, recall_s=9.0), NOON_S + 60 * number
        )
        assert given is not None
        slow.answer(given)
    assert 10.0 < limit_s(slow) <= 20.0


# --- blocks ---------------------------------------------------------------------------------------


def test_a_block_lasts_as_long_as_was_said() -> None:
    answers = play(asker(lasts_s=60.0), lambda place: True)
    assert len(answers) == 30  # each takes 2 s
    assert {each.prompt.places[0] for each in answers} == {asked.place for asked in ROW_5}


def test_a_block_ends_when_it_is_enough() -> None:
    ask = asker(lasts_s=3000.0, until_enough=True)
    answers = play(ask, lambda place: True, recall_s=0.4)
    assert ask.was_enough
    assert len(answers) < 200
    assert not asker(lasts_s=3000.0).was_enough


def test_after_a_place_that_was_not_found_the_next_waits() -> None:
    answers = play(asker(), lambda place: place.string != 4)
    for before, after in itertools.pairwise(answers):
        assert after.prompt.wait_s == (0.0 if before.right else TOLD_S)
    skipped = Answer(answers[0].prompt, Verdict.MISSED, 0.0, skipped=True)
    assert wait_after([skipped]) == 0.0


def test_memory_after_a_block_is_that_of_its_answers() -> None:
    ask = asker()
    answers = play(ask, lambda place: place.string != 4)
    given = [
        one for each in answers if (one := remembered(each, NOON_S + (each.answer_s or each.cue_s or 0.0)))
    ]
    assert ask.heard(answers).kept == remember(given, NOON_S + 1e4).kept


@given(st.lists(st.tuples(st.integers(0, 3), st.booleans()), min_size=1, max_size=12), st.randoms())
@settings(max_examples=60, deadline=None)
def test_memory_goes_back_with_the_answers(taken_back: list[tuple[int, bool]], draw: random.Random) -> None:
    """However often late notes change the newest answers, memory is that of the answers that hold."""
    ask = asker(lasts_s=1e6)
    answers: list[Answer] = []
    prompts: list[Prompt] = []
    time_s = 0.0
    for back, right in taken_back:
        del answers[len(answers) - min(back, len(answers)) :]
        time_s += 2.0
        if len(answers) == len(prompts):
            chosen = ask(tuple(answers), time_s, time_s)
            assert chosen is not None
            prompts.append(chosen)
        answers.append(answer(prompts[len(answers)], time_s, right=right, found=draw.random() < 0.5))
    fresh = asker(lasts_s=1e6)
    assert ask.heard(answers).kept == fresh.heard(answers).kept
    assert ask(tuple(answers), time_s + 1, 0.0) is not None


def test_what_the_neck_lacks_is_refused_at_once() -> None:
    with pytest.raises(ValueError, match="no place 6:24"):
        asker(places=(Asked(Place(6, 24), RecallKind.NAME),))
    with pytest.raises(ValueError, match="no place to choose"):
        asker(places=())


# --- placement ------------------------------------------------------------------------------------


def placement(path: MethodPath, neck: Neck = NECK, *, seed: int = 0, most_s: float = 240.0) -> PlacementAsker:
    return PlacementAsker(path, neck, seed=seed, most_s=most_s)


def test_who_knows_all_ends_at_the_last_stage(path: MethodPath) -> None:
    ask = placement(path)
    answers = play(ask, lambda place: True)
    assert ask.result(answers) is path.rows[-1]
    assert len(answers) == PLACES_A_STAGE * len(path.rows)
    assert answers[-1].answer_s is not None
    assert answers[-1].answer_s <= 240


def test_who_knows_nothing_is_done_after_two(path: MethodPath) -> None:
    ask = placement(path)
    answers = play(ask, lambda place: False)
    assert len(answers) == 2
    assert ask.result(answers) is path.rows[0]


def test_who_knows_the_first_rows_stands_at_the_next(path: MethodPath) -> None:
    ask = placement(path)
    answers = play(ask, lambda place: place.fret <= 5)
    assert ask.result(answers).name == "row-7"
    assert not ask.ran_out


def test_a_slow_player_is_placed_when_the_time_is_over(path: MethodPath) -> None:
    ask = placement(path, most_s=20.0)
    answers = play(ask, lambda place: True)
    assert ask.ran_out
    assert len(answers) == 10
    assert ask.result(answers).name == "row-5"  # the open position was passed, of row 5 four were asked


@pytest.mark.parametrize("seed", range(8))
def test_a_sample_is_spread_and_the_same_for_its_seed(path: MethodPath, seed: int) -> None:
    for stage in path.rows:
        places = sample_of(stage, NECK, seed)
        assert places == sample_of(stage, NECK, seed)
        assert len(places) == len(set(places)) == PLACES_A_STAGE
        assert {place.string for place in places} == set(range(1, 7))
        assert set(places) <= set(stage.places(6, 12))
        if len({place.fret for place in stage.places(6, 12)}) > 1:
            assert len({place.fret for place in places}) > 1
    first = [sample_of(path.rows[0], NECK, seed) for seed in range(8)]
    assert len(set(first)) > 1


@pytest.mark.parametrize("midis", [(43, 38, 33, 28), (64, 59, 55, 50, 45, 40, 35), (64,)])
def test_other_necks_have_their_samples(path: MethodPath, midis: tuple[int, ...]) -> None:
    """Bass, seven strings, one string (tunings as music21 and luthiers have them; the last one [ours])."""
    neck = Neck(Tuning("x", "X", midis))
    ask = placement(path, neck)
    answers = play(ask, lambda place: True)
    assert ask.result(answers) is path.rows[-1]
