"""The key `tempo` of a drill file: what it may say, what holds where it says nothing, and what is refused."""

from dataclasses import replace
from pathlib import Path

import pytest

from midifret.cli.app import App
from midifret.drills.timed import put_in_tempo
from midifret.files import Home
from midifret.neck import Neck
from midifret.terms import BadInput, Exercise, Tempo

DRILL = """\
title: Row 5
stage: My own
trains: Trains it. Spend 3 minutes.
minutes: 3
ask:
  row: {fret: 5, leap: 1}
tempo: TEMPO
"""


def exercise(folder: Path, neck: Neck, tempo: str, *, settings: str = "") -> Exercise:
    path = folder / "mine.yaml"
    path.write_text(DRILL.replace("TEMPO", tempo))
    if settings:
        (folder / "settings.yaml").write_text(settings)
    return App(Home.of(folder)).exercise(str(path), neck, seed=0)


@pytest.mark.parametrize(
    ("tempo", "told"),
    [
        ("fast", "'fast' is no tempo"),
        ("yes", "'yes' is no tempo"),
        ("[72]", "a list is no tempo"),
        ("{bpm: 400, notes_a_beat: 16}", "16 notes a beat at 400 bpm are 9.38 ms apart"),
        ("{bpm: 300, notes_a_beat: 4}", "50 ms apart"),
    ],
)
def test_what_is_no_tempo_is_refused_with_what_is_one(
    tmp_path: Path, neck: Neck, tempo: str, told: str
) -> None:
    with pytest.raises(BadInput) as caught:
        exercise(tmp_path, neck, tempo)
    [problem] = caught.value.problems
    assert told in problem.message
    assert ("beats a minute" in problem.allowed) or ("60 ms or more" in problem.allowed)
    assert problem.line == 7


def test_a_tempo_asked_for_at_the_command_line_is_no_faster_either(tmp_path: Path, neck: Neck) -> None:
    asked = exercise(tmp_path, neck, "{bpm: 100, notes_a_beat: 4}")  # 150 ms
    assert asked.tempo is not None
    put_in_tempo(asked, replace(asked.tempo, tempo_bpm=250.0))  # 60 ms
    with pytest.raises(BadInput, match=r"4 notes a beat at 251 bpm are 59\.8 ms apart"):
        put_in_tempo(asked, replace(asked.tempo, tempo_bpm=251.0))


def test_what_the_drill_does_not_say_is_as_the_settings_say(tmp_path: Path, neck: Neck) -> None:
    settings = "click: {count_in_beats: 8, subdivisions: 2}"
    assert exercise(tmp_path, neck, "72").tempo == Tempo(72.0)
    assert exercise(tmp_path, neck, "72", settings=settings).tempo == Tempo(72.0, count_in=8, parts=2)
    own = exercise(tmp_path, neck, "{bpm: 72, count_in: 3, subdivisions: 1}", settings=settings)
    assert own.tempo == Tempo(72.0, count_in=3, parts=1)
