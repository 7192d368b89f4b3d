"""`blocks/{id}/fill`: trees planted from rows and positions."""

from typing import Any, ClassVar

from django.db import transaction
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.rest.problems import Problem
from orchard.rest.serializers import IdField, Strict, VisibleRelatedField
from orchard.rest.viewsets import fingerprint_of
from records.models import Cultivar
from records.services import filling
from records.spans import MAX_NUMBER, SpanError, parse_spans

SPANS: dict[str, Any] = {
    "description": 'A number, a text of numbers and ranges ("1-6, 8"), or a list of numbers.',
    "oneOf": [
        {"type": "string"},
        {"type": "integer", "minimum": 0, "maximum": MAX_NUMBER},
        {
            "type": "array",
            "items": {"type": "integer", "minimum": 0, "maximum": MAX_NUMBER},
            "minItems": 1,
        },
    ],
}


@extend_schema_field(SPANS)
class SpansField(serializers.Field):
    """Rows or positions. Gaps are what is not named."""

    default_error_messages: ClassVar[dict[str, Any]] = {
        "invalid": "Give a number, a range such as 1-25, or a list of numbers.",
    }

    def to_internal_value(self, data: Any) -> list[int]:
        try:
            return parse_spans(self._as_text(data))
        except SpanError as error:
            raise serializers.ValidationError(str(error), "invalid") from None

    def _as_text(self, data: Any) -> str:
        numbers = data if isinstance(data, list) else [data]
        if isinstance(data, str):
            return data
        if any(isinstance(each, bool) or not isinstance(each, int) or each < 0 for each in numbers):
            self.fail("invalid")
        return ", ".join(map(str, numbers))

    def to_representation(self, value: Any) -> Any:
        return value


class FillingSerializer(Strict):
    id = IdField(required=False, help_text="Made by the client: sent again, nothing is planted.")
    rows = SpansField()
    positions = SpansField()
    cultivar = VisibleRelatedField(
        queryset=Cultivar.objects.all(), required=False, allow_null=True, default=None
    )
    rootstock = serializers.CharField(max_length=80, required=False, allow_blank=True, default="")
    planted_on = serializers.DateField(required=False, allow_null=True, default=None)
    existing = serializers.ChoiceField(
        choices=[
            ("refuse", "places where trees stand are refused"),
            ("keep", "trees that stand there stay as they are"),
        ],
        default="refuse",
    )

    def planting(self) -> filling.Planting:
        names = ("rows", "positions", "cultivar", "rootstock", "planted_on")
        return filling.Planting(**{name: self.validated_data[name] for name in names})


class PlaceSerializer(serializers.Serializer):
    row = serializers.IntegerField()
    position = serializers.IntegerField()


class FilledSerializer(serializers.Serializer):
    block = serializers.UUIDField()
    created = serializers.IntegerField(help_text="Trees planted.")
    kept = PlaceSerializer(many=True, help_text="Places where trees stood already.")


class Fillable:
    """The action of blocks that plants many trees at once."""

    @extend_schema(
        request=FillingSerializer, responses={201: FilledSerializer, 200: FilledSerializer}
    )
    @action(detail=True, methods=["post"])
    def fill(self, request: Request, pk: Any) -> Response:
        """Plant a tree at every place of rows x positions, all of them or none."""
        view: Any = self
        serializer = FillingSerializer(data=request.data, context=view.get_serializer_context())
        with transaction.atomic():
            block = view._locked(request)
            serializer.is_valid(raise_exception=True)
            filled = _fill(block, serializer, fingerprint_of(dict(request.data, block=str(pk))))
        code = status.HTTP_200_OK if filled.is_repeated else status.HTTP_201_CREATED
        return Response(_answer(block.pk, filled), status=code)


def _fill(block: Any, serializer: FillingSerializer, fingerprint: bytes) -> filling.Filled:
    values = serializer.validated_data
    try:
        return filling.fill(
            block,
            serializer.planting(),
            keep_existing=values["existing"] == "keep",
            key=values.get("id"),
            fingerprint=fingerprint,
        )
    except filling.FillingClashError:
        text = "This id is already in use for other content."
        raise Problem(
            "id-taken", text, errors=[{"pointer": "/id", "code": "id-taken", "detail": text}]
        ) from None


def _answer(block_id: Any, filled: filling.Filled) -> dict[str, Any]:
    kept = [{"row": row, "position": position} for row, position in filled.kept]
    return FilledSerializer({"block": block_id, "created": filled.created, "kept": kept}).data
