"""The schema as client generators read it."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema

METHODS = {"get", "post", "put", "patch", "delete"}


@pytest.fixture(scope="module")
def schema() -> Any:
    GENERATOR_STATS.reset()
    return SchemaGenerator().get_schema(request=None, public=True)


def operations(schema: Any) -> Iterator[tuple[str, Any]]:
    for path, item in schema["paths"].items():
        for method in METHODS & set(item):
            yield f"{method} {path}", item[method]


def test_it_is_valid_and_made_without_a_warning(schema: Any) -> None:
    validate_schema(schema)
    assert not GENERATOR_STATS._warn_cache
    assert not GENERATOR_STATS._error_cache
    assert schema["openapi"].startswith("3.1")


def test_every_operation_has_an_id_of_its_own(schema: Any) -> None:
    ids = Counter(operation["operationId"] for _, operation in operations(schema))
    assert ids
    assert [name for name, count in ids.items() if count > 1] == []


def test_every_operation_says_what_can_go_wrong_as_problems(schema: Any) -> None:
    for name, operation in operations(schema):
        errors = {code: answer for code, answer in operation["responses"].items() if code >= "400"}
        assert {"401", "403"} <= set(errors), name
        for answer in errors.values():
            assert list(answer["content"]) == ["application/problem+json"], name


def test_bodies_are_closed_and_answers_complete(schema: Any) -> None:
    components = schema["components"]["schemas"]
    bodies = {name for name in components if name.endswith("Request")}
    assert bodies
    for name in bodies:
        assert components[name]["additionalProperties"] is False, name
    for name in set(components) - bodies - {"Problem"}:
        if components[name].get("type") == "object" and "properties" in components[name]:
            assert set(components[name]["required"]) == set(components[name]["properties"]), name


def test_what_a_harvest_share_withholds_may_be_null(schema: Any) -> None:
    farm = schema["components"]["schemas"]["Farm"]["properties"]
    assert farm["name"]["type"] == ["string", "null"]
    assert farm["code"]["type"] == "string"
