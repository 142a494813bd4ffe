"""The figures and answers of one run: for people as rows, for programs as a JSON document."""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from midifret.neck import spell
from midifret.show.rows import BLANK, Block, Row, Span, row
from midifret.show.words import late_words, per_cent, place_words, seconds_words, verdict_name
from midifret.terms import Answer, Exercise, Glitch, Note, Place, Verdict
from midifret.terms.calibration import Caveat, NoteInterval
from midifret.terms.figures import PlaceFigure, Share, Summary
from midifret.terms.in_tempo import LateFigure, TempoFigures

_MOST_PLACES = 3
# More glitches than this for each note played, and at least so many, and something should be done [ours].
# A converter of the ordinary scenario makes at most 0.14, a poor one up to 0.55 (scenarios.py); by chance
# (Poisson) an ordinary one has so many in 1 run of 19 at the most.
MANY_GLITCHES_SHARE, LEAST_GLITCHES = 0.25, 10
_WIDTH = 76
_DIGITS = 4  # a tenth of a millisecond


def figure_rows(summary: Summary) -> Block:
    """The figures of a run in words, none wider than about 76 cells; the gate comes before the places."""
    if not summary.prompts:
        return (row("No prompt was answered."),)
    lines: list[Row] = [
        row(
            Span(f"{summary.right} of {summary.prompts} right at the first try", "strong"),
            f" ({per_cent(summary.accuracy)}).",
        )
    ]
    if summary.median_response_s is not None:
        lines.append(row(f"Median time of the right answers {seconds_words(summary.median_response_s)}"))
        if summary.spread_response_s is not None:
            spread = seconds_words(summary.spread_response_s)
            lines[-1] = row(*lines[-1], f" (middle half: {spread} wide)")
    if summary.median_recall_s is not None:
        lines.append(recall_row(summary))
    if Caveat.CUE_UNSURE in summary.recall_caveats:
        lines.append(row(UNSURE_WORDS))
    if summary.in_tempo is not None:
        lines += tempo_rows(summary.in_tempo)
    missteps = [
        f"{verdict_name(verdict)} {count}"
        for verdict, count in summary.by_verdict
        if count and verdict is not Verdict.RIGHT
    ]
    if missteps:
        lines.append(row(f"Not right: {', '.join(missteps)}."))
    lines += _gate_rows(summary)
    slowest = [f for f in summary.slowest if f.median_response_s is not None][:_MOST_PLACES]
    if slowest:
        lines += [BLANK, row(Span("Slowest places", "strong"))]
        lines += [row(f"  {place_words(f.place):<18} {seconds_words(f.median_response_s)}") for f in slowest]
    least_sure = [f for f in summary.least_sure if f.right < f.answers][:_MOST_PLACES]
    if least_sure:
        lines += [BLANK, row(Span("Least sure places", "strong"))]
        lines += [row(f"  {place_words(f.place):<18} {f.right} of {f.answers} right") for f in least_sure]
    return tuple(lines)


# What is not taken off a time, in words that follow it.
CAVEAT_WORDS = {
    Caveat.RAW: "raw, nothing taken off",
    Caveat.WITH_LATENCY: "with the guitar's latency",
    Caveat.WITH_TRAVEL: "with the way of the hand",
    Caveat.STALE: "calibration out of date",
    Caveat.OTHER_GUITAR: "calibrated on another guitar",
    Caveat.OTHER_PORT: "calibrated over another port",
    Caveat.OTHER_VIEW: "calibrated on another screen",
    Caveat.CUE_UNSURE: "moment of the cue unknown",
}
UNSURE_WORDS = "Some answers have no time: the page did not tell when their cue was on the screen."


def recall_row(summary: Summary) -> Row:
    """The median recall time with what is not taken off it; nothing to tell where all times are raw."""
    if Caveat.RAW in summary.recall_caveats:
        return row(Span("Times are raw: `midifret calibrate` takes out what guitar and hands need.", "quiet"))
    told = summary.recall_caveats - {Caveat.CUE_UNSURE}  # those answers have no time that could be off
    flags = ", ".join(CAVEAT_WORDS[caveat] for caveat in Caveat if caveat in told)
    return row(
        f"Median recall time {seconds_words(summary.median_recall_s)}",
        Span(f" ({flags})" if flags else "", "quiet"),
        ".",
    )


