"""Every route below /api/v1/, read from the resolver, so that no suite can forget one."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import RoutePattern

BASE = "api/v1/"
METHODS = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One address and what may be done there: `actions` maps a method to the view's action."""

    template: str
    view: Any
    actions: dict[str, str]
    # What an extra action sets otherwise than its view.
    options: dict[str, Any]

    @property
    def resource(self) -> str:
        return self.template.split("/")[0]

    @property
    def has_id(self) -> bool:
        return "<" in self.template

    @property
    def filters(self) -> dict[str, Any]:
        """The filters of a GET, by parameter."""
        of_view = getattr(self.view, "filterset_class", None)
        filterset = self.options.get("filterset_class", of_view) if "get" in self.actions else None
        return dict(filterset.base_filters) if filterset else {}

    def address(self, record_id: Any = None) -> str:
        return f"/{BASE}" + re.sub(r"<uuid:(pk|co_op)>", str(record_id), self.template)

    def __str__(self) -> str:
        return self.template


def _patterns(resolver: Any, prefix: str) -> Iterator[tuple[str, URLPattern]]:
    for pattern in resolver.url_patterns:
        where = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from _patterns(pattern, where)
        elif where.startswith(BASE):
            assert isinstance(pattern.pattern, RoutePattern), f"{where} is not in plain words"
            yield where.removeprefix(BASE), pattern


def _actions(callback: Any) -> dict[str, str]:
    """By method; a plain view's methods are its actions."""
    named: dict[str, str] | None = getattr(callback, "actions", None)
    return named or {m: m for m in METHODS if hasattr(callback.cls, m)}


def _routes() -> Iterator[Route]:
    for template, pattern in _patterns(get_resolver(), ""):
        callback: Any = pattern.callback
        actions = {m: action for m, action in _actions(callback).items() if m in METHODS}
        options = getattr(callback, "initkwargs", {})
        yield Route(template=template, view=callback.cls, actions=actions, options=options)


ROUTES = list(_routes())
CALLS = [(route, method) for route in ROUTES for method in route.actions]


def call_name(value: Any) -> str:
    """How the name of a parametrised test shows a route, a method, a model."""
    return value.__name__ if isinstance(value, type) else str(value)
