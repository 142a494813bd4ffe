"""What holds for any kind of question: on the neck, to be known by its cue, in the order asked for."""

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.drills import Drill, build
from midifret.drills.models import DrillFile
from midifret.files import check_model, parse_document
from midifret.neck import Neck, Tuning, in_reach
from midifret.terms import BadInput, CueKind, Exercise, Judged, Place

HEAD = "title: T\nstage: S\ntrains: Trains. Spend 3 minutes.\n"
STANDARD = (64, 59, 55, 50, 45, 40)
TUNINGS = (STANDARD, (*STANDARD, 35), (*STANDARD, 38, 35), (64, 59, 54, 50, 45, 40))  # config/tunings.yaml
SETS = ("naturals", "accidentals", "all", "Eb major", "F# harmonic minor")

Make = Callable[..., Exercise]


def drill_of(text: str) -> Drill:
    document = parse_document((HEAD + text).encode(), "t.yaml")
    content, problems = check_model(document, DrillFile)
    assert content is not None, problems
    return Drill("t", content, document)


@st.composite
def necks(draw: st.DrawFn) -> Neck:
    return Neck(
        Tuning("t", "T", draw(st.sampled_from(TUNINGS))), draw(st.integers(16, 24)), draw(st.integers(0, 3))
    )


@st.composite
def questions(draw: st.DrawFn) -> str:
    """A drill of any kind of question whose region every neck here has."""
    low = draw(st.integers(0, 8))
    region = f"frets: {low}-{low + draw(st.integers(1, 4))}, notes: {draw(st.sampled_from(SETS))}"
    kind = draw(
        st.sampled_from(
            (
                f"region: {{{region}}}",
                f"draw: {{{region}, count: 12}}",
                f"same_pitch: {{{region}}}",
                f"octaves: {{{region}}}",
                f"taken_string: {{{region}}}",
                f"string: {{number: {draw(st.integers(1, 6))}, frets: 0-{low + 1}}}",
                f"row: {{fret: {low}}}",
                f"row: {{fret: {low}, leap: {draw(st.integers(1, 5))}}}",
                f"beside_row: {{row: {low}, side: above}}",
                f"places_of: {{note: {draw(st.sampled_from(('C', 'F#', 'Bb', 'E4')))}}}",
                "walk: {from: E3, to: G4, through: chromatic}",
            )
        )
    )
    order = draw(st.sampled_from(("as written", "shuffled")))
    rate = draw(st.sampled_from((0, 0.25, 1)))
    return f"ask: {{{kind}}}\norder: {order}\nnaming_rate: {rate}\n"


@given(questions(), necks(), st.integers(0, 99))
def test_every_question_lies_on_the_neck_and_sounds_as_it_is_spelled(
    text: str, neck: Neck, seed: int
) -> None:
    drill = drill_of(text)
    try:
        exercise = build(drill, neck, seed=seed)
    except BadInput as error:
        refused = error
    else:
        refused = None
        assert exercise.prompts
        assert exercise == build(drill, neck, seed=seed)
        assert [prompt.n for prompt in exercise.prompts] == list(range(1, len(exercise.prompts) + 1))
        for prompt in exercise.prompts:
            assert len(set(prompt.places)) == len(prompt.places) == len(prompt.midis)
            assert all(neck.has(place) for place in prompt.places)
            assert prompt.midis == tuple(neck.midi(place) for place in prompt.places)
            assert prompt.midi == prompt.pitch.midi
            if prompt.given is not None and prompt.judged is not Judged.NAME:
                assert prompt.given not in prompt.places
            if prompt.held is not None:
                assert prompt.held.string not in {place.string for place in prompt.places}
        for one, other in pairwise(exercise.prompts):
            assert other.interval_semitones == other.midi - one.midi
    if refused is not None:
        assert all(problem.line and problem.column for problem in refused.problems)
        assert "is found here" in str(refused) or "lies here" in str(refused) or "no note" in str(refused)