def tempo_rows(figures: TempoFigures) -> Block:
    """How the notes lay on the beats, in words, none wider than 76 cells."""
    lines = [row(f"At {round(figures.tempo_bpm, 1):g} bpm, {figures.notes} notes right and in time.")]
    if figures.early or figures.late:
        lines.append(row(f"Outside the window: {figures.early} too early, {figures.late} too late."))
    mean, spread, drift = figures.mean_ms, figures.spread_ms, figures.drift_ms_per_minute
    if mean is not None:
        habit = "" if figures.latency_known else " (with what guitar and click need)"
        lines.append(row(f"On average {late_words(mean.value)}{_within(mean)}{habit}."))
    if spread is not None:
        lines.append(row(f"Spread around that {spread.value:.0f} ms{_within(spread, sign='')}."))
    if drift is not None and drift.low is not None and drift.high is not None:
        if drift.low <= 0 <= drift.high:
            lines.append(row("No drift can be told."))
        else:
            way = "behind" if drift.value > 0 else "ahead"
            sizes = sorted((abs(drift.low), abs(drift.high)))
            by = LateFigure(abs(drift.value), *sizes)
            lines.append(row(f"Drifts {way} by {by.value:.0f} ms a minute{_within(by, sign='')}."))
    return tuple(lines)


def _within(figure: LateFigure, *, sign: str = "+") -> str:
    if figure.low is None or figure.high is None:
        return ""
    return f", 95% from {figure.low:{sign}.0f} to {figure.high:{sign}.0f} ms"


def voided_rows(voided: Mapping[Glitch, int], notes: int, *, advise: bool = True) -> Block:
    """What was left out as glitches, no row wider than 76 cells; nothing for nothing.

    notes: how many were heard, 0 where that is not known. advise: say so where the glitches are many.
    """
    total = sum(voided.values())
    if not total:
        return ()
    kept_together = "\N{NO-BREAK SPACE}"
    kinds = ", ".join(
        f"{glitch} {count:,}".replace(" ", kept_together) for glitch, count in voided.items() if count
    )
    share = f", {per_100_notes(total, notes)} for every 100 played" if notes else ""
    text = f"Left out, taken for the converter's doing: {total:,} note{'' if total == 1 else 's'}{share}"
    wrapped = textwrap.wrap(f"{text} ({kinds}).", _WIDTH, subsequent_indent="  ")
    lines = [row(line.replace(kept_together, " ")) for line in wrapped]
    if advise and too_many_glitches(voided, notes):
        lines.append(row("  That is many: `midifret setup` measures the guitar anew."))
    return tuple(lines)


def per_100_notes(voided: int, notes: int) -> str:
    """How many notes were left out for every 100 heard, in figures; `notes` is not 0."""
    number = 100 * voided / notes
    return "under 0.1" if number < 0.1 else f"{number:.1f}" if number < 10 else f"{number:,.0f}"


def too_many_glitches(voided: Mapping[Glitch, int], notes: int) -> bool:
    """Whether glitches are so many that the guitar should be set up again.

    Frets that a slide passed are left out: they tell of slides, not of a converter set up badly. False where
    it is not known how many notes were heard.
    """
    number = sum(count for glitch, count in voided.items() if glitch is not Glitch.PASSED)
    return bool(notes) and number >= LEAST_GLITCHES and number > MANY_GLITCHES_SHARE * notes


def share_tables(summary: Summary) -> Block:
    """The figures by string, fret, note name and interval, a table each; one group alone makes no table."""
    lines: list[Row] = []
    for heading, shares in (
        ("By string", summary.by_string),
        ("By fret", summary.by_fret),
        ("By note", summary.by_name),
        ("By interval from the note before", summary.by_interval),
    ):
        if len(shares) < 2:
            continue
        lines += [BLANK, row(Span(f"{heading:<34}", "strong"), Span("right   median   middle half", "quiet"))]
        for share in shares:
            right = f"{share.right}/{share.answers}"
            times = f"{seconds_words(share.median_response_s):>9}{seconds_words(share.spread_response_s):>14}"
            lines.append(row(f"  {share.label:<30}{right:>7}{times}"))
    return tuple(lines)


