"""What a player is asked at calibration, and the readings that come of it."""

import random
from collections.abc import Iterable, Sequence

from midifret.neck import Accidentals, Neck, spell
from midifret.terms import Answer, BadInput, CueKind, Exercise, Judged, Place, Prompt, Tempo
from midifret.terms.calibration import CalibrationPart, Reading

# Three minutes, all in all: so many plucks of each part as its rules ask for (timing), and hands.
REACTIONS = 24
CLICK_PLUCKS = 96
HANDS_PLUCKS = 30
# A cue must not be foreseen. Waiting times drawn from an exponential distribution make it as likely to come
# in each moment as in the one before (non-aging fore-periods; Luce 1986, from memory). The least lets a
# string that was just plucked be damped, the most keeps one from falling asleep [ours].
LEAST_WAIT_S, MEAN_WAIT_S, MOST_WAIT_S = 1.0, 1.9, 4.5
# A beat is long enough for the eye to find the next string, and far from 2 s, beyond which a click is reacted
# to (Repp & Doggett 2007) [ours].
CLICK_BPM = 80.0
# With the click notes count wherever they lie between two beats: who is meant to be late is found out here.
_CLICK_TEMPO = Tempo(CLICK_BPM, within_ms=375.0, share=0.5)
HIGH_FRET = 12  # the hand stays there; no way to go, and the shortest periods of most guitars
_BLOCK_LOW, _BLOCK_OTHER = 3, 2  # of each block of eight plucks: three low, three high, two others

NAME = "calibrate-"  # and the part
_TITLES = {
    CalibrationPart.REACTION: "Calibration: reaction",
    CalibrationPart.CLICK: "Calibration: with the click",
    CalibrationPart.HANDS: "Calibration: hands",
}
_TRAINS = {
    CalibrationPart.REACTION: "Pluck the open string that is shown, the moment it is shown.",
    CalibrationPart.CLICK: "Pluck the place that is shown, exactly on the next click.",
    CalibrationPart.HANDS: "Play the place that is shown, as fast as your hands find it.",
}


def calibration_exercise(
    part: CalibrationPart, neck: Neck, *, seed: int = 0, count: int | None = None
) -> Exercise:
    """Return what is asked for a part; everything drawn by lot comes from the seed.

    count: how many plucks, for whoever is asked for more; else as many as the part takes. Raises BadInput for
    less than 1, and for a neck on which the part cannot be played.
    """
    usual = {
        CalibrationPart.REACTION: REACTIONS,
        CalibrationPart.CLICK: CLICK_PLUCKS,
        CalibrationPart.HANDS: HANDS_PLUCKS,
    }[part]
    asked = usual if count is None else count
    if not 1 <= asked <= 1000:
        raise BadInput(f"{asked} plucks cannot be asked", allowed="1 to 1000")
    draw = random.Random(seed)
    match part:
        case CalibrationPart.REACTION:
            places, waits_s = _open_strings(neck, asked, draw), [_wait_s(draw) for _ in range(asked)]
        case CalibrationPart.CLICK:
            places, waits_s = _low_and_high(neck, asked, draw), [0.0] * asked
        case CalibrationPart.HANDS:
            places, waits_s = _all_over(neck, asked, draw), [0.0] * asked
    prompts = tuple(
        _prompt(n, place, neck, wait_s)
        for n, (place, wait_s) in enumerate(zip(places, waits_s, strict=True), start=1)
    )
    return Exercise(
        name=f"{NAME}{part}",
        title=_TITLES[part],
        stage="Calibration",
        trains=_TRAINS[part],
        minutes=(1, 2),
        judged=Judged.PLACE,
        prompts=prompts,
        seed=seed,
        tempo=_CLICK_TEMPO if part is CalibrationPart.CLICK else None,
        shuffled=True,
        section=None if count is None else (0, count),
    )


def named_part(name: str) -> CalibrationPart | None:
    """Return the part that an exercise of this name measures; None for any other name."""
    return next((part for part in CalibrationPart if name == f"{NAME}{part}"), None)


def readings_of(answers: Iterable[Answer]) -> tuple[Reading, ...]:
    """Return what was measured: each first answer that was played, right or wrong.

    In tempo its lateness, else its response. Answers whose prompt was void have none. On a guitar that tells
    no strings the likeliest place stands for the one played: the pitch, which latency follows, is heard.
    """
    readings = []
    for answer in answers:
        played = answer.played
        if played is None or played.place is None:
            continue
        late_s = None if answer.late_ms is None else answer.late_ms / 1000
        time_s = answer.response_s if answer.due_s is None else late_s
        if time_s is not None:
            readings.append(Reading(time_s, played.midi, played.place, answer.right))
    return tuple(readings)


def _prompt(n: int, place: Place, neck: Neck, wait_s: float) -> Prompt:
    midi = neck.midi(place)
    pitch = spell(midi, Accidentals.SHARPS)[0]
    return Prompt(n, (CueKind.PLACE,), Judged.PLACE, (place,), (midi,), pitch, wait_s=wait_s)


def _wait_s(draw: random.Random) -> float:
    return min(LEAST_WAIT_S + draw.expovariate(1 / (MEAN_WAIT_S - LEAST_WAIT_S)), MOST_WAIT_S)


def _strings(neck: Neck) -> list[int]:
    return sorted({place.string for place in neck.all_places()})


def _shuffled(pool: Sequence[Place], count: int, draw: random.Random) -> list[Place]:
    """So many of a pool, each as often as the others, none twice in a row where that can be."""
    found: list[Place] = []
    while len(found) < count:
        block = draw.sample(pool, len(pool))
        if len(block) > 1 and found and block[0] == found[-1]:
            block.append(block.pop(0))
        found += block
    return found[:count]


def _open_strings(neck: Neck, count: int, draw: random.Random) -> list[Place]:
    return _shuffled([Place(string, 0) for string in _strings(neck)], count, draw)


def _low_and_high(neck: Neck, count: int, draw: random.Random) -> list[Place]:
    """Low and high places in an order that cannot be guessed, and some others between them."""
    strings = _strings(neck)
    open_places = sorted((Place(string, 0) for string in strings), key=neck.midi)
    fret = min(HIGH_FRET, max(place.fret for place in neck.all_places()))
    stopped = sorted(
        (Place(string, fret) for string in strings if neck.has(Place(string, fret))), key=neck.midi
    )
    if not stopped or neck.midi(stopped[-1]) <= neck.midi(open_places[0]):
        raise BadInput(
            "this neck has no low and high notes to measure latency by", allowed="two pitches or more"
        )
    low, high = open_places[0], stopped[-1]
    others = [*open_places[1:3], *stopped[-3:-1]] or [low, high]
    places: list[Place] = []
    while len(places) < count:
        block = [low] * _BLOCK_LOW + [high] * _BLOCK_LOW + draw.sample(others, min(_BLOCK_OTHER, len(others)))
        draw.shuffle(block)
        places += block
    return places[:count]


def _all_over(neck: Neck, count: int, draw: random.Random) -> list[Place]:
    places = [place for place in neck.all_places() if 1 <= place.fret <= HIGH_FRET]
    if not places:
        raise BadInput("this neck has no frets to move the hand to", allowed="a neck with frets")
    return _shuffled(places, count, draw)
