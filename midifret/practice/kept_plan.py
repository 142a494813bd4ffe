"""A plan as plain values, as the book can hold it, and back."""

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any

from midifret.practice.kinds import Asked, RecallKind
from midifret.practice.load import Load
from midifret.practice.lost import Lost
from midifret.practice.plan import Block, BlockKind, DayPlan
from midifret.terms.errors import BadInput
from midifret.terms.place import Place

_VERSION = 1


def plan_document(plan: DayPlan) -> dict[str, Any]:
    """Return a plan as texts, numbers, lists and groups: what JSON holds."""
    lost, load = plan.lost, plan.load
    return {
        "version": _VERSION,
        "day": plan.day.isoformat(),
        "minutes": plan.minutes,
        "blocks": [_block_document(block) for block in plan.blocks],
        "remarks": list(plan.remarks),
        "lost": {
            "away_s": lost.away_s,
            "had": lost.had,
            "slow": [asked_text(each) for each in lost.slow],
            "gone": [asked_text(each) for each in lost.gone],
            "sentences": list(lost.sentences),
        },
        "load": {
            "minutes": load.minutes,
            "played": load.played,
            "break_every": load.break_every,
            "break_minutes": load.break_minutes,
            "remarks": list(load.remarks),
        },
    }


def plan_of(document: Mapping[str, Any]) -> DayPlan:
    """Return the plan that a document holds. Raises BadInput for one that holds none."""
    try:
        if document["version"] != _VERSION:
            raise ValueError(f"its version is {document['version']!r}, not {_VERSION}")
        lost, load = document["lost"], document["load"]
        return DayPlan(
            dt.date.fromisoformat(document["day"]),
            _minutes(document["minutes"]),
            tuple(_block(each) for each in document["blocks"]),
            tuple(str(each) for each in document["remarks"]),
            Lost(
                lost["away_s"],
                int(lost["had"]),
                tuple(asked_of_text(each) for each in lost["slow"]),
                tuple(asked_of_text(each) for each in lost["gone"]),
                tuple(str(each) for each in lost["sentences"]),
            ),
            Load(
                _minutes(load["minutes"]),
                _minutes(load["played"]),
                _minutes(load["break_every"]),
                _minutes(load["break_minutes"]),
                tuple(str(each) for each in load["remarks"]),
            ),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadInput(
            f"the plan of a practice session cannot be read: {error}", allowed="begin a new session"
        ) from None


def _block_document(block: Block) -> dict[str, Any]:
    return {
        "kind": block.kind.value,
        "minutes": block.minutes,
        "why": block.why,
        "drill": block.drill,
        "score": block.score,
        "asked": [asked_text(each) for each in block.asked],
        "position": block.position,
        "level": block.level,
        "tempo_bpm": block.tempo_bpm,
    }


def _block(each: Mapping[str, Any]) -> Block:
    return Block(
        BlockKind(each["kind"]),
        _minutes(each["minutes"]),
        str(each["why"]),
        each["drill"],
        each["score"],
        tuple(asked_of_text(one) for one in each["asked"]),
        each["position"],
        each["level"],
        each["tempo_bpm"],
    )


def asked_text(asked: Asked) -> str:
    """Return a place and kind of cue as one text."""
    return f"{asked.kind.value} {asked.place}"


def asked_of_text(text: str) -> Asked:
    """Return what a text of `asked_text` stands for. Raises ValueError."""
    kind, place = text.split()
    return Asked(Place.parse(place), RecallKind(kind))


def _minutes(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or value < 0:
        raise ValueError(f"{value!r} are no minutes")
    return float(value)
