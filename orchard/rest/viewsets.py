"""The shared viewset: create by client-made id, edit by version, see only what may be seen."""

import hashlib
import uuid
from typing import Any, ClassVar

import orjson
from django.db import IntegrityError, transaction
from django.db.models import Model, QuerySet
from rest_framework import mixins, permissions, renderers, status, viewsets
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area, Caller
from orchard.rest.callers import caller_of
from orchard.rest.pagination import chosen_ordering, sort_keys
from orchard.rest.problems import Problem
from orchard.rest.renderers import CSVRenderer, JSONRenderer, XLSXRenderer
from orchard.rest.rows import PlainRows

MAX_TABLE_ROWS = 50_000


class MayReach(permissions.BasePermission):
    """Some place must exist where the caller may do this at all: a token may lack the scope."""

    def has_permission(self, request: Request, view: Any) -> bool:
        caller = caller_of(request)
        if view.area is None or view.action is None:  # no such action: that is what is answered
            return True
        if request.method in permissions.SAFE_METHODS:
            allowed = caller.may_ever("reads", view.area) or caller.may_ever("own", view.area)
        else:
            allowed = caller.may_ever("writes", view.area) or caller.may_ever("own", view.area)
        if not allowed:
            code = "insufficient-scope" if caller.token_id else "not-allowed"
            raise Problem(code, f"Nothing lets you do this with {view.area} records.")
        return True


class RecordsView(viewsets.GenericViewSet):
    """What reading and writing have in common."""

    area: ClassVar[Area | None] = None
    orderings: ClassVar[tuple[str, ...]] = ("created_at",)
    tabular: ClassVar[bool] = False
    plain_rows: ClassVar[PlainRows | None] = None
    permission_classes = (permissions.IsAuthenticated, MayReach)
    lookup_value_converter = "uuid"

    @property
    def caller(self) -> Caller:
        return caller_of(self.request)

    def get_queryset(self) -> QuerySet[Any]:
        queryset: Any = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return queryset
        rows: QuerySet[Any] = queryset.visible_to(self.caller)
        return rows

    def read_page(self, rows: QuerySet[Any]) -> list[Any]:
        return self.plain_rows.read(rows) if self.plain_rows else list(rows)

    def get_renderers(self) -> list[renderers.BaseRenderer]:
        extra = [CSVRenderer(), XLSXRenderer()] if self.tabular and self.action == "list" else []
        return [JSONRenderer(), *extra]


class ReadOnlyViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, RecordsView):
    """Lists and single records, with ETags. Lists with `plain_rows` are read by these."""

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        if request.accepted_renderer.format in {"csv", "xlsx"}:
            return self._table(request)
        if self.plain_rows is None:
            return super().list(request, *args, **kwargs)
        page: Any = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        context = self.get_serializer_context()
        rows = self.plain_rows.shown(page, self.get_queryset, context)
        return self.get_paginated_response(rows)

    def _table(self, request: Request) -> Response:
        """The whole list at once: a spreadsheet has no next page."""
        ordering = chosen_ordering(request, self)
        rows = self.filter_queryset(self.get_queryset()).order_by(*sort_keys(ordering))
        found = list(rows[: MAX_TABLE_ROWS + 1])
        if len(found) > MAX_TABLE_ROWS:
            raise Problem("rule-broken", f"More than {MAX_TABLE_ROWS} rows; filter the list.")
        return Response(self.get_serializer(found, many=True).data)

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        record = self.get_object()
        tag = etag(record)
        if {tag, f"W/{tag}", "*"} & sent_tags(request, "If-None-Match"):
            return Response(status=status.HTTP_304_NOT_MODIFIED, headers={"ETag": tag})
        return Response(self.get_serializer(record).data, headers={"ETag": tag})


