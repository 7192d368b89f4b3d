"""What is to be done, and the change feed's own tables."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now
from uuid_utils.compat import uuid7

from records.choices import JobState
from records.models.base import mark_trigger, stamp_trigger


class Job(models.Model):
    """A piece of background work or an outgoing message: the truth that the broker only points at.

    Waiting jobs of one kind and key are one job, so a thousand changes cause one rebuild.
    """

    id = models.UUIDField(primary_key=True, default=uuid7)
    kind = models.CharField(max_length=40)
    key = models.CharField(max_length=100)
    payload = models.JSONField(default=dict)
    state = models.CharField(max_length=8, choices=JobState, default=JobState.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    run_after = models.DateTimeField(db_default=Now())
    lease_until = models.DateTimeField(null=True)
    lease = models.UUIDField(null=True)
    error = models.TextField(blank=True)
    queued_at = models.DateTimeField(db_default=Now())
    finished_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "key"], condition=Q(state="waiting"), name="job_waits_once"
            )
        ]
        indexes = [
            models.Index(
                fields=["run_after"],
                condition=Q(state__in=["waiting", "running"]),
                name="job_open",
            ),
            models.Index(
                fields=["finished_at"],
                condition=Q(finished_at__isnull=False),
                name="job_finished",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"


class FarmTick(models.Model):
    """The last change tick of a farm. Its row lock, held to commit, puts commits in order."""

    farm = models.OneToOneField(
        "records.Farm", models.CASCADE, primary_key=True, db_constraint=False, related_name="+"
    )
    tick = models.BigIntegerField()

    def __str__(self) -> str:
        return str(self.tick)


class Tombstone(models.Model):
    """A deleted row of a farm, for clients that keep copies."""

    id = models.BigAutoField(primary_key=True)
    farm = models.ForeignKey("records.Farm", models.CASCADE, db_constraint=False, related_name="+")
    kind = models.CharField(max_length=63)
    row_id = models.UUIDField()
    deleted_at = models.DateTimeField(db_default=Now())
    is_derived = models.BooleanField(
        default=False, db_default=False, help_text="Nothing is to be rebuilt since it is gone."
    )
    tick = models.BigIntegerField(null=True)

    class Meta:
        triggers = [mark_trigger(), stamp_trigger(derived="is_derived")]
        indexes = [models.Index(fields=["farm", "tick", "row_id"], name="tombstone_tick")]

    def __str__(self) -> str:
        return f"{self.kind} {self.row_id}"
