"""What the report says of time: every figure with its interval and flags, within the width, and as JSON."""

import datetime as dt
import json
import re
from dataclasses import replace

import pytest

from midifret.show.report import report_document, report_rows
from midifret.show.rows import as_ascii, plain, width_of
from midifret.show.time_document import time_document
from midifret.show.time_rows import (
    calibration_rows,
    caveat_rows,
    odd_rows,
    owned_rows,
    place_caveat_rows,
    spread_rows,
    state_rows,
    tempo_rows,
    trend_rows,
)
from midifret.show.time_values import (
    CalibrationFigure,
    Measured,
    OddTimes,
    PlaceTime,
    SpreadFigure,
    TempoFigure,
    TimeFigures,
    TrendFigure,
)
from midifret.tempo import Doubt, LateNote, lateness
from midifret.terms import CueKind, Place, Verdict
from midifret.terms.calibration import (
    CalibrationPart,
    Caveat,
    Estimate,
    Lack,
    Latency,
    Missing,
    Reaction,
)
from midifret.terms.figures import LateAnswer, OwnedTempoKept, PlaceFigure, Report, TempoRun
from midifret.timing import (
    AnswerTimes,
    Calibrated,
    PlaceState,
    RecallFigure,
    State,
    Travels,
    Trend,
    spread_of,
)

DAY = dt.date(2026, 11, 25)
MADE = dt.datetime(2026, 11, 12, 18, tzinfo=dt.timezone(dt.timedelta(hours=1)))
TRAVELLED = frozenset({Caveat.WITH_TRAVEL})
RAW = frozenset({Caveat.RAW})


def about(value: float, half: float) -> Estimate:
    return Estimate(value, half / 2, value - half, value + half)


LATENCY = Latency(about(-0.02, 0.004), about(2.1, 0.3), 0.012, 96, 1, 2)
REACTION = Reaction(about(0.26, 0.01), 0.005, 0.27, 0.04, 24)
TRAVELS = Travels(0.2, 0.01, (0.0, 0.0, 0.0), 0.1, 5.0, 0.005, 48)
PARTS = tuple(Measured(part, MADE, "default", "port 1", 96) for part in CalibrationPart)
CALIBRATION = CalibrationFigure(PARTS, Calibrated(LATENCY, REACTION, TRAVELS, AnswerTimes()), False)
RECALLED = RecallFigure(0.72, 0.05, 12, 18, TRAVELLED)
STATES = tuple(
    PlaceState(Place(string, fret), cue, list(State)[(string + fret) % 5], 20, 15, RECALLED)
    for string in range(1, 7)
    for fret in range(13)
    for cue in ((CueKind.NAME, CueKind.STRING), (CueKind.STAFF,), (CueKind.INTERVAL,))
    if cue != (CueKind.INTERVAL,) or fret < 3
)
PLACES = tuple(PlaceTime(Place(6, fret), RECALLED) for fret in range(12))
TIMES_S = [-0.1, *(0.3 + n / 40 for n in range(100)), 7.0]
SPREAD_OF = spread_of(TIMES_S)
assert SPREAD_OF is not None
SPREAD = SpreadFigure(SPREAD_OF, ((Caveat.WITH_TRAVEL, 102), (Caveat.STALE, 12)), 40, 1, dt.date(2026, 8, 3))
TREND = TrendFigure(
    Trend(
        about(0.62, 0.05), about(1.2, 0.1), about(0.0016, 0.0004), about(420, 120), about(0.08, 0.03),
        0, 4000, 0.05, 40,
    ),
    TRAVELLED,
    40,
)  # fmt: skip
OWNED = (
    OwnedTempoKept("rows/row-5", DAY, "default", 84.2, 80.1, 88.4, 96, 12, "", True),
    OwnedTempoKept("walks/a-very-long-name-of-a-drill-that-does-not-fit", DAY, "default", 120.0, 100.0,
                   140.0, 1200, 12, "not tempo", False),
)  # fmt: skip
NOTES = [LateNote(float(n), -12.0 + n % 5) for n in range(24)]
RUN = TempoRun(
    7, "rows/row-5", "Row 5, a title that is rather long for one line", DAY, 92.0,
    tuple(LateAnswer(n, Verdict.RIGHT, note.time_s, note.late_ms) for n, note in enumerate(NOTES)),
)  # fmt: skip
TEMPO = TempoFigure(RUN, 24, lateness(NOTES), 0)
ODD = OddTimes(3, 0.1, 1, 600.0)
TIMES = TimeFigures(
    1560, 20, CALIBRATION, STATES, PLACES, SPREAD, TREND, OWNED, (TEMPO, replace(TEMPO, absurd=2)), ODD
)
REPORT = Report(
    "Anna", False, 1560, 1200,
    tuple(PlaceFigure(Place(string, fret), 20, 15, 1.4) for string in range(1, 7) for fret in range(13)),
    (), (), ((Verdict.RIGHT, 1560),),
)  # fmt: skip


