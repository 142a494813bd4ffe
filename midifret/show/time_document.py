"""What the report says of time, as part of its JSON document."""

import math
from typing import Any

from midifret.show.run_figures import flags
from midifret.show.time_values import (
    CalibrationFigure,
    OddTimes,
    PlaceTime,
    SpreadFigure,
    TempoFigure,
    TimeFigures,
    TrendFigure,
)
from midifret.tempo.lateness import Figure
from midifret.terms.calibration import Caveat, Estimate, Missing
from midifret.terms.figures import OwnedTempoKept
from midifret.timing import PlaceState

_DIGITS = 4  # a tenth of a millisecond


def time_document(times: TimeFigures | None) -> dict[str, Any]:
    """The keys of the report's document that are about time. Without figures each is there and empty.

    An estimate is {value, standard_error, low, high}, low and high being its 95% interval; its unit stands in
    its key, and an end that cannot be told is null. flags say what a time does not take into account: raw
    (nothing is taken off), with latency, includes travel, stale (the calibration was too old), other guitar,
    other port, other screen (it was made on another).

    cued_answers: how many of the newest answers to a cue states, places and spread are made of, at most
    10,000. calibration, null where none was made: {parts: [{part, measured (ISO, local), guitar, port,
    plucks, view (terminal or stand, on which cues were seen)}], stale, from_the_future, latency, reaction,
    travel}; latency: {a_s, b_periods (estimates, a being relative: only differences of latencies are true),
    spread_s, plucks, anticipations, lapses, more_plucks};
    reaction: {response_s (estimate, as heard), time_s, spread_s, used, anticipations, lapses}; travel:
    {intercept_s, slope_s_per_fret, spread_s, plucks}; each of the three null where it was not measured,
    {missing, more} where it does not do.

    place_times: {string, fret, answers, time_s (estimate), flags} over all kinds of cue.
    states: {string, fret, cue, state (dark, found, slow, known or automatic), answers, right, time_s
    (estimate, null for fewer than two right), flags}, of the newest answers of each place and kind of cue.
    spread, null without times: {raw, count, mean_s, median_s, first_day, flags: {flag: count},
    raw_left_out, negative, quantiles: [{share, time_s, low_s, high_s}], under: [{under_s, count, share, low,
    high}], bins: [{low_s, high_s, count}]}; a null end of a bin is open, and low_s and high_s of a quantile
    are null where there are too few times.
    trend, null without runs: {fitted, missing (words, null where it is fitted), more_days, days, raw,
    flags, asymptote_s, gain_s, rate_per_answer, half_life_answers, left_s (estimates), spread_s}.
    owned_tempos, of each drill the newest: {drill, day, guitar, tempo_bpm, low_bpm, high_bpm, notes, passes,
    doubt (null, slower, faster or not tempo), may_count_for_naming}.
    tempo_runs, newest first: {run_id, drill, day, tempo_bpm, answers, right, notes, mean_ms, spread_ms,
    drift_ms_per_minute ({value, low, high} or null; early is negative), left_out}.
    odd_times, null without: {too_soon, soonest_s, too_late, latest_s}: counts of responses under and over.
    """
    if times is None:
        times = TimeFigures(0, 0, None, (), (), None, None, (), (), None)
    return {
        "cued_answers": times.answers,
        "calibration": _calibration(times.calibration),
        "place_times": [_place_time(each) for each in times.places],
        "states": [_state(state) for state in times.states],
        "spread": _spread(times.spread),
        "trend": _trend(times.trend),
        "owned_tempos": [_owned(kept) for kept in times.owned],
        "tempo_runs": [_tempo_run(figure) for figure in times.tempo_runs],
        "odd_times": _odd(times.odd),
    }


def _calibration(figure: CalibrationFigure | None) -> dict[str, Any] | None:
    if figure is None:
        return None
    latency, reaction = figure.calibrated.latency, figure.calibrated.reaction
    travels = figure.calibrated.travels
    document: dict[str, Any] = {
        "parts": [
            {
                "part": part.part.value,
                "measured": part.measured.isoformat(),
                "guitar": part.guitar,
                "port": part.port,
                "plucks": part.plucks,
                "view": part.view.value,
            }
            for part in figure.parts
        ],
        "stale": figure.stale,
        "from_the_future": figure.from_the_future,
        "latency": None,
        "reaction": None,
        "travel": None,
    }
    if isinstance(latency, Missing):
        document["latency"] = _missing(latency)
    elif latency is not None:
        document["latency"] = {
            "a_s": _estimate(latency.a_s),
            "b_periods": _estimate(latency.b_periods),
            "spread_s": _rounded(latency.spread_s),
            "plucks": latency.plucks,
            "anticipations": latency.anticipations,
            "lapses": latency.lapses,
            "more_plucks": latency.more_plucks,
        }
    if isinstance(reaction, Missing):
        document["reaction"] = _missing(reaction)
    elif reaction is not None:
        document["reaction"] = {
            "response_s": _estimate(reaction.response_s),
            "time_s": _rounded(reaction.time_s),
            "spread_s": _rounded(reaction.spread_s),
            "used": reaction.used,
            "anticipations": reaction.anticipations,
            "lapses": reaction.lapses,
        }
    if isinstance(travels, Missing):
        document["travel"] = _missing(travels)
    elif travels is not None:
        document["travel"] = {
            "intercept_s": _rounded(travels.intercept_s),
            "slope_s_per_fret": _rounded(travels.slope_s),
            "spread_s": _rounded(travels.spread_s),
            "plucks": travels.plucks,
        }
    return document


