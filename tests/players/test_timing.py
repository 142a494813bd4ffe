"""Players of known times: each part comes out as it was put in, after a cue and on a click.

Figures of the players are made up for the test [ours]; bounds are four standard errors [calc].
"""

import math
import statistics
from dataclasses import replace

import pytest
from scipy import stats

from midifret.neck import Neck, Tuning, spell
from midifret.players import NAMED_SKILLS, OnClick, Parts, Player, Pluck, Skill, Timing, named_skill
from midifret.tempo import Curve
from midifret.terms import CueKind, Judged, Place, Prompt, Tempo

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
TEMPO = Tempo(60.0)  # one note a second


def prompt_at(
    place: Place, n: int = 1, cue: tuple[CueKind, ...] = (CueKind.NAME,), wait_s: float = 0.0
) -> Prompt:
    midi = NECK.midi(place)
    return Prompt(n, cue, Judged.PLACE, (place,), (midi,), spell(midi)[0], wait_s=wait_s)


def responses(timing: Timing, prompt: Prompt, count: int = 4000) -> list[float]:
    player = Player(Skill(accuracy=1.0, timing=timing, seed=3), NECK)
    found = []
    for _ in range(count):
        (pluck,) = player.answer(prompt)
        assert isinstance(pluck, Pluck)
        assert player.drawn[prompt.n].after_cue_s == pluck.after_cue_s
        found.append(pluck.after_cue_s)
    return found


def offs(habit: OnClick, count: int = 4000) -> list[float]:
    """How far from its beat each note comes."""
    player = Player(Skill(accuracy=1.0, on_click=replace(habit, owned_bpm=1e6, lapse=0)), NECK, tempo=TEMPO)
    found = []
    for n in range(1, count + 1):
        (planned,) = player.on_beat(prompt_at(Place(3, 4), n), float(n))
        found.append(planned.time_s - n)
    return found


def test_a_reaction_is_normal_with_an_exponential_tail() -> None:
    timing = Timing(reaction_s=0.2, reaction_spread_s=0.02, reaction_tail_s=0.04)
    found = responses(timing, prompt_at(Place(1, 0), cue=(CueKind.PLACE,)))
    # Kolmogorov and Smirnov's test against scipy's exponentially modified normal distribution.
    assert stats.kstest(found, stats.exponnorm(0.04 / 0.02, loc=0.2, scale=0.02).cdf).pvalue > 0.01


def test_recall_is_that_of_the_place_and_only_where_it_is_not_shown() -> None:
    timing = Timing(
        reaction_spread_s=0.0,
        reaction_tail_s=0.0,
        recalls=((Place(4, 7), 2.0),),
        recall_spread=0.2,
        travel_s=0.0,
        travel_a_fret_s=0.0,
        travel_spread_s=0.0,
    )
    found = responses(timing, prompt_at(Place(4, 7)))
    logs = [math.log(time_s - timing.reaction_s) for time_s in found]
    assert statistics.fmean(logs) == pytest.approx(math.log(2.0), abs=4 * 0.2 / math.sqrt(4000))
    assert statistics.stdev(logs) == pytest.approx(0.2, abs=4 * 0.2 / math.sqrt(8000))
    other = statistics.median(responses(timing, prompt_at(Place(4, 5)))) - timing.reaction_s
    assert other == pytest.approx(timing.recall_s, rel=4 * 1.25 * 0.2 / math.sqrt(4000))
    shown = responses(timing, prompt_at(Place(4, 7), cue=(CueKind.PLACE,)), 5)
    assert shown == pytest.approx([timing.reaction_s] * 5)


def test_the_hand_travels_by_frets_and_not_to_an_open_string() -> None:
    timing = Timing(
        reaction_spread_s=0.0, reaction_tail_s=0.0, travel_s=0.1, travel_a_fret_s=0.02, travel_spread_s=0.0
    )
    player = Player(Skill(accuracy=1.0, timing=timing), NECK)
    asked = [Place(6, 2), Place(1, 7), Place(2, 0), Place(5, 6), Place(5, 6)]
    travels_s = []
    for n, place in enumerate(asked, start=1):
        player.answer(prompt_at(place, n, (CueKind.PLACE,)))
        travels_s.append(player.drawn[n].travel_s)
    # The first from nowhere, then five frets, an open string, one fret from the seventh, and none.
    assert travels_s == pytest.approx([0.1, 0.2, 0.0, 0.12, 0.1])


def test_lapses_and_anticipations_come_as_often_as_stated() -> None:
    timing = Timing(lapses=0.1, lapse_s=(0.5, 0.6), anticipations=0.2, anticipated_s=0.08)
    found = responses(timing, prompt_at(Place(1, 0), cue=(CueKind.PLACE,), wait_s=2.0))
    early = sum(time_s <= 0.08 for time_s in found) / len(found)
    late = sum(time_s > 0.65 for time_s in found) / len(found)
    assert early == pytest.approx(0.2, abs=4 * math.sqrt(0.2 * 0.8 / 4000))
    assert late == pytest.approx(0.8 * 0.1, abs=4 * math.sqrt(0.08 * 0.92 / 4000))
    # Where the cue is not waited for nothing can be anticipated.
    assert min(responses(timing, prompt_at(Place(1, 0), cue=(CueKind.PLACE,)))) >= 0.1


def test_on_the_click_mean_and_spread_are_those_stated() -> None:
    found = offs(OnClick(early_s=0.03, spread_s=0.012))
    assert statistics.fmean(found) == pytest.approx(-0.03, abs=4 * 0.012 / math.sqrt(4000))
    assert statistics.stdev(found) == pytest.approx(0.012, abs=4 * 0.012 / math.sqrt(8000))
    assert abs(statistics.correlation(found[1:], found[:-1])) < 4 / math.sqrt(4000)


