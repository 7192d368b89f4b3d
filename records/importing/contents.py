"""A file's bytes, in memory or on disk, to be walked through any number of times."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import IO

CHUNK_BYTES = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """Large files lie on disk, so that reading one takes no more memory than a chunk of it."""

    size: int
    open: Callable[[], IO[bytes]]

    @classmethod
    def of(cls, content: "bytes | Content") -> "Content":
        if isinstance(content, Content):
            return content
        return cls(size=len(content), open=lambda: BytesIO(content))

    @classmethod
    def at(cls, path: Path) -> "Content":
        return cls(size=path.stat().st_size, open=lambda: path.open("rb"))

    def start(self, number: int) -> bytes:
        """The first so many bytes."""
        with self.open() as file:
            return file.read(number)

    def chunks(self) -> Iterator[bytes]:
        with self.open() as file:
            while chunk := file.read(CHUNK_BYTES):
                yield chunk

    def holds(self, sought: re.Pattern[bytes], *, longest: int) -> bool:
        """Whether the pattern, which matches no more than so many bytes, is anywhere in it."""
        tail = b""
        for chunk in self.chunks():
            if sought.search(tail + chunk):
                return True
            tail = chunk[1 - longest :]
        return False

    @property
    def is_blank(self) -> bool:
        return not any(chunk.strip() for chunk in self.chunks())