def said(block) -> str:
    """The words of a block, its line breaks left out."""
    return " ".join(" ".join(plain(line) for line in block).split())


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_it_fits_the_width(width: int) -> None:
    for times in (TIMES, replace(TIMES, calibration=None)):
        for line in report_rows(REPORT, width, times=times):
            assert width_of(line) <= width, plain(line)


def test_it_can_be_written_in_ascii_without_losing_a_sign() -> None:
    for line in as_ascii(report_rows(REPORT, 80, times=TIMES)):
        assert "?" not in plain(line)
        assert plain(line).isascii()


# What is taken off


def test_without_calibration_one_line_says_how_to_get_one() -> None:
    block = calibration_rows(None, 80)
    assert len(block) == 1
    assert plain(block[0]) == (
        "Times are raw: `midifret calibrate` takes the guitar's share out (3 minutes)."
    )


def test_a_calibration_is_told_with_its_intervals() -> None:
    told = said(calibration_rows(CALIBRATION, 80))
    assert "Calibrated on default, port 1" in told
    assert "latency: 2.1 periods of the note (1.8 to 2.4)" in told
    assert "reaction: 0.26 s (0.25 to 0.27)" in told
    assert "hands: 0.25 s to a shown place 5 frets away" in told
    assert "too old" not in told


def test_parts_that_were_not_measured_say_what_stays_in_the_times() -> None:
    told = said(
        calibration_rows(
            CalibrationFigure(PARTS[:1], Calibrated(None, REACTION, None, AnswerTimes()), False), 80
        )
    )
    assert "latency: not measured; low notes look slower" in told
    assert "hands: not measured; the way of the hand is in the times" in told


def test_a_calibration_that_does_not_do_says_why() -> None:
    few = Missing(Lack.FEW, 9, "3 reactions can be used, at least 12 are needed: play 9 more")
    figure = CalibrationFigure(PARTS, Calibrated(LATENCY, few, None, AnswerTimes()), False)
    assert "reaction: 3 reactions can be used, at least 12 are needed: play 9 more (12 Nov 2026)" in said(
        calibration_rows(figure, 80)
    )


def test_a_calibration_without_a_figure_is_none_yet() -> None:
    few = Missing(Lack.FEW, 9, "3 reactions can be used, at least 12 are needed: play 9 more")
    figure = CalibrationFigure(PARTS[:1], Calibrated(None, few, None, AnswerTimes()), False)
    assert said(calibration_rows(figure, 80)).startswith("Not calibrated yet on default, port 1")


def test_an_old_calibration_and_one_from_the_future_are_flagged() -> None:
    stale = AnswerTimes(caveats=frozenset({Caveat.STALE}))
    old = CalibrationFigure(PARTS, Calibrated(LATENCY, REACTION, TRAVELS, stale), False)
    assert "too old to be sure of (12 Nov 2026): `midifret calibrate` measures anew" in said(
        calibration_rows(old, 80)
    )
    told = said(calibration_rows(replace(old, from_the_future=True), 80))
    assert "dated 12 Nov 2026, after today: one of two clocks is wrong" in told
    assert "too old" not in told


