"""What is known of a file before it is read: what its sender said, and what is kept."""

from typing import Any

from records.importing.kinds import KINDS
from records.importing.reading import Settings
from records.importing.recording.ground import words_of
from records.models import Farm, HarvestImport
from records.services.imports import kept_answers


def settings_for(harvest_import: HarvestImport) -> Settings:
    """What the sender said, over what is kept for the series, over what is kept for the farm."""
    kept = kept_answers(harvest_import)
    farm = harvest_import.farm or Farm()
    mark: Any = harvest_import.decimal_mark or None
    order: Any = harvest_import.date_order or None
    saved_mark: Any = kept.decimal_mark or farm.decimal_mark or None
    saved_order: Any = kept.date_order or farm.date_order or None
    return Settings(
        encoding=harvest_import.encoding or None,
        delimiter=harvest_import.delimiter or None,
        sheet=harvest_import.sheet or None,
        decimal_mark=mark,
        date_order=order,
        unit=harvest_import.unit or None,
        mapping={**kept.mapping, **harvest_import.mapping},
        known=words_of(harvest_import, KINDS[harvest_import.kind].file.spread),
        saved_decimal_mark=saved_mark,
        saved_date_order=saved_order,
        saved_unit=kept.unit or farm.weight_unit or None,
    )
