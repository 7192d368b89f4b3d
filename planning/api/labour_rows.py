"""How a labour plan is shown: blocks with their visits, lines of a table, and the crew."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from planning.api.season_summaries import Reasons, Rounded
from planning.api.species_figures import FigureInForceSerializer
from planning.compute.labour import Visit
from planning.services.labour_plans import BlockLabour

HOW = (
    "A visit reaches the flowers that are receptive on its day, by the bloom curve: the farm's"
    " counts of flowers opened so far, else the usual share of them in the middle half of the"
    " bloom. Visits lie where they reach most, so many days apart, unless fixed days are asked for."
    " Flowers wanted are the fruit wanted over set and retention."
)
FLOWERS = ("flowers_in_reach", "flowers", "donor_flowers", "gather_minutes", "bag_minutes")


@extend_schema_field({"type": ["integer", "null"]})
class Whole(Rounded):
    """Flowers, fruit and minutes to the nearest whole: they are estimates."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(0, **kwargs)

    def to_representation(self, value: float) -> Any:
        return round(value)


class VisitSerializer(serializers.Serializer):
    """One visit of the whole block; minutes are of all people together."""

    number = serializers.IntegerField()
    on = serializers.DateField()
    flowers_in_reach = Whole(help_text="Receptive on that day.")
    flowers = Whole(help_text="To pollinate.")
    donor_flowers = Whole(help_text="Pollen flowers to gather.")
    minutes = Whole(help_text="Of brushing, and of walking from tree to tree.")
    gather_minutes = Whole(help_text="Apart from those of brushing.")
    bag_minutes = Whole(help_text="Apart from those of brushing.")
    worker_hours = Rounded(2, help_text="Of brushing.")
    session_minutes = Whole(help_text="Of the hours in which flowers can be brushed.")
    worker_sessions = serializers.IntegerField(allow_null=True)
    people = serializers.IntegerField(allow_null=True, help_text="Who finish it on that day.")


class DayWorkSerializer(serializers.Serializer):
    """What the crew on hand does on a block on one day."""

    on = serializers.DateField()
    visit = serializers.IntegerField()
    trees = serializers.IntegerField(help_text="In the order of the rows, on from the last.")
    flowers = Whole()
    minutes = Whole()


class RoundSerializer(serializers.Serializer):
    on = serializers.DateField()
    flowers = serializers.IntegerField()
    minutes = serializers.IntegerField(allow_null=True)


class BlockLabourSerializer(serializers.Serializer):
    """The visits to one crop of a block; nothing where something is missing, which is said."""

    block = serializers.UUIDField(source="ground.block.pk")
    block_code = serializers.CharField(source="ground.block.code")
    species = serializers.CharField(source="ground.species.code", default=None)
    crop = serializers.UUIDField(source="ground.ahead.crop_id", allow_null=True)
    crop_name = serializers.CharField(source="ground.ahead.crop_name")
    trees = serializers.IntegerField(source="ground.trees", allow_null=True, help_text="That bear.")
    first_bloom_on = serializers.DateField(source="ground.ahead.first_on", allow_null=True)
    end_of_bloom_on = serializers.DateField(source="ground.end_on", allow_null=True)
    bloom_is_seen = serializers.BooleanField(
        source="ground.ahead.first_is_seen", help_text="Else it is forecast."
    )
    flowers_in_bloom = Whole(source="counted.flowers_in_bloom")
    flowers_wanted = Whole(source="counted.flowers_wanted", help_text="For the target.")
    flowers = Whole(source="counted.flowers", help_text="Of the visits still to come.")
    fruit = Whole(source="counted.fruit", help_text="That they are expected to leave.")
    done = RoundSerializer(source="ground.rounds", many=True)
    visits = serializers.SerializerMethodField()
    crew_days = serializers.SerializerMethodField()
    method = serializers.SerializerMethodField()
    reasons = Reasons(help_text="What is missing, or what to be careful of, by name.")
    inputs = FigureInForceSerializer(source="ground.figures", many=True)

    @extend_schema_field(VisitSerializer(many=True))
    def get_visits(self, row: BlockLabour) -> list[dict[str, Any]]:
        return [visit_of(row, visit) for visit in row.visits]

    @extend_schema_field(DayWorkSerializer(many=True))
    def get_crew_days(self, row: BlockLabour) -> list[dict[str, Any]]:
        days = [DayWorkSerializer(work).data for work in row.work]
        return [day if row.is_counted else {**day, "flowers": None} for day in days]

    def get_method(self, row: BlockLabour) -> str:
        bloom = row.ground.bloom
        return HOW if bloom is None else f"{HOW} Time is {bloom.pace.method}."


def visit_of(row: BlockLabour, visit: Visit) -> dict[str, Any]:
    """A visit's figures; those of flowers only where flowers were counted."""
    shown: dict[str, Any] = VisitSerializer(visit).data
    return shown if row.is_counted else {**shown, **dict.fromkeys(FLOWERS)}


class VisitLineSerializer(VisitSerializer):
    """A line of the table: one visit, with its block."""

    block = serializers.UUIDField()
    block_code = serializers.CharField()
    crop_name = serializers.CharField()
    trees = serializers.IntegerField()
    method = serializers.CharField()

    def to_representation(self, line: tuple[BlockLabour, Visit]) -> dict[str, Any]:
        row, visit = line
        bloom = row.ground.bloom
        return {
            **visit_of(row, visit),
            "block": row.ground.block.pk,
            "block_code": row.ground.block.code,
            "crop_name": row.ground.ahead.crop_name,
            "trees": row.ground.trees,
            "method": bloom.pace.method if bloom else "",
        }


class ShortfallSerializer(serializers.Serializer):
    """What the crew on hand leaves undone on a block."""

    block = serializers.CharField()
    block_code = serializers.CharField()
    crop_name = serializers.CharField()
    visits_planned = serializers.IntegerField()
    visits_made = Rounded(1)
    share = Rounded(3, help_text="Of the flowers planned.")
    flowers = Whole()
    fruit = Whole()


class CrewSerializer(serializers.Serializer):
    """The farm as a whole: what all visits come to, and whether the people on hand can do it."""

    crew_size = serializers.IntegerField(allow_null=True)
    fits = serializers.BooleanField(allow_null=True)
    people_needed = serializers.IntegerField(
        allow_null=True, help_text="For every visit on its best date."
    )
    add = serializers.IntegerField(allow_null=True, help_text="People with whom it would fit.")
    visits = serializers.IntegerField()
    flowers = Whole()
    donor_flowers = Whole()
    worker_hours = Rounded(1)
    gather_hours = Rounded(1)
    bag_hours = Rounded(1)
    worker_sessions = serializers.IntegerField(allow_null=True)
    drop = ShortfallSerializer(many=True, help_text="What it leaves undone, the most first.")
    method = serializers.CharField()
    reason = serializers.CharField()
