"""JSON bodies, read by orjson: no NaN, no lone surrogates, bounded depth."""

from collections.abc import Mapping
from typing import IO, Any

import orjson
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser


class JSONParser(BaseParser):
    media_type = "application/json"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        raw = (parser_context or {})["request"]._request.body
        try:
            content = orjson.loads(raw)
        except orjson.JSONDecodeError as error:
            raise ParseError(f"The body is no valid JSON: {error}.") from None
        if b"\\u0000" in raw and _has_nul(content):
            raise ParseError("The body has a NUL character in it.")
        if not isinstance(content, dict):
            raise ParseError("The body must be a JSON object.")
        return content


def _has_nul(content: Any) -> bool:
    match content:
        case str():
            return "\0" in content
        case dict():
            return any(_has_nul(key) or _has_nul(value) for key, value in content.items())
        case list():
            return any(_has_nul(item) for item in content)
    return False