class WritingViewSet(ReadOnlyViewSet):
    """What creating, editing and deleting have in common."""

    created_code: ClassVar[int] = status.HTTP_201_CREATED
    changed_code: ClassVar[int] = status.HTTP_200_OK

    def stored(self) -> Any:
        """All rows of this resource, whoever may see them."""
        return self.get_queryset().model._default_manager.all()

    def write(self, serializer: Any, **extra: Any) -> Model:
        """Store what was checked; an app puts its own service here."""
        saved: Model = serializer.save(**extra)
        return saved

    def _locked(self, request: Request) -> Any:
        """The record, locked, writable and at the version the client expects."""
        record: Any = self.get_object()
        rows = self.stored()
        current = rows.select_for_update().filter(pk=record.pk).only("pk", "version").first()
        if current is None:
            raise Problem("not-found", "The record was deleted meanwhile.")
        expected = sent_tags(request, "If-Match")
        if expected and "*" not in expected and etag(current) not in expected:
            raise Problem(
                "version-stale",
                f"The record is at version {current.version} now.",
                headers={"ETag": etag(current)},
            )
        self._require_writable(record)
        return self.get_object() if current.version != record.version else record

    def _require_writable(self, record: Model) -> None:
        """The one door for writes; a row just written must itself lie behind it."""
        rows: Any = type(record)._default_manager.all()
        if not rows.writable_by(self.caller).filter(pk=record.pk).exists():
            raise Problem("not-allowed", "You may see this record's place but not write it there.")

    def _answer(self, key: Any, code: int) -> Response:
        """The record as stored, read anew: triggers set its version and times."""
        record = self.get_queryset().get(pk=key)
        headers = {"ETag": etag(record)}
        if self.action == "create" and code == self.created_code:
            headers["Location"] = f"{self.request.path}/{key}"
        return Response(self.get_serializer(record).data, status=code, headers=headers)


class CreatingViewSet(WritingViewSet):
    """Records that clients create, by ids of their own if they like."""

    def sent(self, request: Request) -> dict[str, Any]:
        """What a create's body says."""
        body: Any = request.data
        return body

    def fingerprint(self, sent: dict[str, Any]) -> bytes:
        """What tells a repeated create from a clash."""
        return fingerprint_of(sent)

    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        body = self.sent(request)
        fingerprint = self.fingerprint(body)
        if repeated := self._repeated(body.get("id"), fingerprint):
            return repeated
        try:
            record = self._create(body, fingerprint)
        except (IntegrityError, ValidationError):
            # Two phones, or one phone twice, at the same moment.
            if repeated := self._repeated(body.get("id"), fingerprint):
                return repeated
            raise
        return self._answer(record.pk, self.created_code)

    def _create(self, body: dict[str, Any], fingerprint: bytes) -> Model:
        serializer = self.get_serializer(data=body)
        serializer.is_valid(raise_exception=True)
        with transaction.atomic():
            record = self.write(serializer, fingerprint=fingerprint)
            self._require_writable(record)
        return record

    def _repeated(self, sent_id: Any, fingerprint: bytes) -> Response | None:
        """The answer to a create whose id is in use: the same content again, or a clash."""
        key = as_uuid(sent_id)
        if key is None:
            return None
        # One query: between two, another request may have stored the row.
        found = list(self.stored().filter(pk=key).values_list("fingerprint", flat=True))
        if not found:
            return None
        same = found[0] is not None and bytes(found[0]) == fingerprint
        if same and self.get_queryset().filter(pk=key).exists():
            return self._answer(key, status.HTTP_200_OK)
        raise Problem(
            "id-taken",
            "This id is already in use for other content.",
            errors=[{"pointer": "/id", "code": "id-taken", "detail": "Already in use."}],
        )


class ChangingViewSet(WritingViewSet):
    """Records that clients edit, at the version that they know."""

    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        with transaction.atomic():
            record = self._locked(request)
            serializer = self.get_serializer(record, data=request.data, partial=True)
            serializer.is_valid(raise_exception=True)
            self._require_writable(self.write(serializer))
        return self._answer(record.pk, self.changed_code)


class RecordViewSet(CreatingViewSet, ChangingViewSet):
    """Records that clients create, edit and delete. Subclasses say what, not how."""

    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        with transaction.atomic():
            record = self._locked(request)
            self.remove(record)
        return Response(status=status.HTTP_204_NO_CONTENT)

    def remove(self, record: Model) -> None:
        record.delete()


def etag(record: Any) -> str:
    return f'"{record.version}"'


def sent_tags(request: Request, header: str) -> set[str]:
    """Entity tags of a header. Weak ones stay as sent, so a strong comparison never takes them."""
    return {tag.strip() for tag in request.headers.get(header, "").split(",") if tag.strip()}


def fingerprint_of(data: dict[str, Any]) -> bytes:
    return hashlib.sha256(orjson.dumps(data, option=orjson.OPT_SORT_KEYS)).digest()


def as_uuid(value: Any) -> Any:
    try:
        return uuid.UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None