def test_flags_in_words_with_how_many_have_them() -> None:
    counts = {Caveat.WITH_TRAVEL: 102, Caveat.STALE: 12, Caveat.OTHER_GUITAR: 1}
    told = said(caveat_rows(counts, 102, 80))
    assert told == (
        "Mind: with the way of the hand (all); calibration out of date (12 of 102); "
        "calibrated on another guitar (1 of 102)."
    )
    assert caveat_rows({}, 102, 80) == ()
    every = said(caveat_rows(dict.fromkeys(Caveat, 2), 9, 80))
    assert every.count("(2 of 9)") == len(Caveat)


def test_the_neck_map_says_what_its_times_hold() -> None:
    raw = PlaceTime(Place(1, 0), replace(RECALLED, caveats=RAW))
    assert said(place_caveat_rows((*PLACES, raw), 80)) == "Mind: with the way of the hand (all)."
    assert place_caveat_rows((raw,), 80) == ()  # there the heading says it


@pytest.mark.parametrize(
    ("places", "heading"),
    [
        ((), "Median time of the right answers, in seconds (raw: as heard)"),
        (PLACES, "Recall time, in seconds (r raw: as heard)"),
        (
            tuple(PlaceTime(figure.place, RECALLED) for figure in REPORT.places),
            "Recall time, in seconds",
        ),
    ],
)
def test_the_heading_of_the_time_map_says_what_it_shows(places, heading: str) -> None:
    lines = [plain(line) for line in report_rows(REPORT, 80, times=replace(TIMES, places=places))]
    assert heading in [" ".join(line.split()) for line in lines]


def test_a_narrow_time_map_is_in_tenths() -> None:
    shown = "\n".join(plain(line) for line in report_rows(REPORT, 50, times=TIMES))
    assert "in tenths of a second" in shown


# States


def test_states_by_kind_of_cue_those_asked_most_as_maps() -> None:
    block = state_rows(STATES, 80, newest=20)
    told = said(block)
    assert told.count("How well each place is known") == 1
    assert "How well each place is known, asked by name and string" in told
    assert "The same, asked by staff" in told
    assert "Mind: with the way of the hand (all)." in told
    assert "asked by name and string (newest 20 answers)" in told
    assert "asked by interval: automatic 3, known 4, slow 4, found 4, dark 3" in told
    assert "a automatic k known s slow f found d dark · never asked" in told
    assert sum(plain(line).startswith("6 ") for line in block) == 2  # two maps


def test_each_state_stands_at_its_place() -> None:
    states = (
        PlaceState(Place(1, 0), (CueKind.NAME,), State.AUTOMATIC, 20, 20, RECALLED),
        PlaceState(Place(6, 12), (CueKind.NAME,), State.DARK, 20, 1, None),
    )
    lines = [plain(line) for line in state_rows(states, 80, newest=20)]
    assert lines[2].split()[1] == "a"
    assert lines[7].split()[-1] == "▓d"
    assert lines[8].strip() == "automatic 1, dark 1"


# Spread


def test_every_time_is_in_the_histogram() -> None:
    lines = [plain(line) for line in spread_rows(SPREAD, 80)]
    bars = [line for line in lines if "%" in line and " s " in line and "under 1 s" not in line.lower()]
    counts = [
        int(line.split(" s ")[1].split()[-3 if "█" in line else -2]) for line in bars if "(" not in line
    ]
    assert sum(counts) == len(TIMES_S)
    told = said(spread_rows(SPREAD, 80))
    assert "How recall times are spread (102 right answers to a cue since 3 Aug 2026)" in told
    assert "under 0 s 1" in told
    assert "5 s and more 1" in told


def test_quantiles_and_shares_have_intervals() -> None:
    told = said(spread_rows(SPREAD, 80))
    median = next(q for q in SPREAD.spread.quantiles if q.share == 0.5)
    assert f"half under {median.time_s:.2f} s ({median.low_s:.2f} to {median.high_s:.2f})" in told
    quick = SPREAD.spread.quick[0]
    assert f"Under 1 s {round(100 * quick.share)}% ({round(100 * quick.low)} to " in told
    assert "1 below 0 s: more was taken off than there was" in told
    assert "40 raw times are not among them" in told
    assert "calibration out of date (12 of 102)" in told


