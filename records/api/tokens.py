"""`tokens`: apps' keys to one farm or one co-op."""

import datetime as dt
from typing import Any, ClassVar

from django.utils import timezone
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import FlagFilter, VisibleFilter
from orchard.rest.serializers import RecordSerializer, field_error
from records.api.base import FarmFilter, FarmRecordViewSet
from records.choices import Scope
from records.models import CoOp, Token
from records.models.people import TOKEN_DAYS


class TokenSerializer(RecordSerializer):
    scopes = serializers.ListField(
        child=serializers.ChoiceField(choices=Scope.choices),
        allow_empty=False,
        max_length=len(Scope),
    )
    expires_at = serializers.DateTimeField(required=False)
    secret = serializers.SerializerMethodField(
        help_text="Shown once, in the answer to the request that made the token; then null."
    )

    class Meta(RecordSerializer.Meta):
        model = Token
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "name",
            "scopes",
            "expires_at",
            "revoked_at",
            "last_used_at",
            "secret",
        )
        read_only_fields = ("revoked_at", "last_used_at")
        fixed = ("co_op", "scopes", "expires_at")
        blame: ClassVar[dict[str, str]] = {"token_of_one_farm_or_one_co_op": "farm"}

    def get_secret(self, token: Token) -> str | None:
        secret: str | None = self.context.get("secret")
        return secret

    def validate_expires_at(self, value: dt.datetime) -> dt.datetime:
        now = timezone.now()
        if not now < value <= now + dt.timedelta(days=TOKEN_DAYS):
            raise serializers.ValidationError(
                f"A token expires within {TOKEN_DAYS} days from now.", "expiry-out-of-range"
            )
        return value

    def candidate(self, attrs: dict[str, Any]) -> Token:
        token: Token = super().candidate(attrs)
        if token.expires_at is None:
            token.expires_at = timezone.now() + dt.timedelta(days=TOKEN_DAYS)
        return token

    def _check_fixed(self, attrs: dict[str, Any]) -> None:
        if self.instance is not None and self.instance.revoked_at:
            raise field_error("revoked_at", "The token has been revoked.", "revoked")
        super()._check_fixed(attrs)


class TokenFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)
    revoked = FlagFilter(field_name="revoked_at", lookup_expr="isnull", exclude=True)


class TokenViewSet(FarmRecordViewSet):
    """Apps' keys. Deleting one revokes it at once; its row stays."""

    area = Area.PEOPLE
    queryset = Token.objects.all()
    serializer_class = TokenSerializer
    filterset_class = TokenFilter
    secret: str | None = None

    def get_serializer_context(self) -> dict[str, Any]:
        return {**super().get_serializer_context(), "secret": self.secret}

    def write(self, serializer: Any, **extra: Any) -> Any:
        if serializer.instance is not None:
            return super().write(serializer, **extra)
        token = serializer.candidate({**serializer.validated_data, **extra})
        secret = token.issue()
        token.created_by_id = self.caller.person_id
        token.save(force_insert=True)
        self.secret = secret
        return token

    def remove(self, record: Any) -> None:
        """Revoke."""
        Token.objects.filter(pk=record.pk, revoked_at=None).update(revoked_at=timezone.now())