@given(st.integers(0, 500), st.sampled_from(("region", "same_pitch", "taken_string", "octaves")))
def test_shuffled_questions_never_come_twice_in_a_row(seed: int, kind: str) -> None:
    neck = Neck(Tuning("t", "T", STANDARD))
    text = f"ask: {{{kind}: {{frets: 0-4, notes: naturals}}}}\norder: shuffled\ncount: 60\n"
    exercise = build(drill_of(text), neck, seed=seed)
    size = 2 if kind in ("taken_string", "octaves") else 1  # a pair is one question
    firsts = [
        tuple(p.places[0] for p in exercise.prompts[i : i + size])
        for i in range(0, len(exercise.prompts), size)
    ]
    assert len(firsts) == 60
    assert all(a != b for a, b in pairwise(firsts))


def test_draws_do_not_repeat_where_two_rounds_or_two_items_meet(make: Make) -> None:
    for seed in range(40):
        text = (
            "ask:\n  - draw: {strings: 1, frets: 0-1, count: 3}\n  - draw: {strings: 1, frets: 0-1, count: 3}"
        )
        prompts = make(f"{text}\nrepeat: 3\n", seed=seed).prompts
        assert len(prompts) == 18
        assert all(a.places != b.places for a, b in pairwise(prompts))


def test_a_further_round_of_draws_is_drawn_anew(make: Make) -> None:
    prompts = make("ask: {draw: {frets: 0-12, count: 12}}\nrepeat: 2\n").prompts
    assert [p.places[0] for p in prompts[:12]] != [p.places[0] for p in prompts[12:]]


def test_a_second_silent_walk_says_where_it_begins(make: Make) -> None:
    prompts = make(
        "ask:\n  - row: {fret: 5, leap: 1}\n  - row: {fret: 7, leap: 1}\nshow: nothing\nrepeat: 2\n"
    ).prompts
    told = {p.n: p.places[0] for p in prompts if p.cue}
    # The very first is told by the screen, before anything is played.
    assert told == {12: Place(6, 7), 23: Place(6, 5), 34: Place(6, 7)}
    assert all(p.cue == (CueKind.NAME, CueKind.PLACE) and p.hint for p in prompts if p.cue)
    assert not any(p.hint for p in prompts if not p.cue)


def test_the_first_of_a_walk_by_intervals_is_shown_as_a_place(make: Make) -> None:
    for judged in ("place", "pitch"):
        prompts = make(f"ask: {{notes: [E4, G4, E4]}}\nshow: interval\njudge: {judged}\n").prompts
        assert prompts[0].cue == (CueKind.NAME, CueKind.PLACE)
        assert [p.cue for p in prompts[1:]] == [(CueKind.INTERVAL,)] * 2
        assert [p.interval_semitones for p in prompts] == [None, 3, -3]  # E-G is a minor third
    first = make("ask: {notes: [E4, G4]}\nshow: [staff, interval]\n").prompts[0]
    assert first.cue == (CueKind.STAFF,)


@pytest.mark.parametrize(
    ("written", "hint"),
    [("0", "open position"), ("5", "position V"), ("ix", "position IX"), ("XII", "position XII")],
)
def test_judged_by_position_the_position_is_told_and_its_reach_answers(
    make: Make, neck: Neck, written: str, hint: str
) -> None:
    position = {"0": 0, "5": 5, "ix": 9, "XII": 12}[written]
    note = "E4" if position < 12 else "E5"
    [prompt] = make(f"ask: {{notes: [{note}]}}\nshow: staff\njudge: position {written}\n").prompts
    assert prompt.hint == hint
    assert prompt.places == tuple(r.place for r in in_reach(neck, position, prompt.midi))


