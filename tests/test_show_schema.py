"""The JSON Schema of the file: whole, strict, and of one mind with what opens and what is refused."""

import datetime as dt
import json
import re
import tomllib

import pytest
from shows import FERRY, with_change

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.show.decoding import schema
from fieldkit.show.document import Show
from fieldkit.units import Measure

TYPES = {"string": str, "integer": int, "number": (int, float), "boolean": bool, "array": list, "object": dict}


@pytest.fixture(scope="module")
def known():
    return schema()


def plain(value):
    """Give parsed TOML as JSON has it: dates and times as text."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.isoformat() if isinstance(value, dt.date) else value


def wrong(value, rule, known):
    """Judge a value by a rule of JSON Schema (2020-12, the words that the file's schema uses); list what is wrong."""
    if "$ref" in rule:
        return wrong(value, known["$defs"][rule["$ref"].removeprefix("#/$defs/")], known)
    if "anyOf" in rule:
        ways = [wrong(value, way, known) for way in rule["anyOf"]]
        return [] if [] in ways else ways[0]
    if "enum" in rule:
        return [] if value in rule["enum"] else [f"{value!r} is none of {rule['enum']}"]
    if rule.get("type") == "null":
        return [] if value is None else [f"{value!r} is not null"]
    kind = TYPES[rule["type"]]
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        return [f"{value!r} is no {rule['type']}"]
    found = []
    if "pattern" in rule and not re.search(rule["pattern"], value):
        found.append(f"{value!r} does not match")
    if rule["type"] in {"integer", "number"}:
        above = value > rule.get("exclusiveMinimum", float("-inf"))
        if not (above and rule.get("minimum", value) <= value <= rule.get("maximum", value)):
            found.append(f"{value!r} is out of range")
    if kind is list and "items" in rule:
        found += [says for item in value for says in wrong(item, rule["items"], known)]
    if kind is dict:
        fields, others = rule.get("properties", {}), rule.get("additionalProperties", True)
        found += [f"{key} is missing" for key in rule.get("required", ()) if key not in value]
        for key, item in value.items():
            if key in fields:
                found += wrong(item, fields[key], known)
            elif others is False:
                found.append(f"{key} is unknown")
            elif isinstance(others, dict):
                found += wrong(item, others, known)
    return found


def rules(rule):
    """List a rule and all rules within it."""
    inner = [*rule.get("properties", {}).values(), *rule.get("anyOf", ())]
    inner += [rule[key] for key in ("items", "additionalProperties") if isinstance(rule.get(key), dict)]
    return [rule, *(found for item in inner for found in rules(item))]


def test_the_schema_is_whole(known):
    every = [found for rule in (known, *known["$defs"].values()) for found in rules({"anyOf": [rule]})[1:]]
    names = {rule["$ref"].removeprefix("#/$defs/") for rule in every if "$ref" in rule}
    assert names == set(known["$defs"])
    for rule in every:
        assert {"$ref", "anyOf", "enum", "type"} & set(rule), rule
    for name, rule in known["$defs"].items():
        assert rule["additionalProperties"] is False, name
        assert set(rule["required"]) <= set(rule["properties"]), name


def test_the_schema_knows_every_table(known):
    assert known["$ref"] == "#/$defs/Show"
    assert set(known["$defs"]["Show"]["properties"]) == set(Show.__struct_encode_fields__)
    assert {"show", "boxes", "runs", "built_racks"} <= set(Show.__struct_encode_fields__)
    step = known["$defs"]["Step"]["properties"]
    assert "length with its unit" in json.dumps(step["length"])


def test_the_command_prints_it(known, capsys):
    assert run(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(known))


@pytest.mark.parametrize(
    "text", [FERRY, *((samples.folder() / f"{name}.toml").read_text(encoding="utf-8") for name in samples.names())]
)
def test_what_opens_is_valid(known, text):
    assert wrong(plain(tomllib.loads(text)), known, known) == []


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('note = "grille', 'nota = "grille', "nota is unknown"),
        ("dc_resistance", "dc_resistence", "dc_resistence is unknown"),
        ('weight = "27 kg"', "weight = 27", "27 is no string"),
        ("owned = 6", "owned = -1", "-1 is out of range"),
        ("phase = 1", "phase = 4", "4 is none of [1, 2, 3]"),
        ("format = 2", "format = 3", "3 is none of [2]"),
        ('id = "ML1"\nmodel', "model", "id is missing"),
        ('id = "ML1"', 'id = "M L1"', "'M L1' does not match"),
        ("channels = 4", 'channels = "4"', "'4' is no integer"),
        ("[[zones]]", "[[zone]]", "zone is unknown"),
    ],
)
def test_what_is_refused_is_not_valid(known, old, new, says):
    assert says in wrong(plain(tomllib.loads(with_change(old, new))), known, known)


def test_each_example_of_a_quantity_can_be_typed(known):
    """An editor shows the example: it must be one that the program takes."""
    said = set(re.findall(r'"([a-z ]+) with its unit, such as \'([^\']*)\'"', json.dumps(known, ensure_ascii=False)))
    kinds = {kind.dimension: kind for kind in Measure.__subclasses__()}
    assert len(said) > 10
    for dimension, example in said:
        assert example == example.strip(), (dimension, example)
        assert kinds[dimension](example)
