"""Makes all season summaries and roll-ups anew, a few farms at a time."""

from typing import Any

from django.core.management.base import BaseCommand

from orchard import clock
from planning.services.season_summaries import chunks, rebuild_co_op, rebuild_farms
from records.models import CoOp, Farm


class Command(BaseCommand):
    help = "Make all season summaries and roll-ups anew, of farms and of co-ops."

    def handle(self, **options: Any) -> None:
        farm_ids = sorted(Farm.objects.values_list("pk", flat=True))
        for chunk in chunks(farm_ids):
            rebuild_farms(chunk, clock.today)
        self.stdout.write(f"{len(farm_ids)} farms")
        for co_op in CoOp.objects.order_by("code"):
            rebuild_co_op(co_op.pk, clock.today)
            self.stdout.write(f"co-op {co_op.code}")
