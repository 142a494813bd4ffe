"""What a page tells is read whole or refused with one kind of error, whatever it is."""

import json
import math
from dataclasses import asdict

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from midifret.stand.messages import (
    MOST_BYTES,
    Begin,
    Hello,
    Named,
    Painted,
    Pressed,
    Sounding,
    Synced,
    dump,
    parse,
    schema_document,
)
from midifret.terms import BadInput
from tests.serve.standing import a_hall, a_reading, a_screen, an_engraving

TOLD = (
    Hello(1, "name", sounds=True),
    Synced(3, 1.5, 2.5),
    Painted(1, 2, None, 16.7),
    Painted(1, 2, 100.25, None),
    Pressed("enter", 5.0),
    Named("fis", 5.0),
    Begin("drill", 60.0, 5, None),
    Sounding(ready=True, output_latency_ms=32.0, late=0),
)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
    max_leaves=12,
)


@pytest.mark.parametrize("message", TOLD)
def test_what_a_page_tells_is_read_back(message: object) -> None:
    assert parse(json.dumps(asdict(message))) == message  # type: ignore[call-overload]


@given(st.text(max_size=300) | st.binary(max_size=300))
@example("[" * MOST_BYTES)
@example('{"kind":' * 500)
@example("\ud800")
@example('{"kind": "pressed", "key": "\\ud800", "pressed_ms": 1}')
@example('{"kind": "synced", "number": ' + "9" * 4000 + ', "came_ms": 1, "went_ms": 1}')
def test_anything_is_understood_or_refused(told: str | bytes) -> None:
    words = ""
    try:
        parse(told)
    except BadInput as error:
        words = str(error)
    assert len(words) < 500


@given(st.sampled_from(TOLD), st.dictionaries(st.text(max_size=8), json_values, max_size=2), st.data())
def test_messages_with_other_values_are_understood_or_refused(
    message: object, more: dict[str, object], data: st.DataObject
) -> None:
    changed = asdict(message)  # type: ignore[call-overload]
    changed[data.draw(st.sampled_from(sorted(changed)))] = data.draw(json_values)
    changed |= more
    try:
        understood = parse(json.dumps(changed))
    except BadInput:
        return
    assert all(math.isfinite(value) for value in asdict(understood).values() if isinstance(value, float))


def test_what_is_refused_is_not_repeated() -> None:
    with pytest.raises(BadInput) as caught:
        parse('{"kind": "pressed", "key": "<script>alert(1)</script>aaaaaaaaaaaaaaaaa", "pressed_ms": 1}')
    assert "script" not in str(caught.value)
    with pytest.raises(BadInput, match="4097 bytes"):
        parse(" " * (MOST_BYTES + 1))


@pytest.mark.parametrize(
    "message", [a_hall(), a_screen(1, reading=a_reading(("n1", "right"))), an_engraving()]
)
def test_what_is_written_holds_to_the_schema_that_is_told(message: object) -> None:
    # Against the JSON Schema library, which knows nothing of us.
    schema = schema_document()["to_page"]
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(json.loads(dump(message)))  # type: ignore[arg-type]
