"""A farm's decisions about the hours of flowers."""

from django.db import transaction

from planning.compute.pollination_windows import WindowError, sources_of
from planning.models import FlowerHours
from planning.models.flower_hours import PARTS
from planning.queries.pollination_hours import own_window
from records.services.saving.faults import fault


@transaction.atomic
def save_flower_hours(row: FlowerHours) -> FlowerHours:
    """Store what was decided; a fault where the source is none, or hours end before they begin."""
    _check_source(row)
    for part in PARTS:
        try:
            own_window(row, part)
        except WindowError as error:
            text = "These hours end before they begin, on a day of twelve hours."
            raise fault(f"{part}_to_minutes", text, "hours-out-of-order") from error
    row.save(force_insert=row._state.adding)
    return row


def _check_source(row: FlowerHours) -> None:
    if not row.shipped_source:
        return
    codes = [source.code for source in sources_of(row.species.code)]
    if row.shipped_source not in codes:
        known = f"choose one of {', '.join(codes)}" if codes else "none ships for it"
        text = f"No source {row.shipped_source} ships for {row.species.common_name}: {known}."
        raise fault("shipped_source", text, "unknown-source")
