"""The published JSON Schemas (draft 2020-12) of the files that others read.

They are made from the model's own types, so they cannot drift from them; the copies in `schemas/` beside this file
are what is published, and a test fails when they are not what this module makes:

    python -m fourlimb.lesson.schema        writes them anew
"""

import json
from fractions import Fraction
from importlib import resources
from pathlib import Path
from typing import Any, Final

import msgspec

from fourlimb.model import Lesson, Listening, Marking

KINDS: Final[dict[str, type]] = {"listen": Listening, "lesson": Lesson, "marking": Marking}
DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"


def make(name: str) -> dict[str, Any]:
    """The schema of one kind of file, as plain data. Unknown fields are welcome everywhere."""
    (root,), parts = msgspec.json.schema_components(
        [KINDS[name]], schema_hook=_fraction, ref_template="#/$defs/{name}"
    )
    for part in parts.values():
        _open(part)
        _in_one_order(part)
    file_schema = next(str(f.default) for f in msgspec.structs.fields(KINDS[name]) if f.name == "schema")
    top = parts[KINDS[name].__name__]
    top["properties"]["schema"] = {"const": file_schema}
    top["required"] = sorted({*top.get("required", []), "schema"})
    return {
        "$schema": DRAFT,
        "$id": f"urn:fourlimb:schema:{file_schema}",
        "title": file_schema,
        **root,
        "$defs": parts,
    }


def load(name: str) -> dict[str, Any]:
    """The published schema of "listen", "lesson" or "marking"."""
    text = resources.files(__package__).joinpath("schemas", f"{name}.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def _fraction(kind: type) -> dict[str, Any]:
    if kind is Fraction:
        return {"type": "string", "pattern": r"^-?\d+(/[1-9]\d*)?$", "description": "exact fraction of a whole note"}
    return {"description": "anything"}


def _open(part: dict[str, Any]) -> None:
    part.get("properties", {}).pop("extra", None)
    part.pop("additionalProperties", None)
    for prop in part.get("properties", {}).values():
        prop.pop("default", None)


def _in_one_order(part: dict[str, Any]) -> None:
    """Alternatives sorted, since their order differs between versions of the library that lists them."""
    for prop in part.get("properties", {}).values():
        for held in (prop, prop.get("items", {})):
            if isinstance(held, dict) and "anyOf" in held:
                held["anyOf"].sort(key=lambda kind: json.dumps(kind, sort_keys=True))


def text(name: str) -> str:
    """The schema as it is published."""
    return json.dumps(make(name), indent=1, sort_keys=True) + "\n"


if __name__ == "__main__":
    folder = Path(__file__).parent / "schemas"
    folder.mkdir(exist_ok=True)
    for kind in KINDS:
        (folder / f"{kind}.schema.json").write_text(text(kind), "utf-8")
