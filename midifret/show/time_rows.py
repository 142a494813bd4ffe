"""What the report says of time, for people: calibration, states, spread, trend and tempo."""

import datetime as dt
import textwrap
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from midifret.show.neck_map import STATES, state_legend, state_map
from midifret.show.rows import BLANK, Block, Row, Span, clean, fit, pad, row
from midifret.show.run_figures import CAVEAT_WORDS
from midifret.show.time_values import (
    CalibrationFigure,
    OddTimes,
    PlaceTime,
    SpreadFigure,
    TempoFigure,
    TimeFigures,
    TrendFigure,
)
from midifret.show.words import late_words, per_cent, seconds_words
from midifret.tempo import Doubt
from midifret.terms import CueKind, Place
from midifret.terms.calibration import (
    CalibrationPart,
    Caveat,
    Estimate,
    Latency,
    Missing,
    Reaction,
    ViewKind,
)
from midifret.terms.figures import OwnedTempoKept
from midifret.timing import PlaceState, Travels

MOST_STATE_MAPS = 2  # for the kinds of cue asked most; of the others there are counts
MOST_OWNED = 8
_BAR = 30
_NAMING = "n"
_BINS_IN_A_ROW = 2  # half a second
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_CUES = {
    CueKind.NAME: "name",
    CueKind.STAFF: "staff",
    CueKind.STRING: "string",
    CueKind.PLACE: "place",
    CueKind.INTERVAL: "interval",
}
_DOUBTS = {
    Doubt.SLOWER: "it may lie below every tempo that is asked",
    Doubt.FASTER: "it may lie above every tempo that is asked",
    Doubt.NOT_TEMPO: "going slower does not help: it may be no question of tempo",
}


def calibration_rows(figure: CalibrationFigure | None, width: int) -> Block:
    """What is taken off the times, or the one line that says how to have it taken off."""
    if figure is None:
        return _wrapped(
            "Times are raw: `midifret calibrate` takes the guitar's share out (3 minutes).", width, indent=""
        )
    newest = max(figure.parts, key=lambda part: part.measured)
    port = f", {clean(newest.port)}" if newest.port else ""
    calibrated = figure.calibrated
    usable = isinstance(calibrated.latency, Latency) or isinstance(calibrated.reaction, Reaction)
    begun = "Calibrated" if usable else "Not calibrated yet"
    lines: list[Row] = [row(Span(begun, "strong"), f" on {clean(newest.guitar)}{port}")]
    made = {part.part: day_words(part.measured.date()) for part in figure.parts}
    for part, found in (
        (CalibrationPart.CLICK, calibrated.latency),
        (CalibrationPart.REACTION, calibrated.reaction),
        (CalibrationPart.HANDS, calibrated.travels),
    ):
        label = _PARTS[part]
        if part not in made:
            lines += _wrapped(f"{label}: not measured; {_UNMEASURED[part]}", width)
        elif isinstance(found, Missing):
            lines += _wrapped(f"{label}: {found.words} ({made[part]})", width)
    latency, reaction, travels = calibrated.latency, calibrated.reaction, calibrated.travels
    if isinstance(latency, Latency):
        periods = f"{latency.b_periods.value:.1f} periods of the note ({_interval(latency.b_periods, '.1f')})"
        more = f"; {latency.more_plucks} more plucks would make it sure" if latency.more_plucks else ""
        lines += _wrapped(f"{_PARTS[CalibrationPart.CLICK]}: {periods}{more}", width)
    if isinstance(reaction, Reaction):
        heard = f"{reaction.response_s.value:.2f} s ({_interval(reaction.response_s, '.2f')})"
        on = {part.part: part.view for part in figure.parts}
        seen = ", on the stand" if on.get(CalibrationPart.REACTION) is ViewKind.STAND else ""
        lines += _wrapped(f"{_PARTS[CalibrationPart.REACTION]}: {heard} to a shown open string{seen}", width)
    if isinstance(travels, Travels):
        way_s = travels.intercept_s + travels.slope_s * travels.frets
        lines += _wrapped(
            f"{_PARTS[CalibrationPart.HANDS]}: {way_s:.2f} s to a shown place {travels.frets:.0f} frets away",
            width,
        )
    if figure.from_the_future:
        lines += _wrapped(
            f"It is dated {day_words(newest.measured.date())}, after today: one of two clocks is wrong, and "
            "its times are called old.",
            width,
        )
    elif figure.stale:
        oldest = min(part.measured for part in figure.parts)
        lines += _wrapped(
            f"It is too old to be sure of ({day_words(oldest.date())}): `midifret calibrate` measures anew.",
            width,
        )
    return tuple(lines)


