"""A sent file in parts of a megabyte: neither who takes it in nor who reads it holds it whole."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import IO
from uuid import UUID

from records.models import HarvestImport, ImportFile, ImportFilePart

PART_BYTES = 2**20


def digest(content: bytes | IO[bytes]) -> str:
    """SHA-256 of a file."""
    found = hashlib.sha256()
    for part in _parts(content):
        found.update(part)
    return found.hexdigest()


def keep(harvest_import: HarvestImport, content: bytes | IO[bytes]) -> None:
    """Store a file as that of an import."""
    file = ImportFile.objects.create(harvest_import=harvest_import)
    for number, part in enumerate(_parts(content)):
        ImportFilePart.objects.create(file=file, number=number, content=part)
        file.size_bytes += len(part)
    file.save(update_fields=["size_bytes"])


@contextmanager
def on_disk(import_id: UUID) -> Iterator[Path]:
    """The file of an import as a temporary one."""
    with NamedTemporaryFile(prefix="import-") as file:
        parts = ImportFilePart.objects.filter(file=import_id).order_by("number")
        for key in parts.values_list("pk", flat=True):
            file.write(ImportFilePart.objects.values_list("content", flat=True).get(pk=key))
        file.flush()
        yield Path(file.name)


def _parts(content: bytes | IO[bytes]) -> Iterator[bytes]:
    file = BytesIO(content) if isinstance(content, bytes) else content
    file.seek(0)
    while part := file.read(PART_BYTES):
        yield part
