"""The course of a session as plain values, as the book can hold it, and back."""

from collections.abc import Mapping, Sequence
from typing import Any

from midifret.practice.course import BlockDone, Course
from midifret.practice.kept_plan import asked_of_text, asked_text, plan_document, plan_of
from midifret.terms.errors import BadInput


def course_document(course: Course) -> dict[str, Any]:
    """Return what `plan_document` does, and the rest of the course beside it under `course`."""
    return plan_document(course.plan) | {
        "course": {
            "minutes": course.minutes,
            "done": [[done.answers, done.right, done.skipped] for done in course.done],
            "in_time_before": [asked_text(asked) for asked in course.in_time_before],
        }
    }


def course_of(document: Mapping[str, Any], minutes: Sequence[float], at: int) -> Course:
    """Return the course that a document holds.

    minutes: of playing, of each block so far. at: the index of the block at hand. Raises BadInput for
    what is none.
    """
    plan = plan_of(document)
    try:
        rest = document["course"]
        done = tuple(
            BlockDone(float(played), int(answers), int(right), bool(skipped))
            for played, (answers, right, skipped) in zip(minutes, rest["done"], strict=True)
        )
        if not 0 <= at <= len(plan.blocks) or len(done) > at + 1:
            raise ValueError(f"there is no block {at}")
        before = tuple(asked_of_text(text) for text in rest["in_time_before"])
        return Course(plan, float(rest["minutes"]), done, at, before)
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(
            f"the course of a practice session cannot be read: {error}", allowed="begin a new session"
        ) from None
