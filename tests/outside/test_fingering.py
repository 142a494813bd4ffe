"""Fingering of melodies against the shortest path of networkx, over a cost that is written anew here."""

import random
from dataclasses import replace

import pytest

from midifret.fingering import Choices, Weights, finger
from midifret.fingering.weights import WEIGHT_NAMES
from midifret.neck import Neck
from tests.fingering.scores import GUITAR, melody

networkx = pytest.importorskip("networkx")
tunings = pytest.importorskip("mingus.extra.tunings")

BPM = 100.0
PATHS = 40
NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def fret_mm(fret: int) -> float:
    # Twelve-tone equal temperament on a string of 650 mm (facts: frets 1-4 span 97.6 mm, 9-12 span 61.5 mm).
    return 650 * (1 - 2 ** (-fret / 12))


def mm(one: int, other: int) -> float:
    return abs(fret_mm(one) - fret_mm(other)) / 30


def test_lengths_are_those_of_a_650_mm_string() -> None:
    # facts.md, "fret distance from nut" [calc]: what is the reference here agrees with it.
    assert fret_mm(4) - fret_mm(0) - fret_mm(1) + fret_mm(0) == pytest.approx(97.6, abs=0.05)
    assert fret_mm(12) - fret_mm(9) == pytest.approx(61.5, abs=0.05)


Node = tuple[int, int, int, int]  # string, fret, finger, position


def nodes(neck: Neck, midi: int) -> list[Node]:
    found: list[Node] = []
    strings = list(neck.tuning.open_midi)
    for number, opened in enumerate(strings, start=1):
        fret = midi - opened
        if fret == 0:
            found += [(number, 0, 0, position) for position in range(1, neck.frets + 1)]
        elif 0 < fret <= neck.frets:
            for finger in (1, 2, 3, 4):
                for position in range(1, neck.frets + 1):
                    # The first finger tells the position, or reaches back from it.
                    least = 0 if finger == 1 else -1
                    if least <= position + finger - 1 - fret <= 1:
                        found.append((number, fret, finger, position))
    return found


def stand(w: Weights, node: Node) -> float:
    string, fret, finger, position = node
    if not finger:
        return w.open + w.open_high * (position - 1)
    cost = w.fretted + (w.first, w.second, w.third, w.fourth)[finger - 1]
    cost += w.height * fret_mm(fret) / 100 + w.body * max(0, fret - 12) + w.thick * fret * (string - 1)
    own = position + finger - 1
    cost += w.third_high * max(0, 3 - string) * (finger == 3)
    cost += w.fourth_low * max(0, string - 2) * (finger == 4)
    if fret < own:
        cost += (w.reach_back if finger == 1 else w.squeeze) * mm(own, fret)
    if fret > own:
        cost += (w.stretch, w.stretch, w.stretch_fourth)[finger - 2] * mm(own, fret)
    return cost


def step(w: Weights, one: Node, other: Node, factor: float) -> float:
    cost = 0.0
    both = one[2] and other[2]
    if other[2]:
        stays = one[:3] == other[:3]
        slides = one[2] == other[2] and one[0] == other[0]
        if not stays and not slides:
            cost += w.press
        if one[2] == other[2] and not stays:
            if one[1] == other[1]:
                cost += w.roll + w.across * abs(one[0] - other[0])
            elif one[0] == other[0]:
                cost += w.slide
            else:
                cost += w.jump + w.across * abs(one[0] - other[0])
    if both and one[:2] == other[:2] and one[2] != other[2]:
        cost += w.swap
    if one[3] != other[3]:
        shift = w.shift_begun + w.shift * mm(one[3], other[3])
        if not one[2]:
            shift *= w.free_hand
        elif both and not (one[2] == other[2] and one[0] == other[0]):
            shift += w.unguided
        cost += shift
    return cost * factor


def shortest(w: Weights, neck: Neck, midis: list[int], quarters: float) -> float:
    time_s = quarters * 60 / BPM
    factor = min(2.0, max(0.4, (0.4 / time_s) ** w.hurry))
    graph = networkx.DiGraph()
    layers = [nodes(neck, midi) for midi in midis]
    for node in layers[0]:
        graph.add_edge("start", (0, node), weight=stand(w, node) + first_press(w, node))
    for number in range(1, len(layers)):
        for one in layers[number - 1]:
            for other in layers[number]:
                weight = step(w, one, other, factor) + stand(w, other)
                graph.add_edge((number - 1, one), (number, other), weight=weight)
    for node in layers[-1]:
        graph.add_edge((len(layers) - 1, node), "end", weight=0.0)
    return float(networkx.shortest_path_length(graph, "start", "end", weight="weight"))


def first_press(w: Weights, node: Node) -> float:
    # Before the first note there is all the time in the world, 4 s as the engine counts it.
    return w.press * min(2.0, max(0.4, (0.4 / 4.0) ** w.hurry)) if node[2] else 0.0


@pytest.mark.parametrize("seed", range(PATHS))
def test_the_cost_of_a_melody_is_that_of_the_shortest_path(seed: int) -> None:
    # In a tune that goes in steps of at most two semitones nothing rings on, so that a node is one note.
    chance = random.Random(seed)
    midis = [chance.randint(42, 78)]
    while len(midis) < 14:
        midis.append(min(80, max(41, midis[-1] + chance.choice((-2, -1, 1, 2)))))
    weights = Weights(**{name: round(chance.uniform(0, 2), 3) for name in WEIGHT_NAMES})
    weights = replace(weights, free_hand=min(1.0, weights.free_hand))
    quarters = chance.choice((0.25, 0.5, 1.0, 2.0))
    found = finger(melody(*midis, quarters=quarters), GUITAR, Choices(quarter_bpm=BPM), weights)
    assert found.cost == pytest.approx(shortest(weights, GUITAR, midis, quarters), rel=1e-9)


@pytest.mark.parametrize("midi", range(40, 84))
def test_a_note_lies_where_mingus_has_it(midi: int) -> None:
    # mingus counts strings from the low one and MIDI 12 below (facts.md, "places of a pitch").
    tuning = tunings.get_tuning("Guitar", "standard")
    theirs = {
        (6 - string, fret)
        for string, fret in enumerate(tuning.find_frets(_name(midi), 19))
        if fret is not None
    }
    found = finger(melody(midi), GUITAR).notes[0]
    assert found.place is not None
    assert (found.place.string, found.place.fret) in theirs


def _name(midi: int) -> str:
    return f"{NAMES[midi % 12]}-{midi // 12 - 1}"