def test_a_name_judged_by_pitch_is_answered_in_every_octave_and_a_staff_note_in_one(make: Make) -> None:
    [named] = make("ask: {notes: [E4]}\nshow: name\njudge: pitch\n").prompts
    [read] = make("ask: {notes: [E4]}\nshow: staff\njudge: pitch\n").prompts
    # facts.md: E4 = 64 has five places on 19 frets; there are E2 = 40, E3 = 52, E5 = 76 besides.
    assert set(read.midis) == {64}
    assert len(read.places) == 5
    assert set(named.midis) == {40, 52, 64, 76}


def test_questions_of_naming_never_ask_what_was_just_told(make: Make) -> None:
    text = "ask: {region: {frets: 0-5, notes: naturals}}\nshow: [name, string]\norder: shuffled\n"
    prompts = make(f"{text}naming_rate: 1\n").prompts
    for at, prompt in enumerate(prompts):
        if prompt.judged is Judged.NAME:
            beside = {p.midi % 12 for p in prompts[at - 1 : at + 2 : 2]}
            assert prompt.midi % 12 not in beside


def test_count_and_repeat(make: Make) -> None:
    row = "ask: {row: {fret: 5}}\norder: shuffled\n"
    assert len(make(f"{row}count: 4\n").prompts) == 4
    assert len(make(f"{row}repeat: 3\n").prompts) == 18
    pairs = make("ask: {taken_string: {frets: 0-4}}\norder: shuffled\ncount: 5\n")
    assert len(pairs.prompts) == 10  # a pair counts as one


def test_joined_drills_keep_their_own_order_and_style(make: Make) -> None:
    exercise = make(
        "ask:\n  - drill: {name: silent, count: 3}\n  - drill: named\norder: shuffled\n",
        silent="ask: {row: {fret: 5, leap: 1}}\nshow: nothing\n",
        named="ask: {places: [1:1, 1:2, 1:3]}\nshow: [name, string]\n",
    )
    assert len(exercise.prompts) == 6
    silent = [p.places[0] for p in exercise.prompts if p.places[0].fret == 5]
    assert silent == [Place(6, 5), Place(5, 5), Place(4, 5)]
    at = [i for i, p in enumerate(exercise.prompts) if p.places[0].fret == 5]
    assert at == list(range(at[0], at[0] + 3))


def test_each_once_groups_begin_anew_in_each_round_and_in_each_item(make: Make) -> None:
    exercise = make("ask:\n  - places_of: {note: A#4}\n  - places_of: {note: Bb4}\nrepeat: 2\n")
    # A#4 = 70 lies at 1:6 2:11 3:15 [calc: 64+6, 59+11, 55+15]; 4:20 is beyond 19 frets.
    assert [p.each_once for p in exercise.prompts] == [n for n in (1, 2, 3, 4) for _ in range(3)]
    assert [str(p.pitch) for p in exercise.prompts[:6]] == ["A#4"] * 3 + ["Bb4"] * 3


def test_a_drill_follows_capo_and_more_strings(make: Make, make_neck: Callable[..., Neck]) -> None:
    capo = make("ask: {row: {fret: 5, leap: 1}}\n", neck=make_neck(capo=2)).prompts
    assert [p.midi for p in capo[:6]] == [45 + 2, 50 + 2, 55 + 2, 60 + 2, 64 + 2, 69 + 2]
    eight = make("ask: {row: {fret: 5, leap: 3}}\n", neck=make_neck(*STANDARD, 38, 35)).prompts
    assert eight[0].places == (Place(8, 5),)
    assert {p.places[0].string for p in eight} == set(range(1, 9))
    with pytest.raises(BadInput, match="no fret 18"):
        make("ask: {row: {fret: 18}}\n", neck=make_neck(capo=2))


def test_drills_joined_again_and_again_end_in_one_clear_fault(make: Make) -> None:
    many = "ask:\n" + "  - drill: {0}\n" * 100
    with pytest.raises(BadInput, match="too many questions") as caught:
        make(
            many.format("b"),
            b=many.format("c"),
            c=many.format("d"),
            d="ask: {row: {fret: 5, leap: 2}}\n",
        )
    assert len(caught.value.problems) <= 3
