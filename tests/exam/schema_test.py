"""The published schema and the reader agree: what one accepts the other accepts.

Usage: schema_test.py RECORD_TOOL SCHEMA
The judge is an independent JSON Schema validator (Debian's python3-jsonschema, draft 2020-12).
"""
import copy
import json
import subprocess
import sys

import jsonschema

tool, schema_file = sys.argv[1:3]
schema = json.load(open(schema_file, encoding="utf-8"))
jsonschema.Draft202012Validator.check_schema(schema)
validator = jsonschema.Draft202012Validator(schema)


def places(value, path=()):
    yield path
    if isinstance(value, dict):
        for key in value:
            yield from places(value[key], path + (key,))
    elif isinstance(value, list):
        for index in range(min(len(value), 2)):
            yield from places(value[index], path + (index,))


def replaced(record, path, new):
    record = copy.deepcopy(record)
    if not path:
        return new
    node = record
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = new
    return record


def removed(record, path):
    record = copy.deepcopy(record)
    node = record
    for step in path[:-1]:
        node = node[step]
    del node[path[-1]]
    return record


sample = json.loads(subprocess.run([tool, "sample"], check=True, capture_output=True, text=True).stdout)
validator.validate(sample)
variants = [sample]
strange = [None, True, "", "word", -1, 0, 1, 1.5, 300, 1e9, -401, [], {}, ["word"], [1], {"extra": 1},
           "clinic", "present", "left", "wheeze", "female"]
for path in places(sample):
    variants += [replaced(sample, path, value) for value in strange]
    if path:
        variants.append(removed(sample, path))

lines = "".join(json.dumps(v) + "\n" for v in variants)
answers = subprocess.run([tool, "read"], input=lines, check=True, capture_output=True,
                         text=True).stdout.splitlines()
assert len(answers) == len(variants), (len(answers), len(variants))
accepted = 0
for variant, answer in zip(variants, answers):
    valid = validator.is_valid(variant)
    accepted += valid
    if valid != (answer == "ok"):
        sys.exit(f"schema says {'valid' if valid else 'invalid'}, the reader says: {answer}\n"
                 f"{json.dumps(variant)}")
assert 100 < accepted < len(variants) - 100, accepted
print(f"schema and reader agree on {len(variants)} records, {accepted} of them valid")
