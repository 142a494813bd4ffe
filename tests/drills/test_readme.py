"""What README says of the drill file: its examples are drills, and it names every key and every word."""

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from midifret.drills import build
from midifret.drills.fields import Broken, Order, Side
from midifret.drills.library import check, find
from midifret.drills.models import KINDS, DrillFile, GateFile, Item
from midifret.files import Home, parse_document
from midifret.neck import Accidentals, Language, Neck
from midifret.terms import CueKind, Exercise, Judged

README = Path(__file__).parents[2] / "README.md"
SECTION = README.read_text(encoding="utf-8").split("## Writing a drill\n")[1].split("\n## ")[0]
EXAMPLES = re.findall(r"```yaml\n(.*?)```", SECTION, flags=re.S)
PROSE = re.sub(r"```yaml\n.*?```", "", SECTION, flags=re.S)


def keys_of(model: type[BaseModel]) -> set[str]:
    return {field.alias or name for name, field in model.model_fields.items()}


def built(tmp_path: Path, neck: Neck, text: str) -> Exercise:
    path = tmp_path / "example.yaml"
    path.write_text(text, encoding="utf-8")
    return build(find(str(path), Home.of(tmp_path)), neck)


def test_there_are_three_complete_examples() -> None:
    assert len(EXAMPLES) == 3


@pytest.mark.parametrize("text", EXAMPLES)
def test_an_example_is_a_drill_without_faults(tmp_path: Path, neck: Neck, text: str) -> None:
    assert check(parse_document(text.encode(), "example.yaml"), neck, Home.of(tmp_path)) == ()
    assert built(tmp_path, neck, text).prompts


def test_the_examples_ask_what_their_remarks_say(tmp_path: Path, neck: Neck) -> None:
    row, position, several = (built(tmp_path, neck, text) for text in EXAMPLES)
    naming = [p for p in row.prompts if p.judged is Judged.NAME]
    assert len(row.prompts) - len(naming) == 19  # row 5 leap 2 [common practice, no source]
    assert len(naming) == round(19 * 0.2)
    assert {p.judged for p in position.prompts} == {Judged.POSITION}
    assert len(position.prompts) == 30
    assert (position.time_limit_s, position.minutes) == (5, (3, 3))
    # D major from D3 to D4 in thirds: six pairs and back, 23; three notes; one pair; six of the row.
    assert len(several.prompts) == 23 + 3 + 2 + 6


def test_every_key_and_every_word_is_named() -> None:
    """In backquotes, outside the examples."""
    quoted = set(re.findall(r"[\w-]+", " ".join(re.findall(r"`([^`]+)`", PROSE))))
    wanted = keys_of(DrillFile) | keys_of(GateFile)
    for kind in KINDS:
        annotation = Item.model_fields[kind].annotation
        models = [annotation, *getattr(annotation, "__args__", ())]
        for model in models:
            if isinstance(model, type) and issubclass(model, BaseModel):
                wanted |= keys_of(model)
    wanted |= set(KINDS) | {*CueKind, *Side, *Accidentals, *Language, *Judged, "nothing", "shuffled"}
    assert {str(word) for word in wanted} - quoted == set()
    assert Order.AS_WRITTEN in PROSE
    assert {Broken.THIRDS, Broken.OCTAVES} <= quoted


def test_the_defaults_are_as_told(tmp_path: Path, neck: Neck) -> None:
    exercise = built(tmp_path, neck, "title: T\nstage: S\ntrains: W.\nask: {places: [6:5, 5:5]}\n")
    assert [p.cue for p in exercise.prompts] == [(CueKind.NAME,)] * 2
    assert {p.judged for p in exercise.prompts} == {Judged.PLACE}
    assert (exercise.minutes, exercise.time_limit_s, exercise.gate) == ((3, 5), None, None)
