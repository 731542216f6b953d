"""The JSON Schema of the design document, as it is published."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from jobs.design.document import VERSION, Design

SCHEMA_ID = f"https://archwright.example/schema/design-{VERSION}.json"


class _PlainSchema(GenerateJsonSchema):
    """Without OpenAPI's `discriminator`, which strict validators of JSON Schema do not know."""

    def tagged_union_schema(self, schema: core_schema.TaggedUnionSchema) -> JsonSchemaValue:
        """What tells the kinds apart must be there, as the reader asks it, so that exactly one fits."""
        made = super().tagged_union_schema(schema)
        tag = made.pop("discriminator")["propertyName"]
        for kind in made["oneOf"]:
            within = self.get_schema_from_definitions(kind["$ref"])
            if within and tag not in within.get("required", ()):
                within["required"] = [tag, *within.get("required", ())]
        return made


def schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document."""
    made = TypeAdapter(Design).json_schema(schema_generator=_PlainSchema)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA_ID, **made}