def _gate_rows(summary: Summary) -> Block:
    gate = summary.gate
    if gate is None:
        return ()
    sign, style = ("✓ Gate met.", "right") if gate.met else ("✗ Gate not met yet.", "wrong")
    return (BLANK, row(Span(sign, style)), *(row(f"  {reason}") for reason in gate.reasons))


def run_document(
    exercise: Exercise, answers: Sequence[Answer], summary: Summary, voided: Mapping[Glitch, int]
) -> dict[str, Any]:
    """A run as `drill` and `judge` print it with --json: drill, its answers, its summary.

    voided: how many notes were left out as made up by the converter, by their kind.
    """
    return {
        "drill": exercise.name,
        "answers": [answer_document(answer) for answer in answers],
        "summary": summary_document(summary),
        "voided": voided_document(voided),
    }


def voided_document(voided: Mapping[Glitch, int]) -> dict[str, int]:
    """How many notes were left out, by the kind of glitch; kinds that did not occur are left out too."""
    return {glitch.value: count for glitch, count in voided.items() if count}


def answer_document(answer: Answer) -> dict[str, Any]:
    """One answer.

    n; cue_s, answer_s: seconds on the run's clock, or null; verdict; asked: {places, midi, name}, the
    suggested place first, the name in English ASCII with its sounding octave; played: the note judged
    (see note_document) or null; typed: the name typed, or an empty text; corrections: notes played
    after a wrong first answer; response_s: seconds or null; skipped; held_sounding: null where nothing was
    to be held. recall_s: of answers to a cue, else null, with recall_error_s (its standard error, null where
    nothing was measured) and recall_flags, what is not taken off it, or why there is no time (values of
    Caveat). interval_s,
    interval_error_s, interval_flags: in walks without cues the time since the note before, likewise. due_s,
    late_ms (negative: early): in tempo, else null.
    """
    prompt = answer.prompt
    return {
        "n": answer.n,
        "cue_s": _rounded(answer.cue_s),
        "answer_s": _rounded(answer.answer_s),
        "verdict": answer.verdict.value,
        "asked": {
            "places": [place_document(place) for place in prompt.places],
            "midi": prompt.midi,
            "name": str(prompt.pitch),
        },
        "played": None if answer.played is None else note_document(answer.played),
        "typed": answer.typed or "",
        "corrections": [note_document(note) for note in answer.corrections],
        "response_s": _rounded(answer.response_s),
        **_recall_values(answer),
        **_interval_values(answer.interval),
        "due_s": _rounded(answer.due_s),
        "late_ms": _rounded(answer.late_ms),
        "skipped": answer.skipped,
        "held_sounding": answer.held_sounding,
    }


def _recall_values(answer: Answer) -> dict[str, Any]:
    recall = answer.recall
    return {
        "recall_s": None if recall is None else _rounded(recall.time_s),
        "recall_error_s": None if recall is None else _rounded(recall.standard_error_s),
        "recall_flags": flags(answer.recall_caveats),
    }


def _interval_values(interval: NoteInterval | None) -> dict[str, Any]:
    if interval is None:
        return {"interval_s": None, "interval_error_s": None, "interval_flags": []}
    return {
        "interval_s": _rounded(interval.time_s),
        "interval_error_s": _rounded(interval.standard_error_s),
        "interval_flags": flags(interval.caveats),
    }


def flags(caveats: Iterable[Caveat]) -> list[str]:
    """What a time does not take into account, as a document has it, always in the same order."""
    found = set(caveats)
    return [caveat.value for caveat in Caveat if caveat in found]


