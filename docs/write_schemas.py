"""Write docs/schema/*.json, the JSON Schemas of the project files: `python docs/write_schemas.py`."""

from pathlib import Path

from rigproof.files.schema import json_schema_text
from rigproof.files.shapes import FILES

SCHEMAS = Path(__file__).resolve().parent / "schema"

if __name__ == "__main__":
    SCHEMAS.mkdir(exist_ok=True)
    for sort in FILES:
        (SCHEMAS / f"{sort}.json").write_text(json_schema_text(sort), encoding="utf-8")
        print(f"docs/schema/{sort}.json written")
