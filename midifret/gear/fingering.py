"""The weights of fingering, read from the shipped file and a person's own over it."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

from pydantic import Field, create_model

from midifret.files import Document, FileModel, Home, check_model, read_document, shipped_folder
from midifret.fingering import WEIGHT_NAMES, Weights
from midifret.terms import BadInput, Problem

FILE_NAME = "fingering.yaml"
MOST_WEIGHT = 100.0  # what goes against a player's choice costs as much; no effort does [ours]

Weight = Annotated[float, Field(ge=0, le=MOST_WEIGHT)]
Share = Annotated[float, Field(ge=0, le=1)]

# One key for each weight; what is left out stays as shipped.
FingeringFile = create_model(
    "FingeringFile",
    __base__=FileModel,
    __doc__="A person's weights of fingering.",
    **{  # type: ignore[call-overload]
        name: ((Share if name == "free_hand" else Weight) | None, None) for name in WEIGHT_NAMES
    },
)


def load_weights(home: Home) -> Weights:
    """Return the shipped weights with the person's own over them. Raises BadInput for a faulty file."""
    weights = Weights()
    for path in (shipped_folder("config") / FILE_NAME, home.root / FILE_NAME):
        if path.is_file():
            weights = _read(path, weights)
    return weights


def check_weights(document: Document) -> tuple[Weights | None, tuple[Problem, ...]]:
    """Check a file of weights: the weights with it, or None and every problem."""
    found, problems = check_model(document, FingeringFile)
    return (
        (None, problems) if found is None else (replace(Weights(), **found.model_dump(exclude_none=True)), ())
    )


def _read(path: Path, under: Weights) -> Weights:
    found, problems = check_model(read_document(path), FingeringFile)
    if found is None:
        raise BadInput(f"the weights of fingering in {path} have faults", problems=problems)
    return replace(under, **found.model_dump(exclude_none=True))
