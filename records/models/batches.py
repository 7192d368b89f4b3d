"""Several files or a ZIP sent together, and what became of each file."""

from django.contrib.postgres.fields import ArrayField
from django.db import models

from orchard.access import Area
from records.choices import BatchFileState, OnProblem
from records.models.base import Record, audited
from records.querysets import BatchFileQuerySet, FileBatchQuerySet


@audited(farm=None)
class FileBatch(Record):
    """Files sent in one step, each to be matched to a farm; and how all of them are imported."""

    area = Area.IMPORT

    co_op = models.ForeignKey(
        "records.CoOp",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Whose members' files these are; its staff then see the batch.",
    )
    series = models.CharField(max_length=60, default="harvest")
    dry_run = models.BooleanField(default=False)
    on_problem = models.CharField(max_length=6, choices=OnProblem, default=OnProblem.REJECT)
    created_by = models.ForeignKey(
        "records.Person", models.SET_NULL, null=True, editable=False, related_name="+"
    )
    created_by_token = models.ForeignKey(
        "records.Token", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    objects = FileBatchQuerySet.as_manager()

    class Meta(Record.Meta):
        verbose_name = "file batch"
        verbose_name_plural = "file batches"
        indexes = [models.Index(fields=["created_at", "id"], name="file_batch_listed")]

    def __str__(self) -> str:
        return f"files of {self.created_at:%Y-%m-%d %H:%M}"


@audited(farm=None, exclude=("content",))
class BatchFile(Record):
    """One file of a batch. Its bytes wait here until it has a farm, and then go to its import."""

    area = Area.IMPORT

    batch = models.ForeignKey(FileBatch, models.CASCADE, related_name="files")
    place = models.PositiveSmallIntegerField(help_text="Counted from 1, as sent.")
    file_name = models.CharField(max_length=255)
    folders = ArrayField(models.CharField(max_length=255), default=list)
    archive = models.CharField(max_length=255, blank=True, help_text="The ZIP it came in.")
    size_bytes = models.PositiveIntegerField()
    file_sha256 = models.CharField(max_length=64)
    content = models.BinaryField(null=True)

    state = models.CharField(max_length=12, choices=BatchFileState, default=BatchFileState.QUESTION)
    reason = models.CharField(max_length=1000, help_text="Why it is so, in plain words.")
    candidates = models.JSONField(default=list)
    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="+"
    )
    # Checked together with the farm (migration 0011), so that no file leads to another farm.
    harvest_import = models.ForeignKey(
        "records.HarvestImport",
        models.SET_NULL,
        null=True,
        editable=False,
        db_constraint=False,
        related_name="+",
    )

    objects = BatchFileQuerySet.as_manager()

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(fields=["batch", "place"], name="batch_file_once_a_place"),
            models.CheckConstraint(
                condition=models.Q(state=BatchFileState.QUESTION, content__isnull=False)
                | (~models.Q(state=BatchFileState.QUESTION) & models.Q(content__isnull=True)),
                name="batch_file_kept_while_it_waits",
            ),
        ]
        indexes = [
            models.Index(
                fields=["created_at"],
                condition=models.Q(state=BatchFileState.QUESTION),
                name="batch_file_waiting",
            )
        ]

    def __str__(self) -> str:
        return self.path

    @property
    def path(self) -> str:
        """Where the file was: the ZIP, its folders, its name."""
        return "/".join([*([self.archive] if self.archive else []), *self.folders, self.file_name])
