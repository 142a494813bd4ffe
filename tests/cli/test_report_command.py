"""`midifret report`: from a real book in a home of its own to words and to a document."""

import datetime as dt
import json
import statistics
from collections.abc import Callable
from pathlib import Path

import pytest
import tzlocal

from midifret.book.book import Book
from midifret.cli.main import run
from midifret.terms import Answer, CueKind, Glitch, Judged, Note, Place, Prompt, SpelledPitch, Verdict
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
