"""A reading on paper: the music of its take, each note marked by its verdict."""

from pathlib import Path

from midifret.cli.app import App
from midifret.cli.page_score import as_hand_plays
from midifret.cli.recorded import exercise_of, guitar_of, judge_read, tuned_for
from midifret.pages.document import Document, Paper
from midifret.pages.score_page import score_document
from midifret.reading.kept import is_reading
from midifret.terms import BadInput, Verdict
from midifret.wire.take import read_take


def reading_page(
    app: App, take: Path, *, guitar: str | None = None, sounding: bool = False, paper: Paper = Paper.A4
) -> tuple[Document, tuple[str, ...]]:
    """Judge a take of `midifret read` and lay its music out with the marks.

    Notes that were not reached have no mark. Bars stand as they were read, repeats written out. Returns the
    document and what is drawn otherwise than it sounds. Raises BadInput for a take of anything else.
    """
    recording = read_take(take)
    if not is_reading(recording.drill):
        what = f"a take of {recording.drill}" if recording.drill else "no take of a reading"
        raise BadInput(f"{take}: this is {what}", allowed="a take of `midifret read`, beside --verdicts")
    heard_as = guitar_of(app, guitar, recording)
    exercise = exercise_of(app, recording.drill, heard_as.neck, recording, seed=recording.seed or 0)
    assert exercise.score is not None
    answers, _, _ = judge_read(exercise, heard_as, recording)
    neck = tuned_for(exercise, heard_as).neck
    verdicts: dict[int, Verdict] = {answer.n: answer.verdict for answer in answers}
    return score_document(
        exercise.score,
        neck=neck,
        position=exercise.position or 0,
        paper=paper,
        verdicts=verdicts,
        drawn=None if sounding else as_hand_plays(exercise.score, neck.capo),
    )
