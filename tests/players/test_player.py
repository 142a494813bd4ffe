"""Simulated people play as their skill says: how often right, how fast, and wrong in the way they should."""

import math
import statistics
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.neck import Accidentals, Neck, Tuning, spell
from midifret.play import judge_name, judge_note
from midifret.players import NAMED_SKILLS, Player, Pluck, Skill, TypedName, named_skill
from midifret.terms import BadInput, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict

ERRORS = [Verdict.ELSEWHERE, Verdict.OCTAVE, Verdict.FRET_OFF, Verdict.STRING_OFF, Verdict.WRONG]
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


def prompt_for(neck: Neck, place: Place, n: int = 1, judged: Judged = Judged.PLACE) -> Prompt:
    midi = neck.midi(place)
    return Prompt(n, (CueKind.NAME,), judged, (place,), (midi,), spell(midi)[0])


def verdict_of(neck: Neck, prompt: Prompt, place: Place) -> Verdict:
    """What the program's own judge says of a note at that place."""
    note = Note(1, 0.0, place.string, place.fret, neck.midi(place), 90, place.string - 1)
    return judge_note(prompt, note)


places = st.builds(Place, st.integers(1, 6), st.integers(0, 19))


@given(places, st.integers(0, 999))
def test_a_perfect_player_is_right_at_once(place: Place, seed: int) -> None:
    (pluck,) = Player(named_skill("perfect", seed), NECK).answer(prompt_for(NECK, place))
    assert isinstance(pluck, Pluck)
    assert pluck.place == place
    assert pluck.after_cue_s > 0


@given(places, st.sampled_from(ERRORS), st.integers(0, 999))
def test_a_wrong_answer_is_of_the_kind_asked_for_then_comes_the_right_one(
    place: Place, kind: Verdict, seed: int
) -> None:
    prompt = prompt_for(NECK, place)
    possible = {verdict_of(NECK, prompt, other) for other in NECK.all_places()}
    skill = Skill(accuracy=0.0, errors=((kind, 1.0),), seed=seed)
    wrong, right = Player(skill, NECK).answer(prompt)
    assert isinstance(wrong, Pluck)
    assert isinstance(right, Pluck)
    verdict = verdict_of(NECK, prompt, wrong.place)
    assert verdict is not Verdict.RIGHT
    if kind in possible:
        assert verdict is kind
    assert right.place == place
    assert right.after_cue_s > wrong.after_cue_s


def test_accuracy_speed_and_spread_are_those_of_the_skill() -> None:
    skill = Skill(accuracy=0.7, median_response_s=1.2, spread=0.3, velocities=(50, 60), seed=11)
    player = Player(skill, NECK)
    prompt = prompt_for(NECK, Place(3, 4))
    answers = [player.answer(prompt) for _ in range(4000)]
    firsts = [answer[0] for answer in answers]
    right = sum(isinstance(first, Pluck) and first.place == Place(3, 4) for first in firsts)
    # Four standard errors: of a share, sqrt(0.7 * 0.3 / 4000) = 0.007; of the logarithm of a median,
    # 1.25 * 0.3 / sqrt(4000) = 0.006; of a standard deviation, 0.3 / sqrt(8000) = 0.0034.
    assert right / 4000 == pytest.approx(0.7, abs=0.03)
    times_s = [first.after_cue_s for first in firsts]
    assert statistics.median(times_s) == pytest.approx(1.2, rel=0.024)
    assert statistics.stdev(map(math.log, times_s)) == pytest.approx(0.3, abs=0.014)
    velocities = {action.velocity for answer in answers for action in answer if isinstance(action, Pluck)}
    assert velocities == set(range(50, 61))


def test_the_errors_are_mixed_by_their_weights() -> None:
    skill = Skill(accuracy=0.0, errors=((Verdict.FRET_OFF, 3.0), (Verdict.STRING_OFF, 1.0)), seed=5)
    player = Player(skill, NECK)
    prompt = prompt_for(NECK, Place(3, 6))
    verdicts = []
    for _ in range(2000):
        first = player.answer(prompt)[0]
        assert isinstance(first, Pluck)
        verdicts.append(verdict_of(NECK, prompt, first.place))
    assert set(verdicts) == {Verdict.FRET_OFF, Verdict.STRING_OFF}
    # Four standard errors of a share of 0.75 in 2,000: 0.039.
    assert verdicts.count(Verdict.FRET_OFF) / 2000 == pytest.approx(0.75, abs=0.039)


