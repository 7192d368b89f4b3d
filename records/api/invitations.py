"""`invitations`: links by which people join a farm or a co-op."""

import datetime as dt
from typing import Any, ClassVar

from django.db import transaction
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.filters import FlagFilter, VisibleFilter
from orchard.rest.problems import Problem
from orchard.rest.serializers import RecordSerializer, field_error
from records.api.base import FarmFilter, FarmRecordViewSet
from records.models import CoOp, Invitation
from records.models.invitations import MAX_INVITATION_DAYS
from records.services import invitations


class InvitationSerializer(RecordSerializer):
    expires_at = serializers.DateTimeField(required=False)
    state = serializers.SerializerMethodField()
    link = serializers.SerializerMethodField(
        help_text="Shown once, in the answer to the request that made it; then null."
    )
    delivery = serializers.SerializerMethodField(
        help_text="How the link reaches the person; shown with it."
    )

    class Meta(RecordSerializer.Meta):
        model = Invitation
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "role",
            "name",
            "email",
            "expires_at",
            "state",
            "mailed_at",
            "accepted_at",
            "revoked_at",
            "link",
            "delivery",
        )
        read_only_fields = ("mailed_at", "accepted_at", "revoked_at")
        fixed = ("co_op", "role", "email")
        blame: ClassVar[dict[str, str]] = {
            "invitation_to_one_farm_or_one_co_op": "farm",
            "invitation_to_a_role_on_a_farm": "role",
        }

    def get_state(self, invitation: Invitation) -> str:
        return invitation.state_at(timezone.now())

    def get_link(self, invitation: Invitation) -> str | None:
        link: str | None = self.context.get("link")
        return link

    def get_delivery(self, invitation: Invitation) -> str | None:
        return invitations.delivery(invitation) if self.context.get("link") else None

    def validate_expires_at(self, value: dt.datetime) -> dt.datetime:
        if not invitations.may_expire_at(value):
            text = f"An invitation expires within {MAX_INVITATION_DAYS} days from now."
            raise serializers.ValidationError(text, "expiry-out-of-range")
        return value

    def candidate(self, attrs: dict[str, Any]) -> Invitation:
        invitation: Invitation = super().candidate(attrs)
        if invitation.expires_at is None:
            invitation.expires_at = invitations.default_expiry()
        return invitation

    def _check_fixed(self, attrs: dict[str, Any]) -> None:
        if self.instance is not None and (self.instance.accepted_at or self.instance.revoked_at):
            raise field_error("state", "The invitation is used up or revoked.", "closed")
        super()._check_fixed(attrs)


class InvitationFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)
    accepted = FlagFilter(field_name="accepted_at", lookup_expr="isnull", exclude=True)
    revoked = FlagFilter(field_name="revoked_at", lookup_expr="isnull", exclude=True)


class InvitationViewSet(FarmRecordViewSet):
    """How people join. Deleting an invitation revokes it at once; its row stays."""

    area = Area.PEOPLE
    queryset = Invitation.objects.all()
    serializer_class = InvitationSerializer
    filterset_class = InvitationFilter
    link: str | None = None

    def get_serializer_context(self) -> dict[str, Any]:
        return {**super().get_serializer_context(), "link": self.link}

    def write(self, serializer: Any, **extra: Any) -> Any:
        if serializer.instance is not None:
            return super().write(serializer, **extra)
        invitation = serializer.candidate({**serializer.validated_data, **extra})
        invitation.created_by_id = self.caller.person_id
        self.link = invitations.invite(invitation)
        return invitation

    @extend_schema(request=None, responses=InvitationSerializer)
    @action(detail=True, methods=["post"])
    def resend(self, request: Request, pk: Any) -> Response:
        """A new link in place of the old one, which is dead from now on."""
        if request.data:
            unknown = ErrorDetail("There is no such field to write.", "unknown-field")
            raise ValidationError({name: [unknown] for name in request.data})
        with transaction.atomic():
            found = self._locked(request)
            try:
                self.link = invitations.resend(found)
            except invitations.NotJoinedError as error:
                raise Problem("conflict", str(error)) from None
        return self._answer(pk, status.HTTP_200_OK)

    def remove(self, record: Any) -> None:
        """Revoke."""
        invitations.revoke(Invitation.objects.filter(pk=record.pk))