def test_on_the_click_a_note_follows_the_one_before_at_the_same_spread() -> None:
    found = offs(OnClick(spread_s=0.012, follows=0.5))
    assert statistics.correlation(found[1:], found[:-1]) == pytest.approx(0.5, abs=4 / math.sqrt(4000))
    # Half the deviation carried on makes the spread's standard error larger by sqrt((1 + 0.25) / (1 - 0.25)).
    assert statistics.stdev(found) == pytest.approx(0.012, abs=4 * 0.012 / math.sqrt(8000) * 1.29)


def test_on_the_click_a_player_may_drift_and_be_far_off() -> None:
    drifting = offs(OnClick(early_s=0.0, spread_s=0.0, drift_s_a_minute=0.06), 121)
    assert drifting[120] == pytest.approx(0.12, abs=1e-9)  # after two minutes
    found = offs(OnClick(early_s=0.0, spread_s=0.0, lapses=0.1, anticipations=0.05, off_s=(0.1, 0.2)))
    late, early = (sum(sign * off_s >= 0.1 for off_s in found) / len(found) for sign in (1, -1))
    assert late == pytest.approx(0.1, abs=4 * math.sqrt(0.1 * 0.9 / 4000))
    assert early == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / 4000))


@pytest.mark.parametrize(("tempo_bpm", "per_beat"), [(100.0, 1), (125.0, 1), (62.5, 2), (180.0, 1)])
def test_the_share_of_right_notes_is_that_of_the_curve(tempo_bpm: float, per_beat: int) -> None:
    """Owned tempo 100: nine of ten right there, half at 125, whatever the beat's parts."""
    skill = Skill(accuracy=1.0, on_click=OnClick(owned_bpm=100.0, half_at=1.25), seed=8)
    player = Player(skill, NECK, tempo=Tempo(tempo_bpm, notes_a_beat=per_beat))
    right = 0
    for n in range(1, 4001):
        plucks = player.on_beat(prompt_at(Place(3, 4), n), n * 0.5)
        right += [each.pluck.place for each in plucks] == [Place(3, 4)]
    share = {100.0: 0.9, 125.0: 0.5, 62.5: 0.5}.get(tempo_bpm, Curve().share(tempo_bpm, 100.0, 1.25))
    assert right / 4000 == pytest.approx(share, abs=4 * math.sqrt(share * (1 - share) / 4000))


def test_told_again_a_note_is_played_likewise_and_no_lot_is_drawn() -> None:
    once, again = (Player(named_skill("steady", 5), NECK, tempo=TEMPO) for _ in range(2))
    prompts = [prompt_at(place, n) for n, place in enumerate(NECK.all_places(), start=1)]
    for prompt in prompts:
        again.on_beat(prompt, prompt.n + 0.25)
        first, second = once.on_beat(prompt, prompt.n + 0.5), again.on_beat(prompt, prompt.n + 0.5)
        assert [(each.pluck.place, each.pluck.velocity) for each in first] == [
            (each.pluck.place, each.pluck.velocity) for each in second
        ]


@pytest.mark.parametrize("name", NAMED_SKILLS)
def test_every_named_player_plays_in_tempo(name: str) -> None:
    player = Player(named_skill(name), NECK, tempo=TEMPO)
    assert player.in_tempo
    prompts = [prompt_at(place, n) for n, place in enumerate(NECK.all_places(), start=1)]
    plucks = [each for prompt in prompts for each in player.on_beat(prompt, float(prompt.n))]
    assert len(plucks) > len(prompts) / 2  # who is lost misses one wrong answer in ten
    assert all(NECK.has(each.pluck.place) for each in plucks)
    assert player.answer(prompts[0]) == ()  # a cue is only seen


def test_a_note_to_be_held_is_taken_before_the_beat() -> None:
    player = Player(named_skill("perfect"), NECK, tempo=TEMPO)
    taken, answer = player.on_beat(replace(prompt_at(Place(2, 5)), held=Place(3, 9)), 10.0)
    assert taken.pluck.place == Place(3, 9)
    assert taken.time_s < answer.time_s < taken.time_s + taken.pluck.hold_s


def test_without_a_tempo_nobody_plays_on_a_beat() -> None:
    player = Player(named_skill("perfect"), NECK)
    assert not player.in_tempo
    with pytest.raises(ValueError, match="tempo"):
        player.on_beat(prompt_at(Place(2, 5)), 1.0)


def test_parts_add_up() -> None:
    assert Parts(0.2, 0.5, 0.1, 0.3).after_cue_s == pytest.approx(1.1)


@pytest.mark.parametrize(
    "values",
    [
        {"reaction_s": 0.0},
        {"reaction_tail_s": -0.1},
        {"recall_s": 0.0},
        {"recalls": ((Place(1, 1), 0.0),)},
        {"travel_s": -0.1},
        {"lapses": 0.6, "anticipations": 0.5},
        {"lapses": -0.1},
        {"lapse_s": (0.5, 0.4)},
    ],
)
def test_a_timing_out_of_range_is_refused(values: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"0 s|shares|so long"):
        Timing(**values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "values",
    [
        {"spread_s": -0.1},
        {"follows": 1.1},
        {"owned_bpm": 0.0},
        {"half_at": 1.0},
        {"lapse": 0.2},
        {"lapses": 1.1},
        {"off_s": (-0.1, 0.4)},
    ],
)
def test_a_habit_out_of_range_is_refused(values: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"0 s|shares|so long|correlation|times it|lapse rate"):
        OnClick(**values)  # type: ignore[arg-type]
