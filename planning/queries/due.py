"""What is due next on a farm."""

from uuid import UUID

from planning.choices import DUE_STATES
from planning.models import NextTask


def due_next(farm_id: UUID, limit: int = 5) -> list[NextTask]:
    """The tasks that can still be done in time, the one that is best done first before others."""
    rows = NextTask.objects.filter(farm_id=farm_id, state__in=DUE_STATES)
    return list(rows.select_related("block").order_by("best_on", "block__code", "key")[:limit])