def test_the_same_seed_plays_the_same_and_another_does_not() -> None:
    prompts = [prompt_for(NECK, place, n) for n, place in enumerate(NECK.all_places(), start=1)]

    def play(seed: int) -> list[object]:
        player = Player(named_skill("lost", seed), NECK, time_limit_s=4.0)
        return [player.answer(prompt) for prompt in prompts]

    assert play(3) == play(3)
    assert play(3) != play(4)


def test_without_a_time_limit_nothing_is_missed() -> None:
    prompt = prompt_for(NECK, Place(5, 5))
    skill = Skill(accuracy=0.0, errors=((Verdict.MISSED, 1.0),))
    assert Player(skill, NECK, time_limit_s=3.0).answer(prompt) == ()
    wrong, right = Player(skill, NECK).answer(prompt)
    assert isinstance(wrong, Pluck)
    assert isinstance(right, Pluck)
    assert wrong.place != right.place == Place(5, 5)


def test_a_note_to_be_held_is_plucked_first_and_sounds_at_the_answer() -> None:
    held = Place(3, 9)
    prompt = replace(prompt_for(NECK, Place(2, 5)), held=held)
    for seed in range(50):
        first, *answers = Player(named_skill("lost", seed), NECK).answer(prompt)
        assert isinstance(first, Pluck)
        assert first.place == held
        assert answers
        for pluck in answers:
            assert isinstance(pluck, Pluck)
            assert pluck.place.string != held.string
            assert first.after_cue_s < pluck.after_cue_s < first.after_cue_s + first.hold_s


def test_each_place_of_a_group_is_played_once() -> None:
    everywhere = NECK.places(64)  # five places, as in the note table of the NECK with 19 frets
    assert len(everywhere) == 5
    prompts = [
        Prompt(
            n,
            (CueKind.NAME,),
            Judged.PLACE,
            everywhere,
            (64,) * 5,
            SpelledPitch("E", 0, 4),
            each_once=1,
        )
        for n in range(1, 7)
    ]
    player = Player(named_skill("perfect"), NECK)
    played = []
    for prompt in prompts[:5]:
        (pluck,) = player.answer(prompt)
        assert isinstance(pluck, Pluck)
        played.append(pluck.place)
    assert sorted(played) == sorted(everywhere)
    assert player.answer(prompts[5]) == ()


@given(places, st.integers(0, 99), st.booleans())
def test_names_are_typed_wrong_first_if_at_all(place: Place, seed: int, flat: bool) -> None:
    naturals = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}  # semitones above C
    prompt = prompt_for(NECK, place, judged=Judged.NAME)
    if flat:
        prompt = replace(prompt, pitch=spell(prompt.midi, Accidentals.FLATS)[0])
    for accuracy, verdicts in ((1.0, [True]), (0.0, [False, True])):
        typed = Player(Skill(accuracy=accuracy, seed=seed), NECK).answer(prompt)
        heard = []
        for action in typed:
            assert isinstance(action, TypedName)
            signs = action.text[1:]
            pitch_class = (naturals[action.text[0]] + signs.count("#") - signs.count("b")) % 12
            heard.append(judge_name(prompt, pitch_class) is Verdict.RIGHT)
        assert heard == verdicts


def test_a_prompt_that_the_neck_cannot_answer_is_left() -> None:
    prompt = Prompt(1, (), Judged.PLACE, (Place(1, 24),), (88,), SpelledPitch("E", 0, 6))
    assert Player(named_skill("perfect"), NECK).answer(prompt) == ()


def test_where_every_place_answers_no_error_is_made_up() -> None:
    everything = tuple(NECK.all_places())
    midis = tuple(map(NECK.midi, everything))
    prompt = Prompt(1, (), Judged.PLACE, everything, midis, SpelledPitch("E", 0, 4))
    assert len(Player(Skill(accuracy=0.0), NECK).answer(prompt)) == 1


@pytest.mark.parametrize("name", NAMED_SKILLS)
def test_every_named_player_plays(name: str) -> None:
    assert Player(named_skill(name), NECK).answer(prompt_for(NECK, Place(4, 7)))


def test_an_unknown_player_lists_the_known() -> None:
    with pytest.raises(BadInput, match=r"'virtuoso'.*perfect.*lost"):
        named_skill("virtuoso")


@pytest.mark.parametrize(
    "values",
    [
        {"accuracy": 1.1},
        {"median_response_s": 0.0},
        {"spread": -1.0},
        {"velocities": (0, 5)},
        {"velocities": (9, 5)},
        {"errors": ((Verdict.RIGHT, 1.0),)},
        {"errors": ((Verdict.WRONG, -1.0),)},
    ],
)
def test_a_skill_out_of_range_is_refused(values: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"not|error"):
        Skill(**values)  # type: ignore[arg-type]
