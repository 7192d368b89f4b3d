"""Invitations: how people join a farm or a co-op."""

import datetime as dt
import secrets
from typing import Any

from django.db import models
from django.db.models import Q

from orchard.access import Area
from records.choices import FarmRoleName
from records.models.base import Record, audited
from records.models.people import Person, hash_secret
from records.querysets import InvitationQuerySet

INVITATION_DAYS = 14
MAX_INVITATION_DAYS = 60


@audited(farm=None, exclude=("secret_hash", "mailed_hash"))
class Invitation(Record):
    """A link by which one person joins a farm or a co-op's staff, once and within its time.

    Of the link's secret only a hash is kept. The mail has a secret of its own, made when it is
    sent, so that none waits in a queue; either link serves, and both end together.
    """

    area = Area.PEOPLE

    farm: Any = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="+"
    )
    co_op: Any = models.ForeignKey(
        "records.CoOp", models.PROTECT, null=True, blank=True, related_name="+"
    )
    role = models.CharField(
        max_length=10, choices=FarmRoleName, blank=True, help_text="On the farm; none in a co-op."
    )
    name = models.CharField(max_length=120, blank=True)
    email = models.EmailField(blank=True, help_text="Where the link is mailed to, if given.")
    expires_at = models.DateTimeField()
    secret_hash = models.CharField(max_length=64, editable=False)
    mailed_hash = models.CharField(max_length=64, blank=True, editable=False)
    mailed_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)
    accepted_at = models.DateTimeField(null=True, blank=True, editable=False)
    accepted_by = models.ForeignKey(
        Person, models.SET_NULL, null=True, blank=True, editable=False, related_name="+"
    )
    created_by = models.ForeignKey(
        Person, models.SET_NULL, null=True, blank=True, editable=False, related_name="+"
    )

    objects = InvitationQuerySet.as_manager()

    class Meta(Record.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(farm__isnull=False) ^ Q(co_op__isnull=False),
                name="invitation_to_one_farm_or_one_co_op",
                violation_error_message="An invitation is to one farm or to one co-op.",
            ),
            models.CheckConstraint(
                condition=Q(farm__isnull=False, role__in=FarmRoleName.values)
                | Q(farm__isnull=True, role=""),
                name="invitation_to_a_role_on_a_farm",
                violation_error_message="Give a role on the farm; staff of a co-op need none.",
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.email or "invitation"

    def state_at(self, now: dt.datetime) -> str:
        if self.accepted_at:
            return "accepted"
        if self.revoked_at:
            return "revoked"
        return "open" if now < self.expires_at else "expired"

    def issue(self) -> str:
        """A new secret for the link, as it stands in its address; earlier ones are dead."""
        secret = secrets.token_urlsafe(32)
        self.secret_hash, self.mailed_hash = hash_secret(secret), ""
        return f"{self.id.hex}-{secret}"

    def issue_for_mail(self) -> str:
        secret = secrets.token_urlsafe(32)
        self.mailed_hash = hash_secret(secret)
        return f"{self.id.hex}-{secret}"