_PARTS = {
    CalibrationPart.CLICK: "latency",
    CalibrationPart.REACTION: "reaction",
    CalibrationPart.HANDS: "hands",
}
_UNMEASURED = {
    CalibrationPart.CLICK: "low notes look slower than they were",
    CalibrationPart.REACTION: "times stay raw",
    CalibrationPart.HANDS: "the way of the hand is in the times",
}


def recall_times(places: Iterable[PlaceTime]) -> dict[Place, float]:
    """The recall times of places as the neck map takes them: without those that are raw."""
    return {each.place: each.figure.time_s for each in places if Caveat.RAW not in each.figure.caveats}


def place_caveat_rows(places: Iterable[PlaceTime], width: int) -> Block:
    """What the recall times on the neck map do not take into account."""
    shown = [each.figure.caveats for each in places if Caveat.RAW not in each.figure.caveats]
    counts = Counter(caveat for caveats in shown for caveat in caveats)
    return caveat_rows(counts, len(shown), width)


def caveat_rows(counts: Mapping[Caveat, int], total: int, width: int) -> Block:
    """What so many of all figures do not take into account, in a sentence; nothing for nothing."""
    told = []
    for caveat in Caveat:
        if count := counts.get(caveat, 0):
            told.append(f"{CAVEAT_WORDS[caveat]} ({'all' if count == total else f'{count:,} of {total:,}'})")
    return _wrapped(f"Mind: {'; '.join(told)}.", width) if told else ()


def state_rows(states: tuple[PlaceState, ...], width: int, *, newest: int) -> Block:
    """How well each place is known: a neck map for the kinds of cue asked most, counts for all.

    newest: so many answers of each place and kind of cue count at most.
    """
    by_cue: dict[tuple[CueKind, ...], list[PlaceState]] = defaultdict(list)
    for state in states:
        by_cue[state.cue].append(state)
    kinds = sorted(by_cue.items(), key=lambda pair: (-sum(state.answers for state in pair[1]), pair[0]))
    lines: list[Row] = []
    for number, (cue, members) in enumerate(kinds):
        if number < MOST_STATE_MAPS:
            heading = "How well each place is known" if number == 0 else "The same"
            lines += [BLANK] if lines else []
            beside = f"newest {newest} answers" if number == 0 else ""
            lines += headed(f"{heading}, asked by {cue_words(cue)}", beside, width)
            lines += state_map(members, width)
            lines += _wrapped(_counts(members), width)
        else:
            lines += _wrapped(f"asked by {cue_words(cue)}: {_counts(members)}", width)
    if not lines:
        return ()
    held = [state.figure.caveats for state in states if state.figure is not None]
    counts = Counter(caveat for caveats in held for caveat in caveats)
    return (*lines, *state_legend(width), *caveat_rows(counts, len(held), width))


def _counts(states: Iterable[PlaceState]) -> str:
    counts = Counter(state.state for state in states)
    return ", ".join(f"{state} {counts[state]}" for state in STATES if counts[state])


def cue_words(cue: Iterable[CueKind]) -> str:
    """What a kind of cue shows: `name and string`."""
    return " and ".join(_CUES[kind] for kind in CueKind if kind in set(cue))