def _missing(missing: Missing) -> dict[str, Any]:
    return {"missing": missing.words, "more": missing.more}


def _place_time(each: PlaceTime) -> dict[str, Any]:
    return {
        "string": each.place.string,
        "fret": each.place.fret,
        "answers": each.figure.answers,
        "time_s": _estimate(each.figure.interval),
        "flags": flags(each.figure.caveats),
    }


def _state(state: PlaceState) -> dict[str, Any]:
    return {
        "string": state.place.string,
        "fret": state.place.fret,
        "cue": [kind.value for kind in state.cue],
        "state": state.state.value,
        "answers": state.answers,
        "right": state.right,
        "time_s": None if state.figure is None else _estimate(state.figure.interval),
        "flags": [] if state.figure is None else flags(state.figure.caveats),
    }


def _spread(figure: SpreadFigure | None) -> dict[str, Any] | None:
    if figure is None:
        return None
    spread = figure.spread
    return {
        "raw": bool(dict(figure.caveats).get(Caveat.RAW)),
        "count": spread.count,
        "mean_s": _rounded(spread.mean_s),
        "median_s": _rounded(spread.median_s),
        "first_day": figure.first_day.isoformat(),
        "flags": {caveat.value: count for caveat, count in figure.caveats},
        "raw_left_out": figure.raw_left_out,
        "negative": figure.negative,
        "quantiles": [
            {
                "share": quantile.share,
                "time_s": _rounded(quantile.time_s),
                "low_s": _rounded(quantile.low_s),
                "high_s": _rounded(quantile.high_s),
            }
            for quantile in spread.quantiles
        ],
        "under": [
            {
                "under_s": quick.under_s,
                "count": quick.count,
                "share": _rounded(quick.share),
                "low": _rounded(quick.low),
                "high": _rounded(quick.high),
            }
            for quick in spread.quick
        ],
        "bins": [{"low_s": each.low_s, "high_s": each.high_s, "count": each.count} for each in spread.bins],
    }


def _trend(figure: TrendFigure | None) -> dict[str, Any] | None:
    if figure is None:
        return None
    trend = figure.trend
    head = {"days": figure.days, "raw": Caveat.RAW in figure.caveats, "flags": flags(figure.caveats)}
    if isinstance(trend, Missing):
        empty = dict.fromkeys(
            ("asymptote_s", "gain_s", "rate_per_answer", "half_life_answers", "left_s", "spread_s")
        )
        return {"fitted": False, "missing": trend.words, "more_days": trend.more, **head, **empty}
    return {
        "fitted": True,
        "missing": None,
        "more_days": 0,
        **head,
        "asymptote_s": _estimate(trend.asymptote_s),
        "gain_s": _estimate(trend.gain_s),
        "rate_per_answer": _estimate(trend.rate, digits=8),
        "half_life_answers": _estimate(trend.half_life, digits=1),
        "left_s": _estimate(trend.left_s),
        "spread_s": _rounded(trend.spread_s),
    }


def _owned(kept: OwnedTempoKept) -> dict[str, Any]:
    return {
        "drill": kept.drill,
        "day": kept.day.isoformat(),
        "guitar": kept.guitar,
        "tempo_bpm": round(kept.tempo_bpm, 2),
        "low_bpm": round(kept.low_bpm, 2),
        "high_bpm": round(kept.high_bpm, 2),
        "notes": kept.notes,
        "passes": kept.passes,
        "doubt": kept.doubt or None,
        "may_count_for_naming": kept.names_cued,
    }


def _tempo_run(figure: TempoFigure) -> dict[str, Any]:
    run, late = figure.run, figure.lateness
    return {
        "run_id": run.run_id,
        "drill": run.drill,
        "day": run.day.isoformat(),
        "tempo_bpm": round(run.tempo_bpm, 2),
        "answers": len(run.answers),
        "right": figure.right,
        "notes": 0 if late is None else late.notes,
        "mean_ms": None if late is None else _late(late.mean_ms),
        "spread_ms": None if late is None else _late(late.spread_ms),
        "drift_ms_per_minute": None if late is None else _late(late.drift_ms_per_minute),
        "left_out": figure.absurd,
    }


def _late(figure: Figure | None) -> dict[str, Any] | None:
    if figure is None:
        return None
    return {"value": _rounded(figure.value), "low": _rounded(figure.low), "high": _rounded(figure.high)}


def _odd(odd: OddTimes | None) -> dict[str, Any] | None:
    if odd is None:
        return None
    return {
        "too_soon": odd.too_soon,
        "soonest_s": odd.soonest_s,
        "too_late": odd.too_late,
        "latest_s": odd.latest_s,
    }


def _estimate(estimate: Estimate, *, digits: int = _DIGITS) -> dict[str, float | None]:
    return {
        "value": _rounded(estimate.value, digits),
        "standard_error": _rounded(estimate.standard_error, digits),
        "low": _rounded(estimate.low, digits),
        "high": _rounded(estimate.high, digits),
    }


def _rounded(value: float | None, digits: int = _DIGITS) -> float | None:
    """Rounded; None for what JSON has no number for."""
    return None if value is None or not math.isfinite(value) else round(value, digits)
