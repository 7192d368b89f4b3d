"""A member sends a file: written in memory, brought in, and looked at afterwards."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import Any

from records.importing import load
from records.models import Farm, HarvestImport, HarvestWeight, ImportProblem
from records.services.imports import receive

Rows = Iterable[Sequence[Any]]


def csv_of(rows: Rows, *, delimiter: str = ",", line_end: str = "\r\n") -> bytes:
    text = StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator=line_end).writerows(rows)
    return text.getvalue().encode()


def send(farm: Farm, rows: Rows | bytes, **options: Any) -> HarvestImport:
    """Bring a file in at once, without a job."""
    content = rows if isinstance(rows, bytes) else csv_of(rows)
    options = {"file_name": "harvest.csv", **options}
    received = receive(farm=farm, content=content, **options)
    return bring_in(received)


def bring_in(received: HarvestImport) -> HarvestImport:
    load.run(received.pk)
    received.refresh_from_db()
    return received


def counts(sent: HarvestImport) -> tuple[int | None, ...]:
    """Rows added, changed, unchanged and refused."""
    return (sent.rows_added, sent.rows_changed, sent.rows_unchanged, sent.rows_refused)


def weights(farm: Farm) -> list[HarvestWeight]:
    """The farm's weighings in the order of their ids."""
    return list(HarvestWeight.objects.filter(farm=farm).order_by("pk"))


def problems(sent: HarvestImport, *, warnings: bool = False) -> list[tuple[int, str, str, str]]:
    """Row, column, code and value of each."""
    found = ImportProblem.objects.filter(harvest_import=sent, is_warning=warnings)
    return list(found.order_by("row", "pk").values_list("row", "column", "code", "value"))


def details(sent: HarvestImport) -> list[str]:
    found = ImportProblem.objects.filter(harvest_import=sent).order_by("row", "pk")
    return list(found.values_list("detail", flat=True))
