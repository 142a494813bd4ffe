"""Every shipped drill, played without a mistake: players -> bytes -> hearing -> run."""

from collections import Counter

import pytest

from midifret.drills import Drill, build
from midifret.drills.library import load_all
from midifret.files import Home
from midifret.gear import load_guitar
from midifret.hear import Decoder
from midifret.play.outputs import Cued, Stray, StrayReason
from midifret.play.run import Phase, Run
from midifret.players import Player, named_skill
from midifret.terms import Exercise, Judged, Prompt, Verdict
from midifret.wire.virtual_guitar import VirtualGuitar

HOME = Home.of("no-such-folder")
GUITAR = load_guitar("default", HOME)
DRILLS, ERRORS = load_all(HOME)
LETTERS = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}  # semitones of the major scale


def played(exercise: Exercise) -> tuple[Run, list[Stray]]:
    """Let a perfect player play an exercise on the virtual guitar."""
    run = Run(exercise)
    player = Player(named_skill("perfect"), GUITAR.neck, time_limit_s=exercise.time_limit_s)
    virtual = VirtualGuitar(GUITAR, player)
    decoder = Decoder(GUITAR.neck, GUITAR.wiring)
    strays: list[Stray] = []

    def follow(outputs: list[object]) -> None:
        for output in outputs:
            if isinstance(output, Cued):
                virtual.cue(output.prompt, output.time_s)
            elif isinstance(output, Stray):
                strays.append(output)

    follow(run.start(0.0))
    while run.phase is not Phase.ENDED:
        now_s = virtual.next_s()
        assert now_s is not None, f"nothing comes for prompt {run.prompt}"
        for time_s, data in virtual.due(now_s):
            for event in decoder.feed(time_s, data):
                follow(run.hear(event))
        for time_s, typed in virtual.typed_due(now_s):
            follow(run.type_name(typed, pitch_class(typed), time_s))
    return run, strays


def pitch_class(typed: str) -> int:
    return (LETTERS[typed[0]] + typed.count("#") - typed[1:].count("b")) % 12


def test_there_are_shipped_drills_without_faults() -> None:
    assert not ERRORS
    assert len(DRILLS) > 100


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_a_perfect_player_gets_every_verdict_right(drill: Drill) -> None:
    exercise = build(drill, GUITAR.neck, seed=1)
    run, strays = played(exercise)
    assert len(run.answers) == len(exercise.prompts)
    assert Counter(answer.verdict for answer in run.answers) == {Verdict.RIGHT: len(exercise.prompts)}
    assert not any(answer.corrections for answer in run.answers)
    held = sum(prompt.held is not None for prompt in exercise.prompts)
    # The held note is plucked again before its second question: allowed, and counted for nothing.
    assert [stray.reason for stray in strays] == [StrayReason.MAY_PLAY] * held
    assert all(answer.held_sounding for answer in run.answers if answer.prompt.held)
    assert all(bool(a.typed) == (a.prompt.judged is Judged.NAME) for a in run.answers)


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_the_suggested_place_is_right_throughout_and_no_place_comes_twice_in_a_group(drill: Drill) -> None:
    groups: dict[int, list[Prompt]] = {}
    for prompt in build(drill, GUITAR.neck, seed=2).prompts:
        assert GUITAR.neck.midi(prompt.places[0]) == prompt.midi == prompt.pitch.midi
        if prompt.each_once is not None:
            groups.setdefault(prompt.each_once, []).append(prompt)
    for prompts in groups.values():
        firsts = [prompt.places[0] for prompt in prompts]
        assert len(set(firsts)) == len(firsts) == len(prompts[0].places)
        assert {frozenset(prompt.places) for prompt in prompts} == {frozenset(firsts)}


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_a_seed_fixes_a_drill(drill: Drill) -> None:
    neck = GUITAR.neck
    one = [build(drill, neck, seed=seed).prompts for seed in range(6)]
    assert one[3] == build(drill, neck, seed=3).prompts
    chance = drill.content.order == "shuffled" or drill.content.naming_rate > 0
    chance = chance or any(item.draw for item in drill.content.ask)
    if chance:
        assert len({str(prompts) for prompts in one}) > 1
