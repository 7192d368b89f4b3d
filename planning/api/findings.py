"""`findings`: what in weighings and intakes somebody must look at, and what was decided."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, ClassVar

import django_filters
from django.db import transaction
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.problems import Problem, as_problem, body
from orchard.rest.serializers import IdField, RecordSerializer, Strict
from orchard.rest.viewsets import WritingViewSet
from planning.api.filters import SeasonFilter, after, before
from planning.api.season_summaries import KilosOfGrams
from planning.choices import FindingKind, FindingState, Sure
from planning.models import Finding
from planning.querysets import FindingQuerySet
from planning.services.finding_decisions import FindingConflictError, apply, dismiss, reverse
from planning.services.findings import lock_findings
from records.models import Block, CoOp, Farm, HarvestImport

MAX_DECISIONS = 200


class AboutSerializer(serializers.Serializer):
    kind = serializers.CharField(help_text="harvest-weights or intakes.")
    id = serializers.UUIDField()


class FixedRowSerializer(serializers.Serializer):
    """One record, at the version that the finding saw."""

    kind = serializers.CharField(help_text="harvest-weights or intakes.")
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    set = serializers.DictField(child=serializers.CharField(), help_text="Fields, and what to.")
    retire = serializers.BooleanField(help_text="Whether the record is to count no longer.")

    def get_fields(self) -> dict[str, Any]:
        """`from` is a word of Python's, so that no attribute can have its name."""
        was = serializers.DictField(child=serializers.CharField(), help_text="What they were.")
        return {**super().get_fields(), "from": was}


class FixSerializer(serializers.Serializer):
    sentence = serializers.CharField()
    changes = FixedRowSerializer(many=True)


@extend_schema_field({"type": "object", "additionalProperties": True})
class Evidence(serializers.JSONField):
    """Numbers with their units, the rows they were compared with, how many, and the threshold."""


class FindingSerializer(RecordSerializer):
    """What is decided about a finding is told to all who see it: they settle it together."""

    farm_code = serializers.CharField(source="farm.code", read_only=True)
    block_code = serializers.CharField(source="block.code", default=None)
    about = AboutSerializer(source="rows", many=True, read_only=True)
    evidence = Evidence(read_only=True)
    fix = FixSerializer(read_only=True, allow_null=True)
    effect_kg = KilosOfGrams(source="effect_g", help_text="By how much the fix changes the kilos.")

    class Meta(RecordSerializer.Meta):
        model = Finding
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "farm_code",
            "co_op",
            "block",
            "block_code",
            "harvest_import",
            "season_label",
            "season_year",
            "about_on",
            "kind",
            "state",
            "sure",
            "sentence",
            "about",
            "evidence",
            "fix",
            "effect_kg",
            "note",
            "decided_by",
            "decided_at",
        )
        read_only_fields = fields


class FindingFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm)
    co_op = VisibleFilter(CoOp, method="filter_co_op", label="A co-op: of its members.")
    block = VisibleFilter(Block)
    harvest_import = VisibleFilter(HarvestImport)
    season = SeasonFilter()
    kind = django_filters.MultipleChoiceFilter(
        choices=FindingKind.choices, label="May be given several times."
    )
    state = django_filters.MultipleChoiceFilter(
        choices=FindingState.choices, label="May be given several times."
    )
    sure = django_filters.ChoiceFilter(choices=Sure.choices)
    about_on_after = after("about_on")
    about_on_before = before("about_on")

    def filter_co_op(self, rows: FindingQuerySet, name: str, co_op: CoOp) -> QuerySet[Any]:
        return rows.of_co_op(co_op.pk)


class DecisionSerializer(Strict):
    note = serializers.CharField(
        max_length=500, allow_blank=True, default="", help_text="Why; a dismissal needs it."
    )


class DecisionsSerializer(DecisionSerializer):
    decision = serializers.ChoiceField(choices=("apply", "dismiss", "reverse"))
    ids = serializers.ListField(child=IdField(), allow_empty=False, max_length=MAX_DECISIONS)


