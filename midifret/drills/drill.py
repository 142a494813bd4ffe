"""A drill as it was read: its file's content, where each value stands, and the drills that it joins."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from midifret.drills.models import DrillFile
from midifret.files import Document


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill.

    name: as commands take it. content: what its file says. document: the same with lines and columns.
    parts: the drills whose questions it takes, by name. shipped: it came with the program.
    """

    name: str
    content: DrillFile
    document: Document
    parts: Mapping[str, "Drill"] = field(default_factory=dict)
    shipped: bool = False
