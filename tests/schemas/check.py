#!/usr/bin/env python3
"""The program's JSON Schemas, put to the test with a general-purpose validator (jsonschema 4, draft 2020-12).

- Each is a schema. Every sample's trial.toml and result file, and every built-in set of limits, is valid; strictly: no key that is not described.
- Results with a key taken away, a key too many, or a number turned into text are not.
- Reading and schema agree: for every key of trial.toml and of a criteria file, each of many values, right and wrong, is either refused by both or by neither.

usage: check.py PROGRAM        (from the top of the repository)
"""

import copy
import json
import subprocess
import sys
import tempfile
import tomllib
from datetime import date, datetime
from pathlib import Path

from jsonschema import Draft202012Validator, FormatChecker

PROGRAM = str(Path(sys.argv[1]).resolve())
# what reading says of one key alone; other findings are about several keys together, which no schema knows
OF_ONE_KEY = {
    "unknown-key", "wrong-type", "not-a-date", "not-whole", "not-finite", "negative", "not-positive", "out-of-range", "unknown-word", "both-units",
}
LOG = "station_mm,diameter_mm\n10,38.021\n110,38.030\n190,38.034\n"


def told(*arguments, cwd=None):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, encoding="utf-8", cwd=cwd).stdout


def schema_of(file):
    schema = json.loads(told("schema", file))
    Draft202012Validator.check_schema(schema)
    return schema


def validator(schema):
    return Draft202012Validator(schema, format_checker=FormatChecker())


def strict(schema):
    """The schema without room for keys that it does not describe."""
    if isinstance(schema, dict):
        if schema.get("type") == "object" and "properties" in schema:
            schema.setdefault("additionalProperties", False)
        for part in schema.values():
            strict(part)
    elif isinstance(schema, list):
        for part in schema:
            strict(part)
    return schema


def as_json(value):
    """A TOML value as JSON has it: days are text."""
    if isinstance(value, dict):
        return {key: as_json(part) for key, part in value.items()}
    if isinstance(value, list):
        return [as_json(part) for part in value]
    return value.isoformat() if isinstance(value, (date, datetime)) else value


def must_hold(schema, value, what):
    faults = [f"{'.'.join(map(str, fault.absolute_path))}: {fault.message[:120]}" for fault in validator(schema).iter_errors(value)]
    assert not faults, f"{what} is not valid: {faults[:5]}"


def spoilt(value, at=()):
    """Copies of a result, each with one fault."""
    inner = value
    for step in at:
        inner = inner[step]
    for key in list(inner) if isinstance(inner, dict) else range(min(len(inner), 2)):
        part = inner[key]

        def changed(act):
            whole = copy.deepcopy(value)
            place = whole
            for step in at:
                place = place[step]
            act(place)
            return whole

        if isinstance(inner, dict):
            yield f"{at} without {key}", changed(lambda place: place.pop(key))
        if isinstance(part, float):
            yield f"{at} {key} as text", changed(lambda place: place.__setitem__(key, str(part)))
        if isinstance(part, dict):
            yield f"{at} {key} with a key too many", changed(lambda place: place[key].__setitem__("saltmarsh", 1))
        if isinstance(part, (dict, list)):
            yield from spoilt(value, (*at, key))


def results():
    schema = strict(schema_of("result"))
    files = sorted(Path("reports").glob("*.json"))
    assert len(files) > 5
    for file in files:
        must_hold(schema, json.loads(file.read_text(encoding="utf-8")), file)
    known = validator(schema)
    refused = 0
    value = json.loads(Path("reports/second-move.json").read_text(encoding="utf-8"))
    for what, bad in spoilt(value):
        if known.is_valid(bad) and not allowed(what):
            raise AssertionError(f"a result with a fault is called valid: {what}")
        refused += 1
    assert refused > 300, refused
    print(f"result: {len(files)} files valid, {refused} spoilt ones refused")


def allowed(what):
    """A value that nobody stated may be of any type."""
    return what.startswith("('assumed',") and "value" in what


def settings():
    schema = schema_of("trial")
    files = sorted(file for file in [*Path("sample-data").rglob("*.toml"), Path("reports/plan/trial.toml")])
    for file in files:
        with file.open("rb") as opened:
            must_hold(schema, as_json(tomllib.load(opened)), file)
    with tempfile.TemporaryDirectory() as place:
        told("new", f"{place}/blank")
        text = Path(place, "blank/trial.toml").read_text(encoding="utf-8")
        stated = "\n".join(line[1:] if line.startswith("#") and not line.startswith("# ") else line for line in text.splitlines())
        must_hold(schema, as_json(tomllib.loads(stated)), "every key of a new trial.toml")
    print(f"trial: {len(files)} files valid, and a new one with every key")
    return schema


