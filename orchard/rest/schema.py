"""OpenAPI 3.1: problems on every operation, closed request bodies, complete answers."""

import re
from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema

from orchard.rest.problems import MEDIA_TYPE

WITHHELD = "x-withheld"
VERBS = {"partial_update": "update", "destroy": "delete"}

ITEM: dict[str, Any] = {
    "type": "object",
    "required": ["code", "detail"],
    "properties": {
        "pointer": {"type": "string", "description": "JSON Pointer into the body."},
        "parameter": {"type": "string", "description": "Name of a query parameter."},
        "code": {"type": "string"},
        "detail": {"type": "string"},
    },
}
PROBLEM: dict[str, Any] = {
    "type": "object",
    "description": "Problem details (RFC 9457). Key on `code`, never on `detail`.",
    "required": ["type", "title", "status", "detail", "code", "instance"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": {"type": "integer", "minimum": 400, "maximum": 599},
        "detail": {"type": "string"},
        "code": {"type": "string"},
        "instance": {"type": "string", "description": "The request's id, as a URN."},
        "errors": {"type": "array", "items": ITEM},
    },
}
ALWAYS = {
    "401": "No valid credentials.",
    "403": "Seen but not allowed, or the scope is missing.",
    "406": "Not to be had in the form asked for.",
    "429": "Too many requests.",
    "503": "Not available for a moment.",
}
MEANINGS = {
    "400": "Does not fit the schema.",
    "404": "No such thing, or not for this caller.",
    "409": "Clashes with what is stored.",
    "412": "Changed meanwhile.",
    "413": "Body too large.",
    "415": "Body in an unknown form.",
    "422": "Breaks a rule.",
}
BY_ACTION = {
    "list": ("400", "422"),
    "retrieve": ("404",),
    "create": ("400", "409", "413", "415", "422"),
    "partial_update": ("400", "404", "409", "412", "413", "415", "422"),
    "destroy": ("404", "409", "412"),
    "undo": ("400", "404", "409", "412"),
    "resend": ("400", "404", "409", "412"),
    "fill": ("400", "404", "409", "412", "413", "415", "422"),
}


class Schema(AutoSchema):
    def get_operation_id(self) -> str:
        """Verb and noun: `list_harvest_weights`, `create_farm`."""
        action = getattr(self.view, "action", None) or self.method.lower()
        noun = self._noun(plural=action == "list")
        known = {"list", "retrieve", "create", "partial_update", "destroy"}
        verb = VERBS.get(action, action) if action in known else action
        return f"{verb}_{noun}"

    def _noun(self, *, plural: bool) -> str:
        parts = [part for part in self.path.split("/") if part and not part.startswith("{")]
        resource = parts[2] if len(parts) > 2 else parts[-1]
        if plural and len(parts) > 3:  # a list below a record: a co-op's harvest
            return _identifier(f"{singular(resource)}_{parts[3]}")
        return _identifier(resource if plural else singular(resource))

    def get_tags(self) -> list[str]:
        return [self._noun(plural=True).replace("_", "-")]

    def get_summary(self) -> str:
        return self.get_operation_id().replace("_", " ").capitalize()

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        action = getattr(self.view, "action", "")
        codes = BY_ACTION.get(action, ("400", "404", "422"))
        for code in codes:
            bodies.setdefault(code, _problem(MEANINGS[code]))
        for code, meaning in ALWAYS.items():
            bodies.setdefault(code, _problem(meaning))
        created = bodies.get("201") or bodies.get("202")
        if action == "create" and created:
            bodies["200"] = created | {"description": "The same record was created before."}
        return dict(sorted(bodies.items()))

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> dict[str, Any]:
        """Mark what a limited right leaves out; it is null then."""
        schema: dict[str, Any] = super()._map_basic_serializer(serializer, direction)
        shared = getattr(getattr(serializer, "Meta", None), "shared", None)
        if direction == "response" and shared is not None:
            for name in set(schema["properties"]) - {*shared, *serializer.base_fields}:
                schema["properties"][name][WITHHELD] = True
        return schema


def _problem(meaning: str) -> dict[str, Any]:
    schema = {"$ref": "#/components/schemas/Problem"}
    return {"description": meaning, "content": {MEDIA_TYPE: {"schema": schema}}}


def singular(noun: str) -> str:
    if noun == "species":
        return noun
    if noun.endswith("ies"):
        return f"{noun[:-3]}y"
    return noun[:-1] if noun.endswith("s") else noun


def _identifier(noun: str) -> str:
    return re.sub(r"\W", "_", noun)


def only_version_one(endpoints: list[Any]) -> list[Any]:
    return [endpoint for endpoint in endpoints if endpoint[0].startswith("/api/v1/")]


def allow_withheld(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Properties that a limited right leaves out may be null."""
    for schema in result["components"]["schemas"].values():
        for name, field in schema.get("properties", {}).items():
            if field.pop(WITHHELD, False):
                schema["properties"][name] = nullable(field)
    return result


def nullable(field: dict[str, Any]) -> dict[str, Any]:
    if isinstance(field.get("type"), str) and "enum" not in field:
        return {**field, "type": [field["type"], "null"]}
    if isinstance(field.get("type"), list) and "null" in field["type"]:
        return field
    notes: dict[str, Any] = {
        key: field.pop(key) for key in ("readOnly", "description") if key in field
    }
    return {**notes, "oneOf": [field, {"type": "null"}]}


def require_response_properties(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """An answer always has all its properties, so that clients need no guards."""
    schemas = result["components"]["schemas"]
    schemas["Problem"] = PROBLEM
    for name, schema in schemas.items():
        if schema.get("type") == "object" and not _is_request(name) and name != "Problem":
            schema["required"] = sorted(schema.get("properties", {}))
    return result


def close_request_components(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Unknown fields are refused, and the schema says so."""
    for name, schema in result["components"]["schemas"].items():
        if _is_request(name) and schema.get("type") == "object":
            schema["additionalProperties"] = False
    return result


def _is_request(name: str) -> bool:
    return name.endswith("Request")


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "records.api.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer", "description": "An app's token."}


class SessionScheme(OpenApiAuthenticationExtension):
    target_class = "records.api.authentication.SessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
