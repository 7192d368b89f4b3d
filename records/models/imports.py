"""Members' files: what was sent, how it was read, what became of it."""

from typing import Any

from django.db import models
from django.db.models import F, Q

from orchard.access import Area
from records.choices import (
    ChangeKind,
    DateOrder,
    DecimalMark,
    Delimiter,
    ImportKind,
    ImportState,
    OnProblem,
    WeightUnit,
)
from records.models.base import FarmOwned, audited
from records.querysets import FileQuerySet, HarvestImportQuerySet, OfImportQuerySet


def kind_field() -> Any:
    return models.CharField(
        max_length=20,
        choices=ImportKind,
        default=ImportKind.HARVEST_WEIGHTS,
        db_default=ImportKind.HARVEST_WEIGHTS,
        help_text="What the rows of the file become.",
    )


class ReadingChoices(models.Model):
    """How a file is to be read where the file itself does not tell."""

    mapping = models.JSONField(
        default=dict, blank=True, help_text="The sender's headings and the columns they mean."
    )
    decimal_mark = models.CharField(max_length=1, choices=DecimalMark, blank=True)
    date_order = models.CharField(max_length=14, choices=DateOrder, blank=True)
    unit = models.CharField(max_length=2, choices=WeightUnit, blank=True)

    class Meta:
        abstract = True


@audited()
class FileLayout(ReadingChoices, FarmOwned):
    """How a farm's files of one series are read, kept so that the next one needs no answers."""

    area = Area.IMPORT

    kind = kind_field()
    series = models.CharField(max_length=60, default="harvest")

    objects = FileQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "kind", "series"], name="file_layout_once_a_series"
            )
        ]

    def __str__(self) -> str:
        return self.series


@audited(exclude=("found",))
class HarvestImport(ReadingChoices, FarmOwned):
    """One file on its way in, from receipt to landing or refusal: a member's, or a co-op's whose
    rows name their farms."""

    area = Area.IMPORT

    # Null for a co-op's file, whose rows name their farms.
    farm: Any = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="+"
    )
    kind = kind_field()
    series = models.CharField(max_length=60, default="harvest")
    file_name = models.CharField(max_length=255)
    file_sha256 = models.CharField(max_length=64, editable=False)
    encoding = models.CharField(max_length=20, blank=True)
    delimiter = models.CharField(max_length=1, choices=Delimiter, blank=True)
    sheet = models.CharField(max_length=80, blank=True)
    dry_run = models.BooleanField(default=False)
    on_problem = models.CharField(max_length=6, choices=OnProblem, default=OnProblem.REJECT)
    remember = models.BooleanField(
        default=False, help_text="Once landed, keep the answers for the next file of the series."
    )
    replaces = models.BooleanField(
        default=False,
        db_default=False,
        help_text="Retire what earlier files of the series brought in for the same span of dates, "
        "and this one no longer has. What would change is shown before it lands.",
    )
    replaces_from = models.DateField(
        null=True, blank=True, help_text="First day replaced; the first of the file's if not said."
    )
    replaces_until = models.DateField(
        null=True, blank=True, help_text="Last day replaced; the last of the file's if not said."
    )
    # SHA-256 of the changes that the sender was shown: only those may land.
    shown = models.CharField(max_length=64, blank=True, default="", db_default="", editable=False)

    state = models.CharField(
        max_length=10, choices=ImportState, default=ImportState.RECEIVED, editable=False
    )
    found = models.JSONField(
        null=True, editable=False, help_text="What was detected, and the headings as understood."
    )
    questions = models.JSONField(default=list, editable=False)
    explanation = models.TextField(blank=True, editable=False)
    rows_read = models.PositiveIntegerField(null=True, editable=False)
    rows_added = models.PositiveIntegerField(null=True, editable=False)
    rows_changed = models.PositiveIntegerField(null=True, editable=False)
    rows_unchanged = models.PositiveIntegerField(null=True, editable=False)
    rows_retired = models.PositiveIntegerField(null=True, editable=False)
    rows_refused = models.PositiveIntegerField(null=True, editable=False)
    rows_warned = models.PositiveIntegerField(null=True, editable=False)
    finished_at = models.DateTimeField(null=True, editable=False)
    created_by = models.ForeignKey(
        "records.Person", models.SET_NULL, null=True, editable=False, related_name="+"
    )
    # Whose staff or app sent it; null for the farm's own people.
    co_op = models.ForeignKey(
        "records.CoOp", models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = HarvestImportQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="harvest_import_listed")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=ImportKind.values), name="harvest_import_kind_is_known"
            ),
            models.CheckConstraint(
                condition=Q(farm__isnull=False) | Q(co_op__isnull=False),
                name="harvest_import_of_farm_or_co_op",
                violation_error_message="Say whose file it is: a farm's or a co-op's.",
            ),
            models.CheckConstraint(
                condition=Q(farm__isnull=False) | Q(kind=ImportKind.HARVEST_WEIGHTS),
                name="file_of_many_farms_is_of_weighings",
                violation_error_message="Only a file of weighings may hold several farms.",
            ),
            models.CheckConstraint(
                condition=Q(farm__isnull=False) | Q(replaces=False),
                name="replacement_is_of_one_farm",
                violation_error_message="A replacement is of one farm: send each farm's its own.",
            ),
            models.CheckConstraint(
                condition=Q(replaces=False) | Q(kind=ImportKind.HARVEST_WEIGHTS),
                name="replacement_is_of_weighings",
                violation_error_message="Only a file of weighings can be sent as a replacement.",
            ),
            models.CheckConstraint(
                condition=Q(replaces=False) | ~Q(on_problem=OnProblem.SKIP),
                name="replacement_leaves_no_row_out",
                violation_error_message="A replacement needs every row: a weighing whose row is "
                "left out would pass for gone.",
            ),
            models.CheckConstraint(
                condition=Q(replaces=True)
                | Q(replaces_from__isnull=True, replaces_until__isnull=True),
                name="replaced_span_is_of_a_replacement",
                violation_error_message="A span is for a replacement: send replaces as well.",
            ),
            models.CheckConstraint(
                condition=Q(replaces_from__isnull=True)
                | Q(replaces_until__isnull=True)
                | Q(replaces_until__gte=F("replaces_from")),
                name="replaced_span_ends_after_it_starts",
                violation_error_message="The span ends before it starts.",
            ),
        ]

    def __str__(self) -> str:
        return self.file_name

    @property
    def warnings(self) -> list[dict[str, str]]:
        if not self.rows_warned:
            return []
        text = f"Rows with something odd in them: {self.rows_warned}. They are among the problems."
        return [{"code": "rows-warned", "pointer": "/rows_warned", "detail": text}]


