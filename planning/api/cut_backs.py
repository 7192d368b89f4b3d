"""`cut-backs`: how much comes off measured shoots, and what the pruning logs say came off."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema
from rest_framework import permissions, serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.access import Area
from orchard.rest.callers import caller_of
from orchard.rest.problems import Problem
from orchard.rest.serializers import Strict, VisibleRelatedField
from planning.api.computed import BlockFilter, ComputedViewSet, ReadableFarmFilter
from planning.api.filters import SeasonYearFilter
from planning.api.season_summaries import Rounded
from planning.api.species_figures import FigureInForceSerializer
from planning.compute.cut_back import (
    MOST_CM,
    MOST_MM,
    MOST_SHOOTS,
    CutBackError,
    Fate,
    Shoot,
    cut_back,
)
from planning.queries.cut_rules import BlockRule, PruningSample, block_rule, pruning_samples
from records.models import Block, Farm

METHOD = (
    "Weak shoots go altogether. Of each strong one a share is taken off, or a length is left, by"
    " the species' rule. Shares are of the total length of the sample."
)
TOLD_AS = "A log's shoot counts as advised within a centimetre of the rule's range."


class ShootSerializer(Strict):
    length_cm = serializers.FloatField(min_value=0, max_value=MOST_CM)
    diameter_mm = serializers.FloatField(
        min_value=0,
        max_value=MOST_MM,
        allow_null=True,
        required=False,
        help_text="At the base, if it was measured.",
    )


class ShootSampleSerializer(Strict):
    """A sample of a block's one-year shoots, as measured before pruning."""

    block = VisibleRelatedField(queryset=Block.objects.select_related("farm"))
    # The stubs know the arguments of one serializer, not those of many.
    shoots = ShootSerializer(many=True, allow_empty=False, max_length=MOST_SHOOTS)  # type: ignore[call-arg]


class ShootAdviceSerializer(serializers.Serializer):
    number = serializers.IntegerField()
    length_cm = serializers.FloatField(source="shoot.length_cm")
    diameter_mm = serializers.FloatField(source="shoot.diameter_mm", allow_null=True)
    fate = serializers.ChoiceField(choices=[(fate.value, fate.value) for fate in Fate])
    remove_least_cm = Rounded(1)
    remove_most_cm = Rounded(1)
    leave_least_cm = Rounded(1)
    leave_most_cm = Rounded(1)
    why = serializers.CharField()


class CutBackSerializer(serializers.Serializer):
    """Shoot by shoot what to take off, and what that comes to."""

    shoots = ShootAdviceSerializer(many=True)
    median_cm = Rounded(1)
    total_cm = Rounded(1)
    weak = serializers.IntegerField(help_text="Shoots that go altogether.")
    remove_least_cm = Rounded(1)
    remove_most_cm = Rounded(1)
    remove_least_share = Rounded(3)
    remove_most_share = Rounded(3)
    reason = serializers.CharField()


class AdviceSerializer(CutBackSerializer):
    block = serializers.UUIDField()
    block_code = serializers.CharField()
    species = serializers.CharField(allow_null=True)
    method = serializers.CharField()
    inputs = FigureInForceSerializer(many=True)