def criteria():
    schema = schema_of("criteria")
    names = [json.loads(line)["name"] for line in told("criteria", "--format", "json").splitlines()]
    for name in names:
        must_hold(schema, as_json(tomllib.loads(told("criteria", name))), name)
    assert not validator(schema).is_valid({"nmae": "x"})
    print(f"criteria: {len(names)} sets valid")
    return schema


def leaves(schema, path=()):
    """Every key with its table, and what it may hold: `[]` marks an array of tables, a name of the user's choice is `comparator`."""
    if schema.get("type") == "object":
        for name, part in schema["properties"].items():
            yield from leaves(part, (*path, name))
        if isinstance(schema["additionalProperties"], dict):
            yield from leaves(schema["additionalProperties"], (*path, "comparator"))
    elif schema.get("type") == "array" and schema["items"].get("type") == "object":
        yield from leaves(schema["items"], (*path[:-1], path[-1] + "[]"))
    else:
        yield path, schema


def candidates(schema):
    """Values to try: what the key may hold, what it may not, and the ends of its range."""
    kind = schema["type"]
    values = ["x", "", 5, True, [], [1.5], ["x"], [[1.0, 2.0]], [[1.0]], {"a": 1}, -1.5, -2e7, 2e7, 0.25, 20.5, 150.5, 250.5, "2026-03-14", "14.3.2026", "2026-02-30"]
    values += schema.get("enum", [])[:2] + [[word] for word in schema.get("items", {}).get("enum", [])[:2]]
    values += [schema[end] for end in ("minimum", "maximum") if end in schema and kind == "integer"]
    if kind == "integer":  # 5.0 is whole to JSON Schema, and no integer to TOML
        return [value for value in values if not (isinstance(value, float) and value.is_integer())] + [0, 1, -1]
    return values


def toml(value):
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(part)}" for key, part in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value) if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else repr(value)


def document(path, value):
    """A document that states one key, as TOML and as JSON."""
    *tables, key = path
    whole = inner = {}
    for table in tables:
        new = {}
        inner[table.removesuffix("[]")] = [new] if table.endswith("[]") else new
        inner = new
    inner[key] = value
    name = ".".join(table.removesuffix("[]") for table in tables)
    head = "" if not tables else f"[[{name}]]\n" if tables[-1].endswith("[]") else f"[{name}]\n"
    return f"{head}{key} = {toml(value)}\n", whole


def agree(schema, file, wrap):
    """Reading refuses a value exactly when the schema does."""
    known = validator(schema)
    tried = []
    with tempfile.TemporaryDirectory() as place:
        for path, part in leaves(schema):
            for value in [*candidates(part), None]:
                path_ = path if value is not None else (*path[:-1], path[-1] + "x")  # a key that is not known
                text, whole = document(path_, 1 if value is None else value)
                trial = Path(place, f"{len(tried):05}")
                trial.mkdir()
                (trial / "diameters.csv").write_text(LOG)
                wrap(trial, text)
                tried.append((".".join(path_), value, known.is_valid(whole)))
        said = [json.loads(line) for line in told("check", ".", "--format", "json", cwd=place).splitlines()]
    assert len(said) == len(tried), (len(said), len(tried))
    for (path, value, valid), answer in zip(tried, said):
        faults = {fault["code"] for fault in answer["findings"] if fault["file"] == file} & OF_ONE_KEY
        assert valid == (not faults), f"{path} = {value!r}: the schema says {'yes' if valid else 'no'}, reading says {faults or 'yes'}"
    yes = sum(valid for _, _, valid in tried)
    assert yes > 40 and len(tried) - yes > 100
    print(f"{file}: reading and schema agree on {len(tried)} values, {yes} of them right")


def beside(trial, text):
    (trial / "limits.toml").write_text(text, encoding="utf-8")
    (trial / "trial.toml").write_text('[acceptance]\ncriteria = "limits.toml"\n', encoding="utf-8")


results()
trial_schema, criteria_schema = settings(), criteria()
agree(trial_schema, "trial.toml", lambda trial, text: (trial / "trial.toml").write_text(text, encoding="utf-8"))
agree(criteria_schema, "limits.toml", beside)