def spread_rows(figure: SpreadFigure | None, width: int) -> Block:
    """How recall times are spread: a histogram, quantiles and the shares under 1, 2 and 3 s."""
    if figure is None:
        return ()
    spread = figure.spread
    kind = "raw times" if dict(figure.caveats).get(Caveat.RAW) else "recall times"
    right = f"{spread.count:,} right answer{'' if spread.count == 1 else 's'} to a cue"
    lines = list(headed(f"How {kind} are spread", f"{right} since {day_words(figure.first_day)}", width))
    bins = spread.bins
    # The open ends stand alone, the others in pairs.
    together = [bins[:1], *(bins[i : i + 2] for i in range(1, len(bins) - 1, _BINS_IN_A_ROW)), bins[-1:]]
    counts = [sum(each.count for each in group) for group in together]
    filled = [number for number, count in enumerate(counts) if count]
    room = max(6, min(_BAR, width - 32))
    for number in range(filled[0], filled[-1] + 1):
        low_s, high_s = together[number][0].low_s, together[number][-1].high_s
        count = counts[number]
        label = (
            f"under {high_s:g} s"
            if low_s is None
            else f"{low_s:g} s and more"
            if high_s is None
            else f"{low_s:.1f}-{high_s:.1f} s"
        )
        bar = "█" * max(round(count / max(counts) * room), 1 if count else 0)
        lines.append(
            row(f"  {label:<13}{count:>7,} {per_cent(count / spread.count):>4} ", Span(bar, "right"))
        )
    for quantile in spread.quantiles:
        sure = ""
        if quantile.low_s is not None and quantile.high_s is not None:
            sure = f" ({quantile.low_s:.2f} to {quantile.high_s:.2f})"
        half = "half" if quantile.share == 0.5 else per_cent(quantile.share)
        lines.append(row(f"  {half:>4} under {quantile.time_s:.2f} s{sure}"))
    quick = ", ".join(
        f"under {each.under_s:g} s {per_cent(each.share)} ({100 * each.low:.0f} to {100 * each.high:.0f})"
        for each in spread.quick
    )
    lines += _wrapped(f"{quick[:1].upper()}{quick[1:]}.", width)
    if figure.negative:
        lines += _wrapped(
            f"{figure.negative:,} below 0 s: more was taken off than there was; they stand as measured.",
            width,
        )
    if figure.raw_left_out:
        lines += _wrapped(f"{figure.raw_left_out:,} raw times are not among them.", width)
    lines += caveat_rows(dict(figure.caveats), spread.count, width)
    return tuple(lines)


def trend_rows(figure: TrendFigure | None, width: int) -> Block:
    """Where the recall time leads with practice, or what is missing to say so."""
    if figure is None:
        return ()
    kind = "raw times" if Caveat.RAW in figure.caveats else "recall times"
    lines = list(headed(f"Trend of {kind}", "all drills with a cue together", width))
    trend = figure.trend
    if isinstance(trend, Missing):
        return (*lines, *_wrapped(f"Not yet: {trend.words}.", width))
    start_s = trend.asymptote_s.value + trend.gain_s.value
    lines += _wrapped(
        f"From {start_s:.2f} s towards {_estimate_s(trend.asymptote_s)}; "
        f"what is left halves every {trend.half_life.value:,.0f} answers "
        f"({_interval(trend.half_life, ',.0f')}).",
        width,
    )
    lines += _wrapped(f"Left now: {_estimate_s(trend.left_s)}, over {figure.days} days of practice.", width)
    if figure.caveats:
        told = "; ".join(CAVEAT_WORDS[caveat] for caveat in Caveat if caveat in figure.caveats)
        lines += _wrapped(f"Mind: {told}.", width)
    return tuple(lines)


def owned_rows(owned: tuple[OwnedTempoKept, ...], width: int) -> Block:
    """The owned tempo of each drill, the newest found, with its doubts."""
    if not owned:
        return ()
    lines = list(headed("Owned tempo", "90% right; in brackets where it lies, 95 of 100 times", width))
    newest = sorted(owned, key=lambda kept: (kept.day, kept.drill), reverse=True)
    for kept in newest[:MOST_OWNED]:
        figures = (
            f"  {kept.tempo_bpm:>3.0f} bpm ({kept.low_bpm:.0f} to {kept.high_bpm:.0f})"
            f"  {kept.notes:,} notes  {day_words(kept.day)}"
        )
        if kept.names_cued:
            figures += f"  {_NAMING}"
        room = max(8, min(30, width - 2 - len(figures)))
        lines.append(row("  ", *pad(fit(row(clean(kept.drill)), room), room), figures))
        if kept.doubt:
            lines += _wrapped(f"In doubt: {doubt_words(kept.doubt)}.", width, indent="    ")
    if len(newest) > MOST_OWNED:
        lines.append(row(f"  and of {len(newest) - MOST_OWNED} more drills (--json has all)"))
    if any(kept.names_cued for kept in newest[:MOST_OWNED]):
        lines += _wrapped(
            f"{_NAMING}: each note asked by a cue, shuffled; only these may count for naming.", width
        )
    else:
        lines += _wrapped("None may count for naming: that takes notes asked by a cue, shuffled.", width)
    return tuple(lines)