class PruningSampleSerializer(serializers.Serializer):
    """One pruning log: what was taken off its shoots, against what the rule advises."""

    block = serializers.UUIDField(source="block.pk")
    block_code = serializers.CharField(source="block.code")
    species = serializers.CharField(source="block_rule.species.code", default=None)
    task_log = serializers.UUIDField(source="task_log_id")
    done_on = serializers.DateField()
    shoots = serializers.IntegerField(source="comparison.shoots")
    before_cm = Rounded(1, source="comparison.before_cm")
    removed_cm = Rounded(1, source="comparison.removed_cm", help_text="In all, by the log.")
    removed_share = Rounded(3, source="comparison.removed_share")
    advised_least_share = Rounded(3, source="comparison.advised.remove_least_share")
    advised_most_share = Rounded(3, source="comparison.advised.remove_most_share")
    weak = serializers.IntegerField(source="comparison.advised.weak")
    as_advised = serializers.IntegerField(source="comparison.as_advised", allow_null=True)
    less = serializers.IntegerField(source="comparison.less", allow_null=True)
    more = serializers.IntegerField(source="comparison.more", allow_null=True)
    method = serializers.SerializerMethodField()
    reason = serializers.CharField(source="comparison.advised.reason")

    OF_LOGS = ("removed_cm", "removed_share", "as_advised", "less", "more")

    def get_method(self, sample: PruningSample) -> str:
        return f"{METHOD} {TOLD_AS}"

    def to_representation(self, sample: PruningSample) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(sample)
        if sample.removed_is_known:
            return shown
        reason = f"The log does not say what was taken off. {shown['reason']}"
        return {**shown, **dict.fromkeys(self.OF_LOGS), "reason": reason}


class CutBackFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(required=True)
    block = BlockFilter()
    season = SeasonYearFilter()


class MayAsk(permissions.BasePermission):
    """Nothing is stored, so that whoever reads schedules may ask, whatever the method."""

    def has_permission(self, request: Request, view: Any) -> bool:
        caller = caller_of(request)
        if view.action is None or caller.may_ever("reads", Area.SCHEDULE):
            return True
        code = "insufficient-scope" if caller.token_id else "not-allowed"
        raise Problem(code, "Nothing lets you do this with schedule records.")


class CutBackViewSet(ComputedViewSet):
    """Cut-back from measured shoots: ask with POST, and compare with the season's logs.

    The list has a row for each pruning log that tells of shoots: what came off, and what the
    species' rule advises. A POST answers what to take off each shoot of a sample; it stores
    nothing. A species without a rule, or to which none applies, says so.
    """

    serializer_class = PruningSampleSerializer
    filterset_class = CutBackFilter
    permission_classes: Any = (permissions.IsAuthenticated, MayAsk)

    def get_serializer_class(self) -> Any:
        return ShootSampleSerializer if self.action == "create" else PruningSampleSerializer

    def rows(self, asked: dict[str, Any]) -> list[PruningSample]:
        farm, block = asked["farm"], asked["block"]
        today = clock.today(farm.time_zone)
        return pruning_samples(farm, today, year=asked["season"], block=block)

    @extend_schema(request=ShootSampleSerializer, responses=AdviceSerializer)
    def create(self, request: Request) -> Response:
        """What to take off each shoot of a sample."""
        question = self.get_serializer(data=request.data)
        question.is_valid(raise_exception=True)
        block, shoots = question.validated_data["block"], question.validated_data["shoots"]
        self._require_readable(block)
        found = block_rule(block, clock.today(block.farm.time_zone))
        try:
            advice = cut_back([Shoot(**shoot) for shoot in shoots], found.rule)
        except CutBackError as error:
            raise _fault(error) from error
        return Response({**CutBackSerializer(advice).data, **_about(block, found)})

    def _require_readable(self, block: Block) -> None:
        farms = Farm.objects.where_caller_may("reads", Area.SCHEDULE, self.caller)
        if not farms.filter(pk=block.farm_id).exists():
            raise Problem("not-allowed", "You may see this block but not its schedule.")


def _about(block: Block, found: BlockRule) -> dict[str, Any]:
    return {
        "block": str(block.pk),
        "block_code": block.code,
        "species": found.species.code if found.species else None,
        "method": METHOD,
        "inputs": FigureInForceSerializer(found.figures, many=True).data,
    }


def _fault(error: CutBackError) -> ValidationError:
    """The shoot at fault by its place, as the sender counts them: from nought."""
    text = serializers.ErrorDetail(f"{str(error).capitalize()}.", "out-of-range")
    if error.shoot is None:
        return ValidationError({"shoots": [text]})
    return ValidationError({"shoots": {str(error.shoot - 1): {"length_cm": [text]}}})
