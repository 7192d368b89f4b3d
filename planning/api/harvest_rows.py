"""The rows of the consolidated table as they are printed.

Rows are made straight from the figures: ten thousand of them through a serializer would take longer
than the database takes to add up the season.
"""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from rest_framework import serializers

from planning.api.season_summaries import Kilos, Reasons, Rounded
from planning.compute.bases import NAMES, Basis
from planning.compute.harvest_table import Key, TableRow
from planning.queries.harvest_names import WIDTHS, Names
from planning.queries.harvest_table import FIRST_MONDAY
from records.choices import Basis as BasisChoice

# Columns of each key; those ending in `_code` or `_name` are what rows are sorted by.
KEY_COLUMNS: Mapping[Key, tuple[str, ...]] = {
    Key.MEMBER: ("member", "member_code", "member_name"),
    Key.BLOCK: ("block", "block_farm_code", "block_code"),
    Key.CULTIVAR: ("cultivar", "cultivar_name"),
    Key.SPECIES: ("species", "species_name"),
    Key.GRADE: ("grade",),
    Key.FARM_GRADE: ("farm_grade",),
    Key.WEEK: ("week_starts_on",),
    Key.MONTH: ("month",),
    Key.SEASON: ("season_year",),
    Key.CROP: ("crop_name",),
}
# What has changed in them since a season was closed is told.
KILOS = ("net_kg", "estimated_kg", "marketable_kg", "payable_kg")
# By heading, as a spreadsheet writes number formats.
FORMATS = {
    **dict.fromkeys(
        (
            "net_kg",
            "estimated_kg",
            "marketable_kg",
            "cull_kg",
            "ungraded_kg",
            "payable_kg",
            "picked_kg",
            "received_kg",
            "packed_kg",
        ),
        "#,##0.000",
    ),
    "fruit_count": "#,##0",
    "mean_fruit_g": "0.0",
    "bearing_trees": "#,##0",
    "hectares": "0.00",
    "kg_per_tree": "0.000",
    "t_per_ha": "0.000",
    "share_of_co_op": "0.00%",
    "records": "#,##0",
}
MEASURES = ("basis", *FORMATS)


class HarvestRowSerializer(serializers.Serializer):
    """A group of fruit on one basis; of the keys, the columns of those that were asked for."""

    member = serializers.UUIDField(required=False)
    member_code = serializers.CharField(required=False)
    member_name = serializers.CharField(required=False)
    block = serializers.UUIDField(required=False, allow_null=True)
    block_farm_code = serializers.CharField(required=False, allow_null=True)
    block_code = serializers.CharField(required=False, allow_null=True)
    cultivar = serializers.UUIDField(required=False, allow_null=True)
    cultivar_name = serializers.CharField(required=False, allow_null=True)
    species = serializers.UUIDField(required=False, allow_null=True)
    species_name = serializers.CharField(required=False, allow_null=True)
    grade = serializers.CharField(
        required=False,
        allow_null=True,
        help_text="The co-op's, or a farm's that is not mapped. Null: not graded.",
    )
    farm_grade = serializers.CharField(required=False, allow_null=True)
    week_starts_on = serializers.DateField(required=False, help_text="A Monday.")
    month = serializers.CharField(required=False, help_text="Such as 2026-09.")
    season_year = serializers.IntegerField(required=False)
    crop_name = serializers.CharField(required=False, allow_null=True)
    basis = serializers.ChoiceField(
        BasisChoice.choices, help_text="That of these members' net kilos."
    )
    net_kg = Kilos(help_text="Weighed, on the row's basis.")
    estimated_kg = Kilos(help_text="Of fruit that met no scale; part of no other figure.")
    marketable_kg = Kilos()
    cull_kg = Kilos()
    ungraded_kg = Kilos()
    payable_kg = Kilos(help_text="Weighed and no culls.")
    picked_kg = Kilos(help_text="Farm weighings of the same members.")
    received_kg = Kilos(help_text="Intakes of the same members.")
    packed_kg = Kilos(help_text="Sorted intakes of the same members.")
    fruit_count = serializers.IntegerField()
    mean_fruit_g = Rounded(1)
    bearing_trees = serializers.IntegerField(allow_null=True)
    hectares = Rounded(4)
    kg_per_tree = Rounded(3)
    t_per_ha = Rounded(3)
    share_of_co_op = Rounded(6, help_text="Of all members' net kilos on this basis.")
    records = serializers.IntegerField(help_text="Weighings, intakes or sorted lines.")
    reasons = Reasons()


