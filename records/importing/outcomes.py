"""What an import tells its sender: what was found and asked, the counts, and a sentence."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from records.choices import ImportState, OnProblem
from records.importing.columns import HeadingMap
from records.importing.reading import Reading
from records.importing.staging import Staged
from records.models import HarvestImport

MAX_EXAMPLES = 10

COUNT = """
SELECT count(*) FILTER (WHERE is_new), count(*) FILTER (WHERE is_changed),
       count(*) FILTER (WHERE NOT is_refused AND NOT is_new AND NOT is_changed)
FROM records_stagedweighing WHERE import_id = %(import)s
"""

COUNT_PROBLEMS = """
SELECT count(DISTINCT row) FILTER (WHERE NOT is_warning),
       count(DISTINCT row) FILTER (WHERE is_warning)
FROM records_importproblem WHERE harvest_import_id = %(import)s
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Rows of the file, by what is to become of them."""

    read: int
    added: int
    changed: int
    unchanged: int
    refused: int
    warned: int

    def note(self, harvest_import: HarvestImport, state: ImportState) -> None:
        """On the import; where the whole file was refused, nothing was added or changed."""
        for name, rows in asdict(self).items():
            setattr(harvest_import, f"rows_{name}", rows)
        harvest_import.rows_retired = 0
        if state == ImportState.REFUSED:
            harvest_import.rows_added = harvest_import.rows_changed = 0


def count(staged: Staged, *, rows_read: int) -> Counts:
    added, changed, unchanged = staged.rows(COUNT)[0]
    refused, warned = staged.rows(COUNT_PROBLEMS)[0]
    return Counts(
        read=rows_read,
        added=added,
        changed=changed,
        unchanged=unchanged,
        refused=refused,
        warned=warned,
    )


def explain(harvest_import: HarvestImport, state: ImportState, counts: Counts) -> str:
    """The outcome in a sentence or two."""
    if state == ImportState.REFUSED:
        return (
            f"{counts.refused} of {counts.read} rows are refused, so nothing landed. "
            "Correct them, or have them left out with on_problem=skip."
        )
    known = f"{counts.added} added, {counts.changed} changed, {counts.unchanged} unchanged"
    told = f"Of {counts.read} rows: {known}, {counts.refused} refused."
    if state != ImportState.CHECKED:
        return told
    if counts.refused and harvest_import.on_problem == OnProblem.REJECT:
        return f"A dry run. {told} Because of the refused rows nothing would land."
    return f"A dry run. {told} Nothing was written."


def found(reading: Reading) -> dict[str, Any]:
    """How the file was read, and what its headings were taken for."""
    headings = [
        {"heading": heading.text, "column": heading.column.name, "unit": heading.unit}
        for heading in reading.columns.used
    ]
    return {
        **asdict(reading.detected),
        "headings": headings,
        "unused_headings": list(reading.columns.unused),
    }


def questions(reading: Reading) -> list[dict[str, Any]]:
    """What the sender must say; `setting` names the option of the import that says it."""
    of_marks = [
        {
            "setting": question.setting,
            "detail": question.detail,
            "examples": [example._asdict() for example in question.examples],
        }
        for question in reading.questions
    ]
    return [*_of_headings(reading.columns, reading.detected.heading_row), *of_marks]


def _of_headings(columns: HeadingMap, heading_row: int) -> Iterator[dict[str, Any]]:
    for names in columns.missing:
        detail = (
            f"No heading was understood as {' or '.join(names)}, and one is needed. "
            "Say which heading means it."
        )
        yield _about_mapping(detail, columns.unused, heading_row)
    for problem in columns.problems:
        yield _about_mapping(problem.detail, problem.headings, heading_row)


def _about_mapping(detail: str, headings: tuple[str, ...], heading_row: int) -> dict[str, Any]:
    examples = [
        {"row": heading_row, "column": text, "value": text} for text in headings[:MAX_EXAMPLES]
    ]
    return {"setting": "mapping", "detail": detail, "examples": examples}