def test_one_time_has_no_intervals_and_raw_ones_are_called_so() -> None:
    one = spread_of([1.5])
    assert one is not None
    told = said(spread_rows(SpreadFigure(one, ((Caveat.RAW, 1),), 0, 0, DAY), 80))
    assert "How raw times are spread (1 right answer to a cue since" in told
    assert "half under 1.50 s " in told
    assert "half under 1.50 s (" not in told
    assert spread_rows(None, 80) == ()


# Trend


def test_a_trend_tells_where_it_leads_and_how_much_is_left() -> None:
    told = said(trend_rows(TREND, 80))
    assert "From 1.82 s towards 0.62 s (0.57 to 0.67)" in told
    assert "halves every 420 answers (300 to 540)" in told
    assert "Left now: 0.08 s (0.05 to 0.11), over 40 days of practice" in told
    assert "Mind: with the way of the hand." in told


def test_a_trend_that_cannot_be_told_says_what_is_missing() -> None:
    missing = Missing(Lack.FEW, 5, "3 days are too few for a trend: play on 5 more days")
    told = said(trend_rows(TrendFigure(missing, RAW, 3), 80))
    assert "Trend of raw times" in told
    assert "Not yet: 3 days are too few for a trend: play on 5 more days." in told


# Tempo


def test_owned_tempos_with_interval_notes_day_doubt_and_naming() -> None:
    told = said(owned_rows(OWNED, 80))
    assert "rows/row-5 84 bpm (80 to 88) 96 notes 25 Nov 2026 n" in told
    assert "120 bpm (100 to 140) 1,200 notes 25 Nov 2026 In doubt: going slower does not help" in told
    assert "n: each note asked by a cue, shuffled; only these may count for naming" in told
    assert "None may count for naming" in said(owned_rows(OWNED[1:], 80))
    assert owned_rows((), 80) == ()


@pytest.mark.parametrize("doubt", list(Doubt))
def test_every_doubt_has_words(doubt: Doubt) -> None:
    told = said(owned_rows((replace(OWNED[0], doubt=doubt.value),), 80))
    assert "In doubt: " in told
    assert f"In doubt: {doubt.value}." not in told


def test_runs_in_tempo() -> None:
    told = said(tempo_rows((TEMPO, replace(TEMPO, absurd=2)), 80))
    assert "92 bpm 24/24 10 ms early, 1 ms 25 Nov" in told or "92 bpm 24/24 10 ms early, 1 ms 2 notes" in told
    assert "a minute" not in told  # its interval holds 0: none can be told
    assert "2 notes were beyond any beat and are left out" in told
    assert "The average holds what guitar and click need, where that was not measured" in told
    without = said(tempo_rows((replace(TEMPO, lateness=None, right=0),), 80))
    assert "92 bpm 0/24" in without


def test_a_drift_that_is_sure_is_told_and_the_titles_end_alike() -> None:
    notes = [LateNote(2.0 * n, 20.0 * n + (-1) ** n) for n in range(12)]  # 20 ms in 2 s: 600 a minute
    drifting = replace(TEMPO, lateness=lateness(notes), right=12)
    lines = [plain(line) for line in tempo_rows((TEMPO, drifting), 80)[1:3]]
    assert re.search(r", \+(59[5-9]|60[0-5]) ms a minute$", lines[1])  # the ±1 ms tilts the line a little
    assert lines[0].index(" bpm") == lines[1].index(" bpm")


def test_odd_times_are_flagged() -> None:
    told = said(odd_rows(ODD, 80))
    assert "3 came sooner than anyone reacts (under 0.1 s) and 1 took longer than 10 minutes" in told
    assert "they count as measured" in told


# The document


