"""A take says on which view it was played, and is judged by what was calibrated there."""

import datetime as dt
import json
from pathlib import Path

import pytest

from midifret.cli.app import App
from midifret.cli.main import run
from midifret.files import Home
from midifret.terms import Place, TimedMessage
from midifret.terms.calibration import CalibrationPart, Measurement, Reading, ViewKind
from midifret.terms.marks import CuePoint
from midifret.wire.take import Take, write_take

OPEN = dict(zip(range(6, 0, -1), (40, 45, 50, 55, 59, 64), strict=True))  # facts: standard tuning
DRILL = """\
title: One place
stage: mine
trains: Trains little.
minutes: 1
ask:
  - {places: ["5:3"]}
judge: place
"""
RESPONSE_S = 1.0


def measured(view: ViewKind, time_s: float, *, days_ago: int) -> Measurement:
    """Thirty reactions to open strings, of 20 ms of spread."""
    readings = []
    for n in range(30):
        string = 6 - n % 6
        readings.append(Reading(time_s + 0.01 * (n % 5 - 2), OPEN[string], Place(string, 0)))
    when = dt.datetime.now(dt.UTC) - dt.timedelta(days=days_ago)
    return Measurement(CalibrationPart.REACTION, "default", "p", when, tuple(readings), view=view)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """The terminal was calibrated first, at 0.30 s; then the stand, at 0.34 s."""
    (tmp_path / "drills").mkdir()
    (tmp_path / "drills" / "one.yaml").write_text(DRILL, encoding="utf-8")
    with App(Home(tmp_path)).open_book() as book:
        book.ensure_player("me", created_utc=dt.datetime.now(dt.UTC))
        book.put_measurement("me", measured(ViewKind.TERMINAL, 0.30, days_ago=5))
        book.put_measurement("me", measured(ViewKind.STAND, 0.34, days_ago=1))
    return tmp_path


@pytest.mark.parametrize(
    ("view", "recall_s"),
    # A take without a view, as older ones are, is judged by the newest.
    [(ViewKind.TERMINAL, 0.70), (ViewKind.STAND, 0.66), (None, 0.66)],
)
def test_a_take_is_judged_by_the_calibration_of_its_view(
    home: Path, view: ViewKind | None, recall_s: float, capsys: pytest.CaptureFixture[str]
) -> None:
    path = home / "take.mid"
    messages = (
        TimedMessage(1.0 + RESPONSE_S, bytes((0x94, 48, 90))),  # channel 5 as people count: string 5, fret 3
        TimedMessage(1.3 + RESPONSE_S, bytes((0x84, 48, 0))),
    )
    write_take(path, Take(messages, drill="one", guitar="default", cues=(CuePoint(1, 1.0),), view=view))
    run(["--home", str(home), "judge", "one", str(path), "--player", "me", "--json"])
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    assert answer["response_s"] == pytest.approx(RESPONSE_S, abs=0.001)
    assert answer["recall_s"] == pytest.approx(recall_s, abs=0.005)
