"""`midifret report`: from a real book in a home of its own to words and to a document."""

import datetime as dt
import json
import random
import statistics
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import tzlocal

from midifret.book.book import Book
from midifret.cli.main import run
from midifret.terms import Answer, CueKind, Glitch, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import CalibrationPart, Caveat, Measurement, Reading, Recall, period_s
from midifret.terms.figures import OwnedTempoKept
from midifret.terms.record import RunEnd, RunStart

D = SpelledPitch("D", 0, 3)
RESPONSES_S = (0.8, 1.0, 1.4, 2.0)


def answer(n: int, response_s: float, verdict: Verdict) -> Answer:
    prompt = Prompt(n, (CueKind.NAME,), Judged.PLACE, (Place(4, 0),), (50,), D)
    fret = 0 if verdict is Verdict.RIGHT else 1
    note = Note(n, n + response_s, 4, fret, 50 + fret, 90, 3)
    return Answer(prompt, verdict, float(n), n + response_s, response_s, played=note)


def play(
    home: Path,
    *,
    player: str = "me",
    days_ago: int = 0,
    verdicts: tuple[Verdict, ...] = (Verdict.RIGHT, Verdict.RIGHT, Verdict.FRET_OFF, Verdict.RIGHT),
    simulated: bool = False,
    notes: int | None = None,
    voided: tuple[tuple[Glitch, int], ...] = (),
) -> None:
    """Put a run of four answers into the book of a home, at noon so that no day border is near."""
    zone = tzlocal.get_localzone_name()
    noon = dt.datetime.now(tzlocal.get_localzone()).replace(hour=12, minute=0) - dt.timedelta(days=days_ago)
    started_utc = noon.astimezone(dt.UTC)
    with Book.open(home / "book.sqlite") as book:
        book.ensure_player(player, created_utc=started_utc, simulated=simulated)
        run_id = book.start_run(
            RunStart(
                player, "open/naturals", "The naturals", 0, "default", started_utc, zone, "a.mid", simulated
            )
        )
        for n, (response_s, verdict) in enumerate(zip(RESPONSES_S, verdicts, strict=True), start=1):
            book.put_answer(run_id, answer(n, response_s, verdict))
        end = RunEnd(False, 120.0, True, notes, voided)
        book.end_run(run_id, end, ended_utc=started_utc + dt.timedelta(minutes=2))


