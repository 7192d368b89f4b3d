"""The shared serializer: strict fields, links within sight, and the database's own rules."""

import copy
from collections.abc import Callable, Iterable
from typing import Any, ClassVar

from django.core.exceptions import NON_FIELD_ERRORS
from django.core.exceptions import ValidationError as ModelValidationError
from django.db import models
from django.db.models import CheckConstraint, Model, QuerySet, UniqueConstraint
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.relations import MANY_RELATION_KWARGS

from orchard.access import Caller

MAX_LINKS = 1_000  # in one list of ids


class IdField(serializers.UUIDField):
    """A UUID as text; DRF's own takes whole numbers too."""

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, str):
            self.fail("invalid", value=data)
        return super().to_internal_value(data)


class VisibleRelatedField(serializers.PrimaryKeyRelatedField):
    """A link by id. What the caller may not see answers as what does not exist."""

    default_error_messages: ClassVar[dict[str, Any]] = {
        "does_not_exist": "There is no such record.",
        "incorrect_type": "An id is a UUID.",
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("pk_field", IdField())
        super().__init__(**kwargs)

    @classmethod
    def many_init(cls, *args: Any, **kwargs: Any) -> "VisibleManyField":
        options = {name: kwargs[name] for name in MANY_RELATION_KWARGS if name in kwargs}
        return VisibleManyField(child_relation=cls(*args, **kwargs), **options)

    def get_queryset(self) -> QuerySet[Any]:
        queryset: Any = super().get_queryset()
        rows: QuerySet[Any] = queryset.visible_to(self.context["request"].auth)
        return rows


class VisibleManyField(serializers.ManyRelatedField):
    """Links by id, all looked up in one query."""

    default_error_messages: ClassVar[dict[str, Any]] = {
        "max_length": f"There are more than {MAX_LINKS} ids.",
    }

    def to_internal_value(self, data: Any) -> list[Any]:
        if not isinstance(data, list):
            self.fail("not_a_list", input_type=type(data).__name__)
        if not self.allow_empty and not data:
            self.fail("empty")
        if len(data) > MAX_LINKS:
            self.fail("max_length")
        keys = dict(enumerate(data))
        child: Any = self.child_relation
        self._collect(keys, child.pk_field.to_internal_value)
        rows = child.get_queryset().in_bulk(keys.values())
        self._collect(keys, lambda key: rows.get(key) or child.fail("does_not_exist"))
        return list(dict.fromkeys(keys.values()))

    def _collect(self, values: dict[int, Any], convert: Callable[[Any], Any]) -> None:
        """Convert every value in place, or name all those that cannot be."""
        errors: dict[Any, Any] = {}
        for index, value in values.items():
            try:
                values[index] = convert(value)
            except serializers.ValidationError as error:
                errors[index] = error.detail
        if errors:
            raise serializers.ValidationError(errors)


class Warning_(serializers.Serializer):  # noqa: N801 - the component is called Warning
    """Something odd but possible, for a person to look at."""

    code = serializers.CharField()
    pointer = serializers.CharField(help_text="JSON Pointer to the field.")
    detail = serializers.CharField()

    class Meta:
        ref_name = "Warning"


class Strict(serializers.Serializer):
    """What may not be written is refused, not passed over."""

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        unknown = unknown_fields(self, data)
        if unknown:
            raise serializers.ValidationError(
                {
                    name: [
                        serializers.ErrorDetail("There is no such field to write.", "unknown-field")
                    ]
                    for name in unknown
                }
            )
        values: dict[str, Any] = super().to_internal_value(data)
        return values


class LineSerializer(Strict, serializers.ModelSerializer):
    """A row that belongs to a record and is sent with it. `Meta.blame` as for records."""

    serializer_related_field = VisibleRelatedField

    class Meta:
        validators: ClassVar[list[Any]] = []

    def get_unique_together_validators(self) -> list[Any]:
        return []

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        model: type[Model] = self.Meta.model
        checks = [c for c in model._meta.constraints if isinstance(c, CheckConstraint)]
        check_rules(model(**attrs), [(model, checks)], getattr(self.Meta, "blame", {}))
        return attrs


class RecordSerializer(Strict, serializers.ModelSerializer):
    """One record.

    `Meta.rows` names what is stored below the record and is no relation of the model's own;
    `Meta.shared` names the fields that a limited right shows (None: all of them);
    `Meta.fixed` those that cannot change after creation; `Meta.blame` says which field a check
    constraint's fault is reported at.
    """

    serializer_related_field = VisibleRelatedField

    id = IdField(required=False, help_text="Made by the client, if it likes.")
    warnings = Warning_(many=True, read_only=True)

    base_fields = ("id", "version", "created_at", "updated_at", "warnings")

    class Meta:
        validators: ClassVar[list[Any]] = []

    @property
    def caller(self) -> Caller:
        caller: Caller = self.context["request"].auth
        return caller

    def get_extra_kwargs(self) -> dict[str, Any]:
        extra: dict[str, Any] = super().get_extra_kwargs()
        for name in ("version", "created_at", "updated_at"):
            extra.setdefault(name, {})["read_only"] = True
        return extra

    def get_unique_together_validators(self) -> list[Any]:
        """None: `check_constraints` below covers them, with better pointers."""
        return []

    def get_unique_for_date_validators(self) -> list[Any]:
        return []

    def to_representation(self, instance: Any) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(instance)
        shared = getattr(self.Meta, "shared", None)
        if shared is not None and getattr(instance, "limited", False):
            kept = {*shared, *self.base_fields}
            shown = {name: value if name in kept else None for name, value in shown.items()}
            shown["warnings"] = []
        return shown

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        self._check_fixed(attrs)
        candidate = self.candidate(attrs)
        check_same_farm(candidate, attrs)
        check_constraints(candidate, getattr(self.Meta, "blame", {}))
        return attrs

    def candidate(self, attrs: dict[str, Any]) -> Any:
        """The record as it would be, not yet saved."""
        model: type[Model] = self.Meta.model
        many = self.row_names()
        candidate = copy.copy(self.instance) if self.instance is not None else model()
        for name, value in attrs.items():
            if name not in many:
                setattr(candidate, name, value)
        return candidate

    def row_names(self) -> set[str]:
        """Links and lines, which are rows of their own and stored after the record."""
        model: type[Model] = self.Meta.model
        below = {f.name for f in model._meta.get_fields() if f.many_to_many or f.one_to_many}
        return below | set(getattr(self.Meta, "rows", ()))

    def _check_fixed(self, attrs: dict[str, Any]) -> None:
        if self.instance is None:
            return
        for name in ("id", "farm", *getattr(self.Meta, "fixed", ())):
            if name in attrs and attrs[name] != getattr(self.instance, name):
                raise field_error(name, "This cannot change once the record exists.", "fixed")


def unknown_fields(serializer: serializers.Serializer, data: Any) -> list[str]:
    if not isinstance(data, dict):
        return []
    writable = {name for name, field in serializer.fields.items() if not field.read_only}
    return sorted(set(data) - writable)


def field_error(field: str, text: str, code: str) -> serializers.ValidationError:
    return serializers.ValidationError({field: [serializers.ErrorDetail(text, code)]})


def check_same_farm(record: Any, attrs: Iterable[str]) -> None:
    """Every link of a farm's record stays within the farm (or leads to reference data)."""
    farm_id = getattr(record, "farm_id", None)
    if farm_id is None:
        return
    for name in attrs:
        linked = _linked(record, name)
        owner = getattr(linked, "farm_id", None)
        if owner is not None and owner != farm_id:
            raise field_error(name, "This belongs to another farm.", "other-farm")


def _linked(record: Any, name: str) -> Any:
    fields = {field.name for field in record._meta.fields if field.is_relation}
    return getattr(record, name) if name in fields else None


def check_constraints(record: Model, blame: dict[str, str]) -> None:
    """Run the model's constraints, so that a violation is a 422 that names a field."""
    check_rules(record, record.get_constraints(), blame)


def check_rules(record: Model, rules: Iterable[Any], blame: dict[str, str]) -> None:
    errors: dict[str, list[Any]] = {}
    for model, constraints in rules:
        for constraint in constraints:
            try:
                constraint.validate(model, record)
            except ModelValidationError as error:
                field = blame.get(constraint.name) or _blamed(constraint, error)
                errors.setdefault(field, []).extend(
                    serializers.ErrorDetail(text, _code(constraint, error))
                    for text in error.messages
                )
    if errors:
        raise serializers.ValidationError(errors)


def _blamed(constraint: models.BaseConstraint, error: ModelValidationError) -> str:
    if hasattr(error, "error_dict"):
        return next(name for name in error.error_dict if name != NON_FIELD_ERRORS)
    if isinstance(constraint, UniqueConstraint) and constraint.fields:
        return constraint.fields[-1]
    return "non_field_errors"


def _code(constraint: models.BaseConstraint, error: ModelValidationError) -> str:
    if isinstance(constraint, UniqueConstraint):
        return "already-taken"
    if isinstance(constraint, CheckConstraint):
        return "rule-broken"
    return constraint.violation_error_code or "rule-broken"


@extend_schema_field({"type": "object", "additionalProperties": True})
class ObjectField(serializers.JSONField):
    """A JSON object whose shape the service does not prescribe."""
