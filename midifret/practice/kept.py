"""A kept memory as plain values, as the book or a file can hold it, and back."""

import math
from collections.abc import Mapping
from typing import Any

from midifret.practice.item import ItemMemory, Trace
from midifret.practice.kinds import Asked, RecallKind
from midifret.practice.memory import KeptMemory, PlayerTraits
from midifret.practice.rules import RULES_NUMBER, MemoryRules
from midifret.terms.errors import BadInput
from midifret.terms.place import Place

_ITEM = ("answers", "right", "newest_s", "newest_recall_s", "in_a_row", "in_time", "held_s")
_MIDDLE = ("forgetting", "ease", "ease_deviation", "weight")
_TRAITS = ("forgetting", "ease", "worked_out_s", "worked_out_right", "timed", "tried", "threshold", "lapse")


def memory_document(kept: KeptMemory) -> dict[str, Any]:
    """Return a memory as texts, numbers, lists and groups: what JSON holds. Nothing is rounded."""
    return {
        "rules_number": kept.rules_number,
        "newest_s": kept.newest_s,
        "counted_s": kept.counted_s,
        "set_back": kept.set_back,
        "known": list(kept.known),
        "traits": {name: getattr(kept.traits, name) for name in _TRAITS},
        "items": [
            {
                "place": str(item.asked.place),
                "kind": item.asked.kind.value,
                "traces": [[trace.at_s, trace.haste, trace.weight] for trace in item.traces],
                "likelihood": list(item.likelihood),
                **{name: getattr(item, name) for name in (*_ITEM, *_MIDDLE)},
            }
            for item in kept.items
        ],
    }


def memory_of(document: Mapping[str, Any], rules: MemoryRules | None = None) -> KeptMemory | None:
    """Return the memory that a document holds; None where it was kept under other rules.

    Then, and only then, it has to be worked out again from the answers. Raises BadInput for a document that
    is no memory.
    """
    rules = rules or MemoryRules()
    if document.get("rules_number") != RULES_NUMBER:
        return None
    try:
        items = tuple(_item(each) for each in document["items"])
        known = tuple(_number(each) for each in document["known"])
        traits = PlayerTraits(*(_number(document["traits"][name]) for name in _TRAITS))
        newest_s = document["newest_s"]
        kept = KeptMemory(
            RULES_NUMBER,
            None if newest_s is None else _number(newest_s),
            _number(document["counted_s"]),
            int(document["set_back"]),
            (known[0], known[1], known[2]),
            traits,
            items,
        )
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise _faulty(error) from None
    cells = len(rules.forgetting) * len(rules.ease)
    if any(len(item.likelihood) != cells for item in items):
        return None
    return kept


def _item(each: Mapping[str, Any]) -> ItemMemory:
    asked = Asked(Place.parse(each["place"]), RecallKind(each["kind"]))
    traces = tuple(
        Trace(_number(at), _number(haste), _number(weight)) for at, haste, weight in each["traces"]
    )
    recall_s = each["newest_recall_s"]
    return ItemMemory(
        asked=asked,
        traces=traces,
        likelihood=tuple(_number(value) for value in each["likelihood"]),
        answers=int(each["answers"]),
        right=int(each["right"]),
        newest_s=_number(each["newest_s"]),
        newest_recall_s=None if recall_s is None else _number(recall_s),
        in_a_row=int(each["in_a_row"]),
        in_time=int(each["in_time"]),
        held_s=_number(each["held_s"]),
        **{name: _number(each[name]) for name in _MIDDLE},
    )


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{value!r} is not a number")
    return float(value)


def _faulty(error: Exception) -> BadInput:
    return BadInput(
        f"what was kept of the memory of places cannot be read: {error}",
        allowed="work it out again from the book",
    )
