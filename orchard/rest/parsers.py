"""JSON bodies, read by orjson: no NaN, no lone surrogates, no NUL, bounded depth."""

from collections.abc import Mapping
from typing import IO, Any

import orjson
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

MAX_DEPTH = 100  # an outline needs seven; whatever walks a body by recursion can go this deep


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
        if not isinstance(content, dict):
            raise ParseError("The body must be a JSON object.")
        if b"\\u0000" in raw or raw.count(b"[") + raw.count(b"{") > MAX_DEPTH:
            _check(content)
        return content


def _check(content: Any) -> None:
    """Refuse NUL characters and too deep a nesting, level by level."""
    level = [content]
    for _ in range(MAX_DEPTH + 1):
        if any("\0" in part for part in level if isinstance(part, str)):
            raise ParseError("The body has a NUL character in it.")
        level = [inner for part in level for inner in _parts(part)]
        if not level:
            return
    raise ParseError(f"The body is nested more than {MAX_DEPTH} deep.")


def _parts(content: Any) -> list[Any]:
    if isinstance(content, dict):
        return [*content.keys(), *content.values()]
    return content if isinstance(content, list) else []
