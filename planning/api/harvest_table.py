"""`co-ops/{id}/harvest`: the members' harvest in one table, grouped as asked."""

from typing import Any

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.rest.filters import DateFilter
from orchard.rest.renderers import Table
from planning.api.co_ops import CoOpComputedViewSet
from planning.api.computed import RecordFilter, SpeciesFilter, WholeAnswer, refused
from planning.api.filters import SeasonYearFilter
from planning.api.harvest_rows import (
    FORMATS,
    MEASURES,
    HarvestRowSerializer,
    columns_of,
    printed,
    sort_keys,
)
from planning.compute.bases import NAMES, Basis
from planning.compute.harvest_table import Asked, Filter, Key, TableError, keys_of
from planning.models import ClosedSeason
from planning.queries.harvest_names import names_of
from planning.queries.harvest_table import HarvestTable, harvest_table
from planning.queries.kilo_tables import ClosedKilos, KiloTable
from planning.queries.rolled_up_kilos import kilos_for
from records.choices import Basis as BasisChoice
from records.models import Block, CoOp, CoOpGrade, Cultivar, Farm, Grade

METHOD = (
    "Net kilos of the days of membership, each member's season by the co-op's basis or what stands"
    " in for it; kilos of different bases are never added. A weighing's season is that in which"
    " its crop's bloom began, an intake's that of its day. Estimated kilos stand apart. Payable"
    " kilos are weighed and no culls. kg per tree = net kilos / bearing trees; t/ha = net kilos /"
    " hectares / 1000; share = net kilos / all members' on this basis, of the same season and days."
)
FILTERS = {
    "member": Filter.MEMBER,
    "block": Filter.BLOCK,
    "cultivar": Filter.CULTIVAR,
    "species": Filter.SPECIES,
    "grade": Filter.GRADE,
    "farm_grade": Filter.FARM_GRADE,
}
ORDERINGS = [each for name in FORMATS for each in (name, f"-{name}")]


class KeysField(forms.CharField):
    """Keys with commas between them."""

    def clean(self, value: Any) -> tuple[Key, ...]:
        try:
            return (Key.MEMBER,) if value is None else keys_of(super().clean(value))
        except TableError as error:
            raise ValidationError(f"{str(error).capitalize()}.", code="invalid") from None


class KeysFilter(django_filters.CharFilter):
    field_class = KeysField


class HarvestFilter(django_filters.FilterSet):
    group_by = KeysFilter(
        label=f"Any of {', '.join(Key)}, with commas between; member unless given."
    )
    season = SeasonYearFilter(
        label="2026 or 2026/27: each farm's own season of the year; empty: all."
    )
    to = DateFilter(label="The last day of picking or receipt.")
    member = RecordFilter(Farm)
    block = RecordFilter(Block)
    cultivar = RecordFilter(Cultivar)
    species = SpeciesFilter()
    grade = RecordFilter(CoOpGrade, label="A grade of the co-op.")
    farm_grade = RecordFilter(Grade, label="A farm's own grade.")
    basis = django_filters.ChoiceFilter(
        choices=BasisChoice.choices, label="One for all members, in place of each one's own."
    )
    ordering = django_filters.ChoiceFilter(
        choices=[(each, each) for each in ORDERINGS],
        label="A figure, with a minus the largest first; by name unless given.",
    )
    # Words of the language's.
    vars()["from"] = DateFilter(label="The first day.")
    vars()["as"] = django_filters.ChoiceFilter(
        choices=[("closed", "as it was closed"), ("live", "as it is now")],
        label="Of a closed season: closed unless given.",
    )


class HarvestAnswer(WholeAnswer):
    """The rows, and beside them totals and what they rest on."""

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        whole = super().get_paginated_response_schema(schema)
        texts: dict[str, Any] = {"type": "object", "additionalProperties": {"type": "string"}}
        beside: dict[str, Any] = {
            "as": {"type": "string", "enum": ["closed", "live"]},
            "closed_at": {"type": ["string", "null"], "format": "date-time"},
            "inputs": {"type": "object", "additionalProperties": True},
            "method": {"type": "string"},
            "reasons": texts,
            "built_at": {"type": "string", "format": "date-time"},
            "totals": schema,
        }
        return {
            **whole,
            "required": [*beside, "results"],
            "properties": {**beside, **whole["properties"]},
        }


class HarvestTableViewSet(CoOpComputedViewSet):
    """A co-op's harvest from what its members share, on the days of their memberships.

    Grouped by any keys; a group whose members go by different bases is one row a basis.
    """

    serializer_class = HarvestRowSerializer
    filterset_class = HarvestFilter
    pagination_class = HarvestAnswer

    def list(self, request: Request, **kwargs: Any) -> Response:
        asked = self.asked(request)
        closed = closed_season(asked)
        question = question_of(asked)
        kilos = kilos_of_co_op(asked["co_op"], closed, question)
        answer = _answer(asked, table_of(kilos, question), closed)
        if request.accepted_renderer.format == "json":
            return Response(answer)
        return Response(_table(answer, question.keys))