class ImportFile(models.Model):
    """The file as sent, and how far it is read and landed.

    In the database, so that any worker on any host can read it. The progress is no news of the
    import, so it raises no version.
    """

    harvest_import = models.OneToOneField(
        HarvestImport, models.CASCADE, primary_key=True, related_name="file"
    )
    size_bytes = models.PositiveBigIntegerField(default=0, db_default=0)
    progress = models.PositiveSmallIntegerField(default=0, help_text="Percent.")
    # The reading under way. A worker that was taken for dead finds another's here, and stops.
    attempt = models.UUIDField(null=True)
    # Of a file that lands in several steps: all entries up to this one have landed, and how many
    # weighings were added and changed by that.
    landed_through = models.PositiveIntegerField(default=0, db_default=0)
    landed_added = models.PositiveIntegerField(default=0, db_default=0)
    landed_changed = models.PositiveIntegerField(default=0, db_default=0)

    def __str__(self) -> str:
        return f"{self.size_bytes} bytes"

    @property
    def landed(self) -> int:
        return self.landed_added + self.landed_changed


class ImportFilePart(models.Model):
    """A piece of a file, none so large that it would fill the memory of who writes or reads it."""

    file = models.ForeignKey(ImportFile, models.CASCADE, related_name="parts")
    number = models.PositiveIntegerField(help_text="Counted from 0.")
    content = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["file", "number"], name="import_file_part_once")
        ]

    def __str__(self) -> str:
        return f"part {self.number}"


class ImportProblem(models.Model):
    """Why a row was refused, or what is odd about one that was not, in the sender's own terms."""

    # Of the import; null in a file of many farms.
    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, related_name="+", db_constraint=False
    )
    harvest_import = models.ForeignKey(HarvestImport, models.CASCADE, related_name="problems")
    sheet = models.CharField(
        max_length=80, blank=True, default="", db_default="", help_text="Of a workbook."
    )
    row = models.PositiveIntegerField(help_text="Row number in the sender's file; 0 for the file.")
    column = models.CharField(max_length=200, blank=True)
    code = models.CharField(max_length=40)
    value = models.CharField(max_length=120, blank=True)
    detail = models.CharField(max_length=500)
    is_warning = models.BooleanField(default=False)

    objects = OfImportQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["harvest_import", "row", "id"], name="import_problem_row")]

    def __str__(self) -> str:
        return f"{self.sheet} row {self.row}: {self.detail}".lstrip()


class ProposedChange(models.Model):
    """What a replacement would do to a weighing, shown to the sender before it lands."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="+", db_constraint=False)
    harvest_import = models.ForeignKey(
        HarvestImport, models.CASCADE, related_name="proposed_changes"
    )
    kind = models.CharField(max_length=8, choices=ChangeKind)
    weight_id = models.UUIDField(null=True, help_text="Of a weighing that is there already.")
    sheet = models.CharField(max_length=80, blank=True)
    row = models.PositiveIntegerField(null=True, help_text="Null for one that is gone.")
    column = models.CharField(max_length=200, blank=True)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    was_edited = models.BooleanField(
        default=False, help_text="The weighing was changed since an import last wrote it."
    )

    objects = OfImportQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["harvest_import", "id"], name="proposed_change_listed")]

    def __str__(self) -> str:
        return f"{self.kind} {self.before or self.after}"


class ImportedChange(models.Model):
    """The row as it was before an import changed it, so that the import can be undone."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="+", db_constraint=False)
    harvest_import = models.ForeignKey(
        HarvestImport, models.CASCADE, related_name="changes", db_constraint=False
    )
    weight = models.ForeignKey(
        "records.HarvestWeight", models.CASCADE, related_name="+", db_constraint=False
    )
    landed_version = models.PositiveIntegerField()
    before = models.JSONField(null=True, help_text="Null for a row that the import added.")
    # SHA-256 of the file's row, to tell a row sent again from news about a corrected weighing.
    sent = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                F("harvest_import"), F("weight"), name="imported_change_once_a_row"
            )
        ]

    def __str__(self) -> str:
        return str(self.weight_id)


class ImportedRecord(models.Model):
    """What `ImportedChange` is for weighings, for a record of any other kind of file."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="+", db_constraint=False)
    harvest_import = models.ForeignKey(
        HarvestImport, models.CASCADE, related_name="records", db_constraint=False
    )
    record_id = models.UUIDField(help_text="Of the kind that the import is of.")
    landed_version = models.PositiveIntegerField()
    before = models.JSONField(null=True, help_text="Null for a record that the import added.")
    # SHA-256 of the file's row, as for weighings.
    sent = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["harvest_import", "record_id"], name="imported_record_once_a_row"
            )
        ]

    def __str__(self) -> str:
        return str(self.record_id)