def test_the_document_has_every_figure_with_its_flags() -> None:
    document = json.loads(json.dumps(report_document(REPORT, TIMES), allow_nan=False))
    assert document["cued_answers"] == 1560
    calibration = document["calibration"]
    assert {part["part"] for part in calibration["parts"]} == {"click", "reaction", "hands"}
    assert calibration["parts"][0]["measured"] == "2026-11-12T18:00:00+01:00"
    assert (calibration["stale"], calibration["from_the_future"]) == (False, False)
    assert calibration["latency"]["b_periods"] == {
        "value": 2.1,
        "standard_error": 0.15,
        "low": 1.8,
        "high": 2.4,
    }
    assert calibration["reaction"]["response_s"]["value"] == 0.26
    assert calibration["travel"]["slope_s_per_fret"] == 0.01
    place = document["place_times"][0]
    assert (place["string"], place["fret"], place["answers"], place["flags"]) == (
        6,
        0,
        18,
        ["includes travel"],
    )
    assert place["time_s"]["low"] < place["time_s"]["value"] == 0.72 < place["time_s"]["high"]
    state = document["states"][0]
    assert (state["cue"], state["answers"], state["right"]) == (["name", "string"], 20, 15)
    assert {one["state"] for one in document["states"]} == {"dark", "found", "slow", "known", "automatic"}
    spread = document["spread"]
    assert sum(each["count"] for each in spread["bins"]) == spread["count"] == len(TIMES_S)
    assert spread["flags"] == {"includes travel": 102, "stale": 12}
    assert (spread["raw"], spread["raw_left_out"], spread["negative"]) == (False, 40, 1)
    assert [each["share"] for each in spread["quantiles"]] == [0.05, 0.25, 0.5, 0.75, 0.95]
    assert [each["under_s"] for each in spread["under"]] == [1.0, 2.0, 3.0]
    trend = document["trend"]
    assert (trend["fitted"], trend["missing"], trend["raw"]) == (True, None, False)
    assert trend["half_life_answers"]["low"] == 300.0
    assert trend["rate_per_answer"]["value"] == 0.0016
    assert document["owned_tempos"][0]["may_count_for_naming"] is True
    assert document["owned_tempos"][0]["doubt"] is None
    assert document["owned_tempos"][1]["doubt"] == "not tempo"
    run = document["tempo_runs"][0]
    assert (run["run_id"], run["tempo_bpm"], run["notes"]) == (7, 92.0, 24)
    assert run["mean_ms"]["value"] == pytest.approx(-10.0833, abs=1e-4)
    assert document["odd_times"] == {"too_soon": 3, "soonest_s": 0.1, "too_late": 1, "latest_s": 600.0}


def test_what_json_has_no_number_for_is_null() -> None:
    unsure = replace(LATENCY, b_periods=Estimate(2.0, float("inf"), float("-inf"), float("nan")))
    figure = replace(CALIBRATION, calibrated=replace(CALIBRATION.calibrated, latency=unsure))
    document = json.loads(json.dumps(time_document(replace(TIMES, calibration=figure)), allow_nan=False))
    found = document["calibration"]["latency"]["b_periods"]
    assert found == {"value": 2.0, "standard_error": None, "low": None, "high": None}


def test_the_keys_are_the_same_whatever_is_known() -> None:
    full, empty = time_document(TIMES), time_document(None)
    assert set(full) == set(empty)
    missing = Missing(Lack.FEW, 5, "words")
    trend = time_document(replace(TIMES, trend=TrendFigure(missing, RAW, 3)))["trend"]
    assert set(trend) == set(full["trend"])
    assert (trend["fitted"], trend["missing"], trend["more_days"], trend["raw"]) == (False, "words", 5, True)
    few = Calibrated(missing, missing, missing, AnswerTimes())
    calibration = time_document(replace(TIMES, calibration=CalibrationFigure(PARTS, few, True)))[
        "calibration"
    ]
    assert set(calibration) == set(full["calibration"])
    assert calibration["latency"] == calibration["travel"] == {"missing": "words", "more": 5}
    assert calibration["from_the_future"]