Label = Callable[[tuple[Any, ...]], dict[str, Any]]


def columns_of(keys: Sequence[Key]) -> list[str]:
    return [column for key in keys for column in KEY_COLUMNS[key]]


def printed(
    rows: Sequence[TableRow], keys: Sequence[Key], names: Names, chosen: Basis | None
) -> list[dict[str, Any]]:
    """Rows as they are printed; `chosen` is the basis for which others stand in, if any may."""
    label = labelled(keys, names)
    instead = {basis: _stand_in(basis, chosen) for basis in Basis}
    return [{**label(row.key), **_figures(row, instead[row.basis])} for row in rows]


def labelled(keys: Sequence[Key], names: Names) -> Label:
    """From a group's key to the columns of its keys."""
    labels = list(_labels(keys, names))

    def label(parts: tuple[Any, ...]) -> dict[str, Any]:
        made: dict[str, Any] = {}
        for each in labels:
            made.update(each(parts))
        return made

    return labels[0] if len(labels) == 1 else label


def sort_keys(keys: Sequence[Key]) -> Callable[[dict[str, Any]], Any]:
    """Rows by what their groups are called, those without a name last."""
    by = [column for column in columns_of(keys) if column not in {"member", "block", "cultivar"}]
    by = [*(column for column in by if column != "species"), "basis"]
    return lambda row: [(row[column] is None, row[column]) for column in by]


def _stand_in(basis: Basis, chosen: Basis | None) -> dict[str, str]:
    if chosen is None or basis is chosen:
        return {}
    text = f"basis: there are no {NAMES[chosen]} this season, so {NAMES[basis]} are used instead"
    return {"basis": text}


def _labels(keys: Sequence[Key], names: Names) -> Iterator[Label]:
    """For each key, from a group's whole key to its columns."""
    at = 0
    for key in keys:
        width = WIDTHS.get(key, 1)
        yield _label(key, at, at + width, names)
        at += width


def _label(key: Key, start: int, end: int, names: Names) -> Label:
    match key:
        case Key.MEMBER:
            return lambda parts: _named(KEY_COLUMNS[key], parts[start], names.members)
        case Key.BLOCK:
            return lambda parts: _named(KEY_COLUMNS[key], parts[start], names.blocks)
        case Key.CULTIVAR:
            return lambda parts: {
                "cultivar": parts[start],
                "cultivar_name": names.cultivars.get(parts[start]),
            }
        case Key.SPECIES:
            return lambda parts: {
                "species": parts[start],
                "species_name": names.species.get(parts[start]),
            }
        case Key.GRADE | Key.FARM_GRADE:
            column = KEY_COLUMNS[key][0]
            return lambda parts: {column: names.grade(parts[start:end])}
        case Key.WEEK:
            return lambda parts: {"week_starts_on": FIRST_MONDAY + dt.timedelta(weeks=parts[start])}
        case Key.MONTH:
            return lambda parts: {"month": f"{parts[start] // 12:04}-{parts[start] % 12 + 1:02}"}
        case _:
            column = KEY_COLUMNS[key][0]
            return lambda parts: {column: parts[start]}


def _named(columns: tuple[str, ...], key: Any, names: Mapping[Any, tuple[str, str]]) -> Any:
    return dict(zip(columns, (key, *names.get(key, (None, None))), strict=True))


def _figures(row: TableRow, instead: dict[str, str]) -> dict[str, Any]:
    return {
        "basis": row.basis.value,
        "net_kg": row.net_g / 1000,
        "estimated_kg": row.estimated_g / 1000,
        "marketable_kg": row.marketable_g / 1000,
        "cull_kg": row.cull_g / 1000,
        "ungraded_kg": row.ungraded_g / 1000,
        "payable_kg": row.payable_g / 1000,
        "picked_kg": row.picked_g / 1000,
        "received_kg": row.received_g / 1000,
        "packed_kg": row.packed_g / 1000,
        "fruit_count": row.fruit_count,
        "mean_fruit_g": _rounded(row.mean_fruit_g, 1),
        "bearing_trees": row.bearing_trees,
        "hectares": None if row.area_m2 is None else round(row.area_m2 / 10_000, 4),
        "kg_per_tree": _rounded(row.kg_per_tree, 3),
        "t_per_ha": _rounded(row.t_per_ha, 3),
        "share_of_co_op": _rounded(row.share, 6),
        "records": row.records,
        "reasons": {**row.reasons, **instead} if instead else row.reasons,
    }


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