def closed_season(asked: dict[str, Any]) -> ClosedSeason | None:
    """The closed season that is asked for: where there is one, unless it is to be live."""
    year, co_op = asked["season"], asked["co_op"]
    closed: ClosedSeason | None = ClosedSeason.objects.of_season(co_op.pk, year) if year else None
    if asked["as"] == "closed" and closed is None:
        text = "The season is not closed." if year else "A season is closed, so ask for one."
        raise refused("as", text, "not-closed")
    return None if asked["as"] == "live" else closed


def kilos_of_co_op(co_op: CoOp, closed: ClosedSeason | None, question: Asked) -> KiloTable:
    return ClosedKilos(closed=closed) if closed else kilos_for(co_op, question)


def table_of(kilos: KiloTable, question: Asked) -> HarvestTable:
    try:
        return harvest_table(kilos, question)
    except TableError as error:
        raise refused("group_by", f"{str(error).capitalize()}.", "too-many-rows") from error


def question_of(asked: dict[str, Any]) -> Asked:
    try:
        return Asked(
            keys=asked["group_by"],
            year=asked["season"],
            first_on=asked.get("from"),
            last_on=asked.get("to"),
            basis=Basis(asked["basis"]) if asked.get("basis") else None,
            filters={kind: asked[name].pk for name, kind in FILTERS.items() if asked[name]},
        )
    except TableError as error:
        raise refused("to", f"{str(error).capitalize()}.", "out-of-order") from error


def _answer(
    asked: dict[str, Any], found: HarvestTable, closed: ClosedSeason | None
) -> dict[str, Any]:
    keys, of_co_op = found.asked.keys, Basis((closed or asked["co_op"]).basis)
    chosen = None if found.asked.basis else of_co_op
    rows = printed(found.rows, keys, names_of(keys, found.rows), chosen)
    return {
        "as": "closed" if closed else "live",
        "closed_at": closed.closed_at.isoformat(timespec="seconds") if closed else None,
        "inputs": _inputs(asked, found, chosen or found.asked.basis),
        "method": METHOD,
        "reasons": _reasons(found),
        "built_at": timezone.now().isoformat(timespec="seconds"),
        "totals": printed(found.totals, (), names_of((), ()), chosen),
        "results": _in_order(rows, keys, asked["ordering"]),
    }


def _inputs(asked: dict[str, Any], found: HarvestTable, basis: Basis | None) -> dict[str, Any]:
    filters = {name: _text(asked[name]) for name in ("season", "from", "to", *FILTERS)}
    return {
        "co_op": asked["co_op"].code,
        "group_by": [str(key) for key in found.asked.keys],
        **{name: value for name, value in filters.items() if value is not None},
        "basis": str(basis),
        "read_from": found.source,
        "records": {NAMES[basis]: number for basis, number in found.records.items()},
    }


def _text(value: Any) -> Any:
    return value if value is None or isinstance(value, int) else str(value)


def _reasons(found: HarvestTable) -> dict[str, str]:
    if found.why_no_ground is None:
        return {}
    names = {"bearing_trees": "bearing trees", "hectares": "hectares"}
    return {name: f"{title}: {found.why_no_ground}" for name, title in names.items()}


def _in_order(
    rows: list[dict[str, Any]], keys: tuple[Key, ...], ordering: str
) -> list[dict[str, Any]]:
    """By name, or by a figure; what is not known stands last either way."""
    rows.sort(key=sort_keys(keys))
    if not ordering:
        return rows
    name, sign = ordering.lstrip("-"), -1 if ordering.startswith("-") else 1
    return sorted(rows, key=lambda row: (row[name] is None, sign * (row[name] or 0)))


def _table(answer: dict[str, Any], keys: tuple[Key, ...]) -> Table:
    """Without ids, which nobody reads in a spreadsheet; the totals are on the sheet of facts."""
    headings = [name for name in columns_of(keys) if name not in IDS] + list(MEASURES)
    return Table(
        headings=headings,
        rows=[[row[name] for name in headings] for row in answer["results"]],
        formats=FORMATS,
        facts=_facts(answer),
    )


IDS = {"member", "block", "cultivar", "species"}


def _facts(answer: dict[str, Any]) -> list[tuple[str, Any]]:
    inputs = dict(answer["inputs"])
    sources = inputs.pop("records")
    return [
        *((name.replace("_", " "), _listed(value)) for name, value in inputs.items()),
        *((f"source: {name}", f"{number:,} records") for name, number in sources.items()),
        *((f"total {row['basis']}", f"{row['net_kg']:,.3f} kg") for row in answer["totals"]),
        *((name.replace("_", " "), text) for name, text in answer["reasons"].items()),
        ("method", answer["method"]),
        ("as", f"closed at {answer['closed_at']}" if answer["closed_at"] else "live"),
        ("built at", answer["built_at"]),
    ]


def _listed(value: Any) -> Any:
    return ", ".join(value) or "the co-op as a whole" if isinstance(value, list) else value