def doubt_words(doubt: str) -> str:
    """Why an owned tempo may be none, in words; one that is not known here as it is."""
    return _DOUBTS[Doubt(doubt)] if doubt in set(Doubt) else clean(doubt)


def tempo_rows(figures: tuple[TempoFigure, ...], width: int) -> Block:
    """How the notes of the last runs in tempo lay on the beat; a drift only where it is sure to be one."""
    if not figures:
        return ()
    lines = list(headed("Last runs in tempo", "right; on average, spread, drift if any", width))
    all_told = [_lay(figure) for figure in figures]
    for figure, told in zip(figures, all_told, strict=True):
        run = figure.run
        when = f"  {run.day.day:>2} {_MONTHS[run.day.month - 1]}  "
        title = row(clean(run.title or run.drill))
        room = width - len(when) - max(map(len, all_told))
        if room >= 8:
            room = min(room, 26)
            lines.append(row(when, *pad(fit(title, room), room), told))
        else:
            lines += [row(when, *title), row(told)]
        if figure.absurd:
            lines += _wrapped(f"{figure.absurd} notes were beyond any beat and are left out.", width)
    lines += _wrapped("The average holds what guitar and click need, where that was not measured.", width)
    return tuple(lines)


def _lay(figure: TempoFigure) -> str:
    """One run in tempo: how many were right, how late on average, spread and drift."""
    run, late = figure.run, figure.lateness
    told = f"  {round(run.tempo_bpm, 1):>3g} bpm  {figure.right:>3}/{len(run.answers):<3}"
    if late is None:
        return told
    told += f" {late_words(late.mean_ms.value)}"
    if late.spread_ms is not None:
        told += f", {late.spread_ms.value:.0f} ms"
    drift = late.drift_ms_per_minute
    if drift is not None and drift.low is not None and drift.high is not None and drift.low * drift.high > 0:
        told += f", {drift.value:+.0f} ms a minute"
    return told


def odd_rows(odd: OddTimes | None, width: int) -> Block:
    """Responses that can hardly be what they seem."""
    if odd is None:
        return ()
    told = []
    if odd.too_soon:
        told.append(f"{odd.too_soon:,} came sooner than anyone reacts (under {odd.soonest_s:g} s)")
    if odd.too_late:
        told.append(f"{odd.too_late:,} took longer than {odd.latest_s / 60:g} minutes")
    return _wrapped(f"Of the times, {' and '.join(told)}; they count as measured.", width, indent="")


def time_rows(times: TimeFigures, width: int) -> tuple[Block, ...]:
    """The parts of the report that follow its neck maps, the empty ones too."""
    return (
        state_rows(times.states, width, newest=times.newest),
        spread_rows(times.spread, width),
        odd_rows(times.odd, width),
        trend_rows(times.trend, width),
        owned_rows(times.owned, width),
        tempo_rows(times.tempo_runs, width),
    )


def day_words(day: dt.date) -> str:
    """A day as `24 Nov 2026`."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def headed(heading: str, beside: str, width: int) -> Block:
    """A heading with a few words in brackets beside it, or below where both do not fit."""
    words = f"({beside})" if beside else ""
    if len(heading) + 2 + len(words) <= width:
        return (row(Span(heading, "strong"), Span(f"  {words}" if words else "", "quiet")),)
    room = max(20, width)
    strong = (row(Span(line, "strong")) for line in textwrap.wrap(heading, room))
    return (*strong, *(row(Span(line, "quiet")) for line in textwrap.wrap(words, room)))


def _estimate_s(estimate: Estimate) -> str:
    return f"{seconds_words(estimate.value)} ({_interval(estimate, '.2f')})"


def _interval(estimate: Estimate, form: str) -> str:
    return f"{estimate.low:{form}} to {estimate.high:{form}}"


def _wrapped(text: str, width: int, *, indent: str = "  ") -> Block:
    """A sentence in rows of at most the width, and of no more than a line can be read in."""
    lines = textwrap.wrap(text, max(20, min(width, 100)), initial_indent=indent, subsequent_indent=indent)
    return tuple(row(line) for line in lines)
