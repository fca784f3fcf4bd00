"""The JSON Schema of step list files, generated from the types.

Editors use it to complete and check a step list while it is written. It
expresses the form only; the rules that join two values stand in ``check``.
``python -m evidence_app.steplist.schema OUT`` writes it anew after the types
changed.
"""

import inspect
import json
import sys
from pathlib import Path
from typing import Any

import msgspec

from evidence_app.steplist.model import StepList

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def step_list_schema() -> dict[str, Any]:
    """The schema as data (JSON Schema, draft 2020-12)."""
    schema = msgspec.json.schema(StepList)
    for definition in schema["$defs"].values():
        definition["description"] = inspect.cleandoc(definition["description"])
    return {"$schema": DIALECT, "title": "Step list, format 1", **schema}


def schema_bytes() -> bytes:
    """The schema as the bytes of its file: UTF-8, two spaces, a last line break."""
    return (json.dumps(step_list_schema(), indent=2, ensure_ascii=False) + "\n").encode()


def write_schema(path: str | Path) -> None:
    """Write the schema to ``path``. Raises OSError when it cannot be written."""
    Path(path).write_bytes(schema_bytes())


if __name__ == "__main__":
    write_schema(sys.argv[1])
