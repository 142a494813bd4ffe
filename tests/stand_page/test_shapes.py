"""What the page takes is what the program may tell: held against the schema that the program's types give."""

import re
from typing import Any

from midifret.stand.messages import SCHEMA, schema_document
from tests.stand_page.scripted import WEB, Stand

FIELDS = """async () => {
  const shapes = await import("/shapes.js");
  const names = (table) =>
    Object.fromEntries(Object.entries(table).map(([key, value]) => [key, Object.keys(value)]));
  return {schema: shapes.SCHEMA, kinds: names(shapes.KINDS), parts: names(shapes.PARTS)};
}"""


def test_kinds_and_fields_are_those_of_the_programs_schema(stand: Stand) -> None:
    known = stand.page().evaluate(FIELDS)
    definitions: dict[str, dict[str, Any]] = schema_document()["to_page"]["$defs"]
    assert known["schema"] == SCHEMA
    messages = {
        definition["properties"]["kind"]["const"]: set(definition["properties"]) - {"kind"}
        for definition in definitions.values()
        if "kind" in definition["properties"]
    }
    parts = {
        name: set(definition["properties"])
        for name, definition in definitions.items()
        if "kind" not in definition["properties"]
    }
    assert {kind: set(fields) for kind, fields in known["kinds"].items()} == messages
    assert {name: set(fields) for name, fields in known["parts"].items()} == parts


def test_what_the_program_cannot_have_meant_is_told_apart(stand: Stand) -> None:
    page = stand.page()
    parsed = "async (text) => (await import('/shapes.js')).parsed(text)"
    good = '{"kind":"notice","words":"a","grave":false}'
    assert page.evaluate(parsed, good) == {"kind": "notice", "words": "a", "grave": False}
    for bad in (
        "",
        "{",
        "null",
        "[]",
        "7",
        '"notice"',
        '{"kind":"no such"}',
        '{"kind":"toString"}',
        '{"kind":["notice"],"words":"a","grave":false}',
        good.replace("false", "0"),
        good.replace('"a"', "null"),
        '{"kind":"hall","player":"","notice":"","today":[null],"offers":[],"report":""}',
        '{"kind":"clicks","clicks":[[1]],"volume":1,"forget":false}',
    ):
        assert page.evaluate(parsed, bad) is None, bad


def test_the_page_names_no_address_of_elsewhere_and_holds_to_the_policy() -> None:
    for path in WEB.iterdir():
        text = path.read_text(encoding="utf-8")
        for address in re.findall(r"(?:https?:)?//[\w.-]+\.\w+[^\s\"']*", text):
            assert address.startswith(("http://www.w3.org/",)), (path.name, address)  # names, never fetched
        if path.suffix == ".html":
            assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)", text), path.name
