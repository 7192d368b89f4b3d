"""What was done and seen in the field: task logs and growth stages."""

from typing import Any, ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from orchard.access import Area
from records.choices import MAX_TREES, TaskKind
from records.models.base import (
    FarmOwned,
    Recorded,
    audited,
    child_key,
    farm_copy,
    farm_key,
    minutes_field,
    once_an_import_key,
    people_field,
    removed_tree_warnings,
    warning,
)
from records.models.plants import Block, Tree
from records.querysets import FarmOwnedQuerySet

# Principal stages that annonas do not show: 2 (side shoots of grasses) and 4 (plant parts that
# are harvested before they flower). Eight of ten were seen in sugar apple: Mendes et al. 2017,
# doi 10.1590/0001-3765201720170205.
NOT_IN_ANNONAS = "24"


@audited(exclude=("recorded_at",))
class TaskLog(Recorded, FarmOwned):
    """Work done: kind, date, place, people, minutes; some kinds carry details."""

    area = Area.FIELD
    dated_by: ClassVar[str | None] = "done_on"

    block: Any = farm_key(Block, related_name="task_logs")
    trees: Any = models.ManyToManyField(
        Tree, through="records.TaskLogTree", related_name="task_logs"
    )
    kind = models.CharField(max_length=16, choices=TaskKind)
    done_on = models.DateField()
    people = people_field()
    minutes = minutes_field()
    details = models.JSONField(default=dict, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [
            models.Index(fields=["farm", "created_at", "id"], name="task_log_listed"),
            models.Index(fields=["block", "done_on"], name="task_log_block"),
        ]
        constraints = [
            once_an_import_key("task_log"),
            models.CheckConstraint(
                condition=Q(kind__in=TaskKind.values), name="task_log_kind_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.done_on}"

    @property
    def warnings(self) -> list[dict[str, str]]:
        return removed_tree_warnings(self.trees.all(), self.done_on)


@audited()
class TaskLogTree(models.Model):
    """A tree that was worked on."""

    farm = farm_copy()
    task_log = child_key(TaskLog, "tree_links")
    tree: Any = farm_key(Tree)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["task_log", "tree"], name="tree_once_a_task_log")
        ]

    def __str__(self) -> str:
        return str(self.tree)


@audited(exclude=("recorded_at",))
class GrowthStage(Recorded, FarmOwned):
    """One stage of the BBCH scale, seen on one tree or on so many of a block's trees.

    Several stages are usual at once, so nothing orders them: another stage of the same day is
    another record. Flowers open over weeks; 60-69 count those opened so far.
    """

    area = Area.OBSERVATION
    dated_by: ClassVar[str | None] = "observed_on"

    block: Any = farm_key(Block, related_name="growth_stages")
    tree: Any = farm_key(Tree, null=True, related_name="growth_stages")
    observed_on = models.DateField()
    bbch = models.CharField(
        max_length=2,
        validators=[RegexValidator(r"^[0-9]{2}\Z", "A BBCH stage is two digits, 00 to 99.")],
        help_text="Two digits, 00 to 99.",
    )
    trees_seen = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_TREES)],
        help_text="On how many of the trees looked at, when no single tree is named.",
    )
    trees_looked_at = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_TREES)]
    )
    people = people_field()

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [
            models.Index(fields=["farm", "created_at", "id"], name="growth_stage_listed"),
            models.Index(fields=["block", "observed_on"], name="growth_stage_block"),
        ]
        constraints = [
            once_an_import_key("growth_stage"),
            models.CheckConstraint(
                condition=Q(bbch__regex=r"^[0-9]{2}$"), name="growth_stage_is_two_digits"
            ),
            models.CheckConstraint(
                condition=Q(
                    tree__isnull=False, trees_seen__isnull=True, trees_looked_at__isnull=True
                )
                | Q(tree__isnull=True, trees_seen__isnull=False, trees_looked_at__isnull=False),
                name="growth_stage_of_a_tree_or_of_so_many",
                violation_error_message=(
                    "Name the tree; or, for a block, on how many of how many trees it was seen."
                ),
            ),
            models.CheckConstraint(
                condition=Q(trees_seen__isnull=True)
                | Q(trees_seen__gte=1, trees_looked_at__gte=F("trees_seen")),
                name="growth_stage_seen_on_trees_looked_at",
                violation_error_message="Seen on more trees than were looked at.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bbch} on {self.observed_on}"

    @property
    def principal(self) -> int:
        """The principal stage: the tens digit."""
        return int(self.bbch[0])

    @property
    def warnings(self) -> list[dict[str, str]]:
        trees = [self.tree] if self.tree_id else []
        found = removed_tree_warnings(trees, self.observed_on, "tree")
        if self.bbch[:1] not in NOT_IN_ANNONAS:
            return found
        text = f"BBCH {self.bbch}: annonas do not show principal stage {self.principal}."
        return [*found, warning("stage-unusual", "bbch", text)]
