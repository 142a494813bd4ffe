"""The kinds of question: for each key of an item, what makes its questions."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from midifret.drills.asking import Asker, Unit
from midifret.drills.faults import fault
from midifret.drills.kinds import places, relations, walks_and_rows
from midifret.drills.models import Item
from midifret.drills.reading import Reader
from midifret.terms import Judged


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of question.

    make: takes what stands under the key, as `models.Item` types it, and returns every question in the
    order it is written; raises Faulty. only_by_place: it cannot be judged otherwise.
    """

    make: Callable[[Any, Reader, Asker], list[Unit]]
    only_by_place: bool = False


KINDS_BY_KEY = {
    "places": Kind(places.places),
    "notes": Kind(places.notes),
    "walk": Kind(walks_and_rows.walk),
    "string": Kind(walks_and_rows.string),
    "row": Kind(walks_and_rows.row),
    "beside_row": Kind(walks_and_rows.beside_row),
    "region": Kind(places.region),
    "draw": Kind(places.region),  # what is drawn from; the lots are drawn where the drill is built
    "places_of": Kind(relations.places_of, only_by_place=True),
    "same_pitch": Kind(relations.same_pitch, only_by_place=True),
    "octaves": Kind(relations.octaves, only_by_place=True),
    "taken_string": Kind(relations.taken_string, only_by_place=True),
}


def questions(item: Item, read: Reader, ask: Asker) -> list[Unit]:
    """Return every question of an item that joins no other drill, in the order written. Raises Faulty."""
    kind = KINDS_BY_KEY[item.kind]
    if kind.only_by_place and ask.style.judge.judged is not Judged.PLACE:
        raise fault(read.path, f"{item.kind} is judged by place only", "judge: place")
    return kind.make(item.asked, read, ask)