def note_document(note: Note) -> dict[str, Any]:
    """A played note.

    string, fret: null where not known; place_assumed: whether they are only the likeliest, the guitar telling
    no strings; midi, name; onset_s; velocity; channel (1-16); attack; cents off its pitch at the onset.
    """
    return {
        "string": note.string,
        "fret": note.fret,
        "place_assumed": note.place_assumed,
        "midi": note.midi,
        "name": str(spell(note.midi)[0]),
        "onset_s": _rounded(note.onset_s),
        "velocity": note.velocity,
        "channel": note.channel + 1,
        "attack": note.attack.value,
        "cents": round(note.cents, 1),
    }


def place_document(place: Place) -> dict[str, int]:
    """A place: string (1 the highest on a standard guitar) and fret (0 open, from the capo)."""
    return {"string": place.string, "fret": place.fret}


def summary_document(summary: Summary) -> dict[str, Any]:
    """The figures of a run.

    prompts, right, accuracy (0 to 1), median_response_s, spread_response_s (between the quartiles),
    median_recall_s with recall_flags, tempo (null in free tempo; see tempo_document), gate_met (null without
    a gate), gate_reasons; by_string, by_fret, by_name, by_interval: lists of share_document; by_verdict:
    counts; slowest, least_sure: lists of {string, fret, answers, right, accuracy, median_response_s}.
    """
    gate = summary.gate
    return {
        "prompts": summary.prompts,
        "right": summary.right,
        "accuracy": _rounded(summary.accuracy),
        "median_response_s": _rounded(summary.median_response_s),
        "spread_response_s": _rounded(summary.spread_response_s),
        "median_recall_s": _rounded(summary.median_recall_s),
        "recall_flags": flags(summary.recall_caveats),
        "tempo": None if summary.in_tempo is None else tempo_document(summary.in_tempo),
        "gate_met": None if gate is None else gate.met,
        "gate_reasons": [] if gate is None else list(gate.reasons),
        "by_string": [share_document(share) for share in summary.by_string],
        "by_fret": [share_document(share) for share in summary.by_fret],
        "by_name": [share_document(share) for share in summary.by_name],
        "by_interval": [share_document(share) for share in summary.by_interval],
        "by_verdict": {verdict.value: count for verdict, count in summary.by_verdict},
        "slowest": [figure_document(figure) for figure in summary.slowest],
        "least_sure": [figure_document(figure) for figure in summary.least_sure],
    }


def tempo_document(figures: TempoFigures) -> dict[str, Any]:
    """How the notes of a run lay on their beats.

    tempo_bpm; notes: right and in time; mean_ms, spread_ms, drift_ms_per_minute: {value, low, high} (95%,
    null where there are too few notes) or null; early, late: missed notes outside their windows; flags: "with
    latency" where the mean holds what guitar and click need.
    """
    return {
        "tempo_bpm": figures.tempo_bpm,
        "notes": figures.notes,
        "mean_ms": _late_document(figures.mean_ms),
        "spread_ms": _late_document(figures.spread_ms),
        "drift_ms_per_minute": _late_document(figures.drift_ms_per_minute),
        "early": figures.early,
        "late": figures.late,
        "flags": [] if figures.latency_known else [Caveat.WITH_LATENCY.value],
    }


def _late_document(figure: LateFigure | None) -> dict[str, Any] | None:
    if figure is None:
        return None
    return {"value": _rounded(figure.value), "low": _rounded(figure.low), "high": _rounded(figure.high)}


def share_document(share: Share) -> dict[str, Any]:
    """A group of answers.

    label, answers, right, accuracy (0 to 1), median_response_s (null: none right), spread_response_s
    (between the quartiles; null: fewer than two right).
    """
    return {
        "label": share.label,
        "answers": share.answers,
        "right": share.right,
        "accuracy": _rounded(share.accuracy),
        "median_response_s": _rounded(share.median_response_s),
        "spread_response_s": _rounded(share.spread_response_s),
    }


def figure_document(figure: PlaceFigure) -> dict[str, Any]:
    """The answers at one place: string, fret, then as in share_document."""
    return {
        **place_document(figure.place),
        "answers": figure.answers,
        "right": figure.right,
        "accuracy": _rounded(figure.accuracy),
        "median_response_s": _rounded(figure.median_response_s),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, _DIGITS)
