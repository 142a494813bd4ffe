"""A recording stepped through on the neck: one step for each mistake, or for each note."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from midifret.hear import Decoded
from midifret.neck import Accidentals, Language, Neck, pitch_name, spell
from midifret.session.screen import last_answer
from midifret.show.neck import Mark, legend, small_neck
from midifret.show.rows import BLANK, Block, Span, ends, row
from midifret.show.words import place_words, places_words, seconds_words, verdict_name, verdict_words
from midifret.terms import Answer, Judged, Place, Verdict

_MOST_PLACES = 3
_KEYS = "n next   p previous   q quit"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to look at: a heading, sentences below the neck, and the marks on it.

    time_s: from the start of the recording, or None where it has no moment.
    """

    heading: str
    time_s: float | None
    words: tuple[str, ...]
    marks: Mapping[Place, Mark]


def mistake_steps(
    answers: Sequence[Answer], neck: Neck, language: Language, accidentals: Accidentals
) -> tuple[Step, ...]:
    """One step for each answer that was not right at the first try, in the order of the run."""
    return tuple(_mistake(answer, neck, language, accidentals) for answer in answers if not answer.right)


def _mistake(answer: Answer, neck: Neck, language: Language, accidentals: Accidentals) -> Step:
    last = last_answer(
        answer.prompt,
        answer.verdict,
        answer.played,
        answer.typed or "",
        answer.response_s,
        first=True,
        language=language,
        accidentals=accidentals,
    )
    words = [verdict_words(last, neck, language)]
    if answer.skipped:
        words[0] = f"Skipped: {last.name} is on {places_words(last.asked)}."
    elif answer.response_s is not None:
        words[0] += f" After {seconds_words(answer.response_s)}."
    if answer.corrections:
        tries = ", ".join("?" if n.place is None else str(n.place) for n in answer.corrections)
        words.append(f"Then played (string:fret): {tries}.")
    marks = dict.fromkeys(last.asked[:4], Mark.ASKED)
    if answer.prompt.held is not None:
        marks[answer.prompt.held] = Mark.HELD
    if last.played is not None:
        marks[last.played] = Mark.WRONG
    heading = f"Prompt {answer.n}: {_asked(answer, language)}"
    return Step(
        heading, answer.answer_s if answer.answer_s is not None else answer.cue_s, tuple(words), marks
    )


def note_steps(
    decoded: Decoded, language: Language, accidentals: Accidentals, *, knows_strings: bool = True
) -> tuple[Step, ...]:
    """One step for each note of a recording that belongs to no drill.

    knows_strings: whether the guitar's messages tell which string was played.
    """
    nowhere = "on no place of this guitar" if knows_strings else "on a string that the guitar does not tell"
    steps = []
    for number, item in enumerate(decoded.notes, start=1):
        note = item.note
        name = pitch_name(spell(note.midi, accidentals)[0], language)
        where = nowhere if note.place is None else f"on {places_words((note.place,))}"
        marks = {} if note.place is None else {note.place: Mark.RIGHT}
        words = f"{note.attack.value}, velocity {note.velocity}, sounds {item.duration_s:.2f} s"
        steps.append(Step(f"Note {number}: {name} {where}", note.onset_s, (words,), marks))
    return tuple(steps)


def step_rows(step: Step, number: int, total: int, neck: Neck, width: int, *, keys: bool) -> Block:
    """One step as it is drawn. keys: with the line of keys below."""
    time = "" if step.time_s is None else f"at {step.time_s:.2f} s"
    lines: list[tuple[Span, ...]] = [
        ends(row(Span(step.heading, "strong")), row(f"{number} of {total}"), width),
        row(time),
        BLANK,
        *small_neck(neck, step.marks, width),
        legend(step.marks.values()),
        BLANK,
        *(row(sentence) for sentence in step.words),
    ]
    return tuple([*lines, BLANK, row(Span(_KEYS, "quiet"))] if keys else lines)


def answer_rows(answers: Sequence[Answer], language: Language) -> Block:
    """Every answer on a line of its own: number, verdict, time, and what was asked."""
    lines = []
    for answer in answers:
        style = "right" if answer.verdict is Verdict.RIGHT else "wrong"
        place = "" if answer.played is None or answer.right else f", played {_played(answer)}"
        lines.append(
            row(
                f"{answer.n:>4}  ",
                Span(f"{verdict_name(answer.verdict):<24}", style),
                f"{seconds_words(answer.response_s):>8}  {_asked(answer, language)}{place}",
            )
        )
    return (*lines, BLANK)


def _asked(answer: Answer, language: Language) -> str:
    """What was asked, told in full: afterwards there is nothing to give away."""
    prompt = answer.prompt
    name = pitch_name(prompt.pitch, language)
    if prompt.judged is Judged.NAME:
        typed = f", typed {answer.typed}" if answer.typed and not answer.right else ""
        return f"the name of {place_words(prompt.places[0])}: {name}{typed}"
    if len(prompt.places) > _MOST_PLACES:
        return f"{name}, at any of {len(prompt.places)} places"
    return f"{name} on {places_words(prompt.places)}"


def _played(answer: Answer) -> str:
    assert answer.played is not None
    return "off the neck" if answer.played.place is None else str(answer.played.place)