@extend_schema_field({"type": ["object", "null"], "additionalProperties": True})
class ProblemField(serializers.JSONField):
    """Problem details, where the decision was refused."""


class DecidedSerializer(serializers.Serializer):
    """What became of one of several decisions."""

    id = serializers.UUIDField()
    status = serializers.IntegerField(help_text="As if it had been decided alone.")
    state = serializers.CharField(allow_null=True, help_text="The finding's, if it was decided.")
    problem = ProblemField(allow_null=True)


DECISIONS: dict[str, Callable[..., Finding]] = {
    "apply": lambda finding, caller, note: apply(
        finding, caller=caller, note=note, today=clock.today(finding.farm.time_zone)
    ),
    "dismiss": lambda finding, caller, note: dismiss(finding, caller=caller, note=note),
    "reverse": lambda finding, caller, note: reverse(finding, caller=caller, note=note),
}


class FindingViewSet(WritingViewSet):
    """Slips found in weighings and intakes, each with its evidence and, mostly, a fix.

    A fix is applied while its rows are as the finding saw them, and taken back while they are as
    it left them. A dismissal says why. Nothing is corrected by itself.
    """

    area: ClassVar[Area | None] = Area.HARVEST
    queryset = Finding.objects.select_related("farm", "block")
    serializer_class = FindingSerializer
    filterset_class = FindingFilter
    orderings = ("about_on", "created_at")
    tabular = True

    @extend_schema(request=DecisionSerializer, responses=FindingSerializer)
    @action(detail=True, methods=["post"])
    def apply(self, request: Request, pk: Any) -> Response:
        """Put the rows right, as the fix says. 409 where one of them was changed since."""
        return self._decided_alone("apply", request)

    @extend_schema(request=DecisionSerializer, responses=FindingSerializer)
    @action(detail=True, methods=["post"])
    def dismiss(self, request: Request, pk: Any) -> Response:
        """Nothing is wrong; the note says why."""
        return self._decided_alone("dismiss", request)

    @extend_schema(request=DecisionSerializer, responses=FindingSerializer)
    @action(detail=True, methods=["post"])
    def reverse(self, request: Request, pk: Any) -> Response:
        """Take a fix back, while nobody changed its rows since, or open a dismissed finding."""
        return self._decided_alone("reverse", request)

    @extend_schema(request=DecisionsSerializer, responses=DecidedSerializer(many=True))
    @action(detail=False, methods=["post"])
    def decisions(self, request: Request) -> Response:
        """One decision about several findings, each by itself: what is refused stops no other."""
        sent = DecisionsSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        wanted = sent.validated_data
        results = [
            self._decided_among(key, wanted["decision"], wanted["note"])
            for key in dict.fromkeys(wanted["ids"])
        ]
        return Response({"results": DecidedSerializer(results, many=True).data})

    def _decided_alone(self, decision: str, request: Request) -> Response:
        sent = DecisionSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        with transaction.atomic(), conflicts():
            finding = self._locked(request)
            DECISIONS[decision](finding, self.caller, sent.validated_data["note"])
        return self._answer(finding.pk, status.HTTP_200_OK)

    def _decided_among(self, key: Any, decision: str, note: str) -> dict[str, Any]:
        self.kwargs["pk"] = key
        try:
            with transaction.atomic(), conflicts():
                finding = self._locked(self.request)
                DECISIONS[decision](finding, self.caller, note)
        except Exception as error:
            problem = as_problem(error)
            if problem is None:
                raise
            document = body(problem.code, str(problem.detail), errors=problem.errors)
            return {"id": key, "status": problem.status_code, "state": None, "problem": document}
        return {"id": key, "status": 200, "state": finding.state, "problem": None}

    def _locked(self, request: Request) -> Any:
        """The farm's findings first, as a rebuild takes them: else the two could wait in a ring."""
        lock_findings(self.get_object().farm_id)
        return super()._locked(request)


@contextmanager
def conflicts() -> Iterator[None]:
    try:
        yield
    except FindingConflictError as error:
        raise Problem("conflict", str(error)) from None
