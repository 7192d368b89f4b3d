"""By what a row's record is known again, and what is stored of it already."""

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any
from uuid import UUID

import orjson
from django.db.models import Model

from records.importing.recording.drafts import Draft, Recording
from records.models import HarvestImport, ImportedRecord
from records.services.snapshots import names_below

BATCH = 1_000


class Keys:
    """The import keys of an import's drafts, in the order of the file."""

    def __init__(self, harvest_import: HarvestImport, recording: Recording) -> None:
        series = "" if recording.only_one else harvest_import.series
        self._of = [harvest_import.kind, harvest_import.farm_id, series]
        self._seen: Counter[bytes] = Counter()

    def next(self, draft: Draft) -> tuple[str, int]:
        """A draft's key, and how many of the same came before it."""
        content = orjson.dumps([*self._of, *map(_plain, draft.key)], default=str)
        before = self._seen[content]
        self._seen[content] += 1
        return hashlib.sha256(content + b" %d" % before).hexdigest(), before


def _plain(part: Any) -> Any:
    if isinstance(part, Model):
        return part.pk
    return sorted(str(one.pk) for one in part) if isinstance(part, list) else part


def sent_of(row: Any) -> str:
    """What a row says, wherever in the file it stands."""
    said = {
        name: value for name, value in asdict(row).items() if name not in ("row_number", "sheet")
    }
    return hashlib.sha256(orjson.dumps(said, default=str)).hexdigest()


class Stored:
    """The records that earlier files made, by key, locked; and what those files said of them."""

    def __init__(
        self, harvest_import: HarvestImport, recording: Recording, keys: Sequence[str]
    ) -> None:
        self.by_key: dict[str, Any] = {}
        self._sent: dict[tuple[UUID | None, UUID], str] = {}
        model = recording.model
        rows = model.objects.filter(farm=harvest_import.farm_id).select_for_update(of=("self",))
        rows = rows.select_related(*_single_links(model)).prefetch_related(*names_below(model))
        for start in range(0, len(keys), BATCH):
            found = list(rows.filter(import_key__in=keys[start : start + BATCH]))
            self.by_key |= {record.import_key: record for record in found}
            self._note_sent(found)
        for record in self.by_key.values():
            record.farm = harvest_import.farm

    def _note_sent(self, found: Sequence[Any]) -> None:
        earlier = ImportedRecord.objects.filter(
            harvest_import__in={record.harvest_import_id for record in found},
            record_id__in=[record.pk for record in found],
        )
        for import_id, key, sent in earlier.values_list("harvest_import_id", "record_id", "sent"):
            self._sent[import_id, key] = sent

    def said_before(self, record: Any, sent: str) -> bool:
        """Whether the row says just what it said when it last landed."""
        return self._sent.get((record.harvest_import_id, record.pk)) == sent


def _single_links(model: type[Any]) -> list[str]:
    """The records that rules and warnings look at."""
    wanted = ("pollen_batch", "station", "container", "tree", "delivery")
    return [field.name for field in model._meta.fields if field.name in wanted]
