"""A reading afterwards: every note with its verdict, where to practise, and the JSON document."""

from collections.abc import Mapping, Sequence
from typing import Any

from midifret.neck import Language, pitch_name, spell
from midifret.reading.alignment import Aligned
from midifret.reading.bars import bar_at, bars_of
from midifret.reading.build import position_name, position_words
from midifret.reading.figures import BarFigure, bar_figures, to_practise
from midifret.show.reading_staff import sign_of
from midifret.show.rows import BLANK, Block, Row, Span, row, width_of
from midifret.show.run_figures import note_document, run_document
from midifret.show.words import place_words, verdict_name
from midifret.terms import Answer, Exercise, Glitch, Verdict
from midifret.terms.figures import Summary

_WIDTH = 76
_MOST_FAULTS_TOLD = 4


def reading_rows(
    exercise: Exercise, answers: Sequence[Answer], beside: Sequence[Aligned], language: Language
) -> Block:
    """The piece bar by bar, each note by its name with the sign of its verdict; then where to practise.

    No row is wider than 76 cells. Notes of a chord are joined, the lowest first; what was not reached has a
    dot.
    """
    figures = bar_figures(exercise, answers, beside)
    lines: list[Row] = [BLANK, *_piece(exercise, answers, language), BLANK, _legend()]
    written = len(exercise.prompts)
    if len(answers) < written:
        lines.append(row(f"{len(answers)} of {written} notes were reached; what follows counts for nothing."))
    return (*lines, *_practise_rows(exercise, answers, figures, language))


def _piece(exercise: Exercise, answers: Sequence[Answer], language: Language) -> Block:
    score = exercise.score
    assert score is not None
    bars = bars_of(score)
    verdicts = {answer.n: answer.verdict for answer in answers}
    by_bar: dict[int, list[tuple[Span, ...]]] = {}
    onset_before = None
    for note in score.notes:
        name = pitch_name(note.pitch, language)
        verdict = verdicts.get(note.n)
        sign, style = ("·", "quiet") if verdict is None else sign_of(verdict)
        told = (Span(name, "" if verdict is None or verdict is Verdict.RIGHT else style), Span(sign, style))
        bar = by_bar.setdefault(bar_at(bars, note.onset_quarter), [])
        if note.onset_quarter == onset_before:
            bar[-1] = (*bar[-1], Span("+"), *told)
        else:
            bar.append(told)
        onset_before = note.onset_quarter
    lines: list[Row] = []
    line: Row = ()
    for index, notes in sorted(by_bar.items()):
        number = bars[index].number or str(index + 1)
        pieces: list[tuple[Span, ...]] = [(Span(f"{number:>3} │ ", "quiet"),)]
        pieces += [(*note, Span(" ")) for note in notes]
        if line and width_of(line) + sum(width_of(piece) for piece in pieces) > _WIDTH:
            lines.append(line)
            line = ()
        for piece in pieces:  # a bar that is too long alone is broken too
            if line and width_of(line) + width_of(piece) > _WIDTH:
                lines.append(line)
                line = (Span("    │ ", "quiet"),)
            line = (*line, *piece)
    return (*lines, line)


def _legend() -> Row:
    return row(
        Span("✓", "right"), " right   ", Span("○", "wrong"), " right note, other place   ",
        Span("✗", "wrong"), " wrong   ", Span("–", "wrong"), " missed   ", Span("·", "quiet"), " not reached",
    )  # fmt: skip


def _practise_rows(
    exercise: Exercise, answers: Sequence[Answer], figures: Sequence[BarFigure], language: Language
) -> Block:
    worst = to_practise(figures)
    if not worst:
        return ()
    score = exercise.score
    assert score is not None
    bars = bars_of(score)
    lines: list[Row] = [BLANK, row(Span("Where to practise", "strong"))]
    for figure in worst:
        told = [f"{figure.right} of {figure.notes} right"]
        told += [f"{figure.missed} missed"] if figure.missed else []
        told += [f"{figure.extra} extra"] if figure.extra else []
        told += [f"{figure.hesitations} waited for"] if figure.hesitations else []
        lines.append(row(Span(f"  bar {figure.name}", "strong"), f"   {', '.join(told)}"))
        wrong = [
            answer
            for answer in answers
            if not answer.right and bar_at(bars, score.notes[answer.n - 1].onset_quarter) == figure.index
        ]
        lines += [row(f"    {_fault(answer, language)}") for answer in wrong[:_MOST_FAULTS_TOLD]]
    return tuple(lines)


def _fault(answer: Answer, language: Language) -> str:
    asked = f"{pitch_name(answer.prompt.pitch, language)} ({place_words(answer.prompt.places[0])})"
    played = answer.played
    if answer.verdict is Verdict.MISSED or played is None:
        return f"{asked}: missed"
    name = pitch_name(spell(played.midi)[0], language)
    where = "" if played.place is None else f" ({place_words(played.place)})"
    return f"{asked}: {verdict_name(answer.verdict)}, {name}{where}"


def reading_heading(exercise: Exercise) -> Row:
    """What was read, and where, in one row."""
    where = (
        f"in {position_words(exercise.position)}" if exercise.position is not None else "on the whole neck"
    )
    return row(Span(exercise.title, "strong"), f"  {where}")


def reading_document(
    exercise: Exercise,
    answers: Sequence[Answer],
    summary: Summary,
    voided: Mapping[Glitch, int],
    beside: Sequence[Aligned],
) -> dict[str, Any]:
    """A reading as `read` prints it with --json: what `run_document` has, and the following.

    score: {title, source, notes, bars, reached}, reached being how many notes were answered or missed: those
    after the last note played were not reached, and count for nothing. position (0 is open, null for the
    whole neck), position_name, open_strings, tempo_bpm (null: free). page: for each written note {n, ident,
    bar, played, onset_quarter, verdict (null: not reached)}, in the order of the score. alignment: every note
    played {note, n (null: it stands for none), kind (matched, extra, repeated), jumped}. bars: for each bar
    reached {bar, played, notes, right, wrong, missed, extra, hesitations}. practise: numbers of the worst
    bars.
    """
    score = exercise.score
    assert score is not None
    figures = bar_figures(exercise, answers, beside)
    verdicts = {answer.n: answer.verdict.value for answer in answers}
    return {
        **run_document(exercise, answers, summary, voided),
        "score": {
            "title": score.title,
            "source": score.source,
            "notes": len(score.notes),
            "bars": len(bars_of(score)),
            "reached": len(answers),
        },
        "position": exercise.position,
        "position_name": None if exercise.position is None else position_name(exercise.position),
        "open_strings": exercise.open_strings or None,
        "tempo_bpm": exercise.tempo_bpm,
        "page": [
            {
                "n": note.n,
                "ident": note.ident,
                "bar": note.bar,
                "played": note.played,
                "onset_quarter": str(note.onset_quarter),
                "verdict": verdicts.get(note.n),
            }
            for note in score.notes
        ],
        "alignment": [
            {
                "note": note_document(item.note),
                "n": item.n or None,
                "kind": item.kind.value,
                "jumped": item.jumped,
            }
            for item in beside
        ],
        "bars": [
            {
                "bar": figure.number,
                "played": figure.played,
                "notes": figure.notes,
                "right": figure.right,
                "wrong": figure.wrong,
                "missed": figure.missed,
                "extra": figure.extra,
                "hesitations": figure.hesitations,
            }
            for figure in figures
        ],
        "practise": [figure.name for figure in to_practise(figures)],
    }