@pytest.fixture
def midifret(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., tuple[int, str, str]]:
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: str) -> tuple[int, str, str]:
        code = run(["--home", str(tmp_path), *arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return call


Call = Callable[..., tuple[int, str, str]]


def test_no_book_yet_says_what_to_do_and_makes_none(midifret: Call, tmp_path: Path) -> None:
    code, out, err = midifret("report")
    assert (code, err) == (0, "")
    assert "nothing in this practice book yet" in out
    assert "midifret drill" in out
    assert not list(tmp_path.iterdir())


def test_no_book_yet_as_a_document(midifret: Call) -> None:
    code, out, _ = midifret("report", "--json")
    assert code == 0
    document = json.loads(out)
    assert (document["player"], document["answers"], document["places"]) == ("me", 0, [])


def test_a_played_drill_is_reported(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path)
    code, out, err = midifret("report")
    assert (code, err) == (0, "")
    assert "me: 4 answers, 75% right at the first try" in out
    assert "The naturals" in out
    assert "one fret off" in out
    assert max(map(len, out.splitlines())) <= 80
    assert "\x1b" not in out


def test_the_document_has_the_figures_of_the_answers(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path)
    code, out, err = midifret("report", "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert (document["answers"], document["right"], document["accuracy"]) == (4, 3, 0.75)
    (place,) = document["places"]
    median_s = statistics.median([0.8, 1.0, 2.0])  # of the right answers
    assert (place["string"], place["fret"], place["answers"], place["right"]) == (4, 0, 4, 3)
    assert place["median_response_s"] == pytest.approx(median_s, rel=0.01)
    (day,) = document["days"]
    assert day["minutes"] == pytest.approx(2.0)
    (only,) = document["runs"]
    assert (only["drill"], only["gate_met"], only["ended_early"]) == ("open/naturals", True, False)
    assert document["by_verdict"]["fret-off"] == 1


def test_days_leave_out_what_is_older(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path, days_ago=0)
    play(tmp_path, days_ago=5)
    assert json.loads(midifret("report", "--json")[1])["answers"] == 8
    assert json.loads(midifret("report", "--json", "--days", "3")[1])["answers"] == 4
    assert json.loads(midifret("report", "--json", "--days", "10")[1])["answers"] == 8


def test_glitches_are_told_of_the_days_asked_for(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path, days_ago=5, notes=40, voided=((Glitch.FALSE_HARMONIC, 30),))
    play(tmp_path, notes=60, voided=((Glitch.LIFT_OFF, 3),))
    code, out, err = midifret("report")
    assert (code, err) == (0, "")
    assert "doing: 33 notes, 33 for every 100" in out
    assert "`midifret setup` measures the guitar anew" in out
    assert max(map(len, out.splitlines())) <= 80
    document = json.loads(midifret("report", "--json")[1])
    assert document["voided"] == {"false harmonic": 30, "lift-off": 3}
    assert (document["notes"], document["voided_per_100_notes"]) == (100, 33.0)
    assert document["answers_by_pitch"] == 0
    assert "midifret setup" not in midifret("report", "--days", "3")[1]
    lately = json.loads(midifret("report", "--json", "--days", "3")[1])
    assert (lately["voided"], lately["notes"]) == ({"lift-off": 3}, 60)


def test_days_without_practice_are_called_so(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path, days_ago=20)
    code, out, _ = midifret("report", "--days", "3")
    assert code == 0
    assert "nothing in this practice book from the last 3 days" in out


def test_players_are_kept_apart_and_simulated_ones_marked(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path, player="Anna")
    play(tmp_path, player="demo", simulated=True)
    assert "Anna: 4 answers" in midifret("report", "--player", "Anna")[1]
    assert "simulated" not in midifret("report", "--player", "Anna")[1]
    assert "demo (simulated player): 4 answers" in midifret("report", "--player", "demo")[1]
    assert "nothing in this practice book yet" in midifret("report")[1]  # of the settings' player


@pytest.mark.parametrize("is_empty", [True, False])
def test_an_unknown_player_is_told(midifret: Call, tmp_path: Path, is_empty: bool) -> None:
    if not is_empty:
        play(tmp_path, player="Anna")
    code, out, err = midifret("report", "--player", "Bert")
    assert code == 2
    assert out == ""
    assert "Bert" in err
    assert "Traceback" not in err


@pytest.mark.parametrize("days", ["0", "-1", "x", "99999999"])
def test_days_that_cannot_be(midifret: Call, days: str) -> None:
    code, _, err = midifret("report", "--days", days)
    assert code == 2
    assert days in err


def test_a_damaged_book_is_told_and_left_alone(midifret: Call, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    book.write_bytes(b"no database " * 100)
    before = book.read_bytes()
    code, out, err = midifret("report")
    assert code == 2
    assert out == ""
    assert "book.sqlite" in err
    assert "Traceback" not in err
    assert book.read_bytes() == before


# Time


def readings(least_s: float) -> tuple[Reading, ...]:
    """Plucks of both ends of the neck, told after two periods, spread by 12 ms."""
    lots = random.Random(5)
    ends = ((Place(6, 0), 40), (Place(6, 3), 43), (Place(1, 12), 76), (Place(1, 15), 79))
    return tuple(
        Reading(least_s + 2 * period_s(midi) + lots.gauss(0, 0.012), midi, place) for place, midi in ends * 24
    )


def calibrate(home: Path, *, days_ago: float = 1.0) -> None:
    """Put all parts of a calibration into the book of a home."""
    measured_utc = dt.datetime.now(dt.UTC) - dt.timedelta(days=days_ago)
    least_s = {CalibrationPart.CLICK: -0.02, CalibrationPart.REACTION: 0.25, CalibrationPart.HANDS: 0.5}
    with Book.open(home / "book.sqlite") as book:
        for part in CalibrationPart:
            made = Measurement(part, "default", "port 1", measured_utc, readings(least_s[part]))
            book.put_measurement("me", made)


def play_timed(home: Path, *recalls: Recall, response_s: float | None = None) -> None:
    """Put a run into the book of a home whose answers have these recall times."""
    zone = tzlocal.get_localzone_name()
    noon = dt.datetime.now(tzlocal.get_localzone()).replace(hour=12, minute=0)
    started_utc = noon.astimezone(dt.UTC)
    with Book.open(home / "book.sqlite") as book:
        book.ensure_player("me", created_utc=started_utc)
        run_id = book.start_run(
            RunStart("me", "open/naturals", "The naturals", 0, "default", started_utc, zone, "a.mid")
        )
        for n, recall in enumerate(recalls, start=1):
            taken_s = recall.time_s + 0.35 if response_s is None else response_s
            book.put_answer(run_id, replace(answer(n, taken_s, Verdict.RIGHT), recall=recall))
        book.end_run(run_id, RunEnd(False, 60.0, None), ended_utc=started_utc)


def recall(time_s: float, *caveats: Caveat) -> Recall:
    return Recall(time_s, 0.01, 0.04, frozenset(caveats))


def test_without_calibration_times_are_called_raw_and_it_is_said_how_to_change_that(
    midifret: Call, tmp_path: Path
) -> None:
    play(tmp_path)
    out = midifret("report")[1]
    assert "Times are raw: `midifret calibrate` takes the guitar's share out (3 minutes)." in out
    assert "in seconds  (raw: as heard)" in out
    document = json.loads(midifret("report", "--json")[1])
    assert document["calibration"] is None
    assert document["spread"]["raw"] is True
    assert document["spread"]["flags"] == {"raw": 3}
    assert document["spread"]["median_s"] == pytest.approx(statistics.median([0.8, 1.0, 2.0]))
    assert document["runs"][0]["recall_flags"] == ["raw"]
    (state,) = document["states"]
    assert (state["string"], state["fret"], state["cue"]) == (4, 0, ["name"])
    assert (state["answers"], state["right"], state["flags"]) == (4, 3, ["raw"])


def test_recall_times_with_all_that_they_leave_out(midifret: Call, tmp_path: Path) -> None:
    times = [recall(0.5 + n / 100, Caveat.WITH_TRAVEL, Caveat.OTHER_PORT) for n in range(10)]
    play_timed(tmp_path, *times)
    calibrate(tmp_path)
    code, out, err = midifret("report")
    assert (code, err) == (0, "")
    assert "Calibrated on default, port 1" in out
    assert "Recall time, in seconds" in out
    assert "with the way of the hand (all); calibrated over another port (all)" in " ".join(out.split())
    assert "automatic 1" in out
    assert max(map(len, out.splitlines())) <= 80
    document = json.loads(midifret("report", "--json")[1])
    (place,) = document["place_times"]
    assert place["flags"] == ["includes travel", "other port"]
    assert place["time_s"]["low"] < 0.545 < place["time_s"]["high"]
    assert document["runs"][0]["median_recall_s"] == pytest.approx(0.545)
    b_periods = document["calibration"]["latency"]["b_periods"]
    assert b_periods["low"] < 2.0 < b_periods["high"]


def test_negative_and_absurd_times_are_kept_and_flagged(midifret: Call, tmp_path: Path) -> None:
    play_timed(tmp_path, recall(-0.3), recall(-0.3))
    play_timed(tmp_path, recall(0.5), response_s=7200.0)
    code, out, err = midifret("report")
    assert (code, err) == (0, "")
    assert "-0.3" in out
    assert "2 below 0 s: more was taken off than there was; they stand as measured." in out
    flagged = "2 came sooner than anyone reacts (under 0.1 s) and 1 took longer than 10 minutes"
    assert flagged in " ".join(out.split())
    document = json.loads(midifret("report", "--json")[1])
    assert document["spread"]["negative"] == 2
    assert (document["odd_times"]["too_soon"], document["odd_times"]["too_late"]) == (2, 1)
    assert document["spread"]["bins"][0]["count"] == 2


@pytest.mark.parametrize(
    ("days_ago", "told", "future"),
    [(200, "It is too old to be sure of", False), (-200, "after today: one of two clocks is wrong", True)],
)
def test_old_calibrations_and_those_from_the_future(
    midifret: Call, tmp_path: Path, days_ago: int, told: str, future: bool
) -> None:
    play(tmp_path)
    calibrate(tmp_path, days_ago=days_ago)
    out = midifret("report")[1]
    assert told in " ".join(out.split())
    calibration = json.loads(midifret("report", "--json")[1])["calibration"]
    assert (calibration["stale"], calibration["from_the_future"]) == (True, future)


def test_thresholds_of_ones_own_hold(midifret: Call, tmp_path: Path) -> None:
    play_timed(tmp_path, *[recall(0.5) for _ in range(10)])
    assert json.loads(midifret("report", "--json")[1])["states"][0]["state"] == "automatic"
    (tmp_path / "thresholds.yaml").write_text("states:\n  automatic_s: 0.3\n")
    assert json.loads(midifret("report", "--json")[1])["states"][0]["state"] == "known"
    (tmp_path / "thresholds.yaml").write_text("states:\n  automatic_s: quick\n")
    code, out, err = midifret("report")
    assert (code, out) == (2, "")
    assert "thresholds.yaml" in err
    assert "quick" in err


def test_an_owned_tempo_and_a_run_in_tempo(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path)
    today = dt.datetime.now(tzlocal.get_localzone()).date()
    started_utc = dt.datetime.now(dt.UTC)
    start = RunStart("me", "rows/row-5", "Row 5", 0, "default", started_utc, "UTC", "b.mid", tempo_bpm=92.0)
    with Book.open(tmp_path / "book.sqlite") as book:
        run_id = book.start_run(start)
        for n, late_ms in enumerate((-12.0, -8.0, -10.0, -14.0), start=1):
            given = replace(answer(n, 0.0, Verdict.RIGHT), response_s=None, due_s=2.0 * n, late_ms=late_ms)
            book.put_answer(run_id, given)
        tempo = OwnedTempoKept("rows/row-5", today, "default", 92.0, 88.0, 96.5, 96, 12, "faster", True)
        book.put_owned_tempo("me", tempo)
    out = " ".join(midifret("report")[1].split())
    assert "rows/row-5 92 bpm (88 to 96) 96 notes" in out
    assert "In doubt: it may lie above every tempo that is asked." in out
    assert "Row 5 92 bpm 4/4 11 ms early" in out
    document = json.loads(midifret("report", "--json")[1])
    (owned,) = document["owned_tempos"]
    assert (owned["high_bpm"], owned["doubt"], owned["may_count_for_naming"]) == (96.5, "faster", True)
    assert document["tempo_runs"][0]["mean_ms"]["value"] == -11.0
    assert document["spread"]["count"] == 3  # answers in tempo have no time of their own
