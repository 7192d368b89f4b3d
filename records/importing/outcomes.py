"""What an import tells its sender: what was found and asked, the counts, and a sentence."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.db.models import Count

from records.choices import ImportState, OnProblem
from records.importing.columns import Heading, HeadingMap
from records.importing.reading import Reading
from records.importing.remarks import TOTALS
from records.importing.replacing import Proposal, Replacement
from records.importing.sheets import as_written
from records.importing.staging import Staged
from records.models import HarvestImport

MAX_EXAMPLES = 10
COUNTED = ("read", "added", "changed", "unchanged", "refused", "warned")

COUNT = """
SELECT count(*) FILTER (WHERE is_new), count(*) FILTER (WHERE is_changed),
       count(*) FILTER (WHERE NOT is_refused AND NOT is_new AND NOT is_changed)
FROM records_stagedweighing WHERE import_id = %(import)s
"""

COUNT_PROBLEMS = """
SELECT count(DISTINCT (sheet, row)) FILTER (WHERE NOT is_warning),
       count(DISTINCT (sheet, row)) FILTER (WHERE is_warning)
FROM records_importproblem WHERE harvest_import_id = %(import)s
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Rows of the file that were read and refused, and weighings by what is to become of them.

    In a wide sheet one row is several weighings.
    """

    read: int
    added: int
    changed: int
    unchanged: int
    refused: int
    warned: int
    is_wide: bool = False

    @property
    def written(self) -> int:
        return self.added + self.changed

    def note(
        self, harvest_import: HarvestImport, state: ImportState, proposal: Proposal | None = None
    ) -> None:
        """On the import; where the whole file was refused, nothing was added or changed."""
        for name in COUNTED:
            setattr(harvest_import, f"rows_{name}", getattr(self, name))
        harvest_import.rows_retired = proposal.gone if proposal else 0
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
        is_wide=bool(staged.over),
    )


def explain(
    harvest_import: HarvestImport,
    state: ImportState,
    counts: Counts,
    proposal: Proposal | None = None,
) -> str:
    """The outcome in a sentence or two."""
    if state == ImportState.REFUSED:
        return _refused(harvest_import, counts)
    told = _told(counts, proposal)
    if state == ImportState.LANDING:
        return f"{told} All rows were checked, and now they land."
    if state != ImportState.CHECKED:
        return told
    if counts.refused and harvest_import.on_problem == OnProblem.REJECT:
        return f"A dry run. {told} Because of the refused rows nothing would land."
    if proposal:
        return f"{told} {_shown(harvest_import, proposal)}"
    return f"A dry run. {told} Nothing was written."


def _refused(harvest_import: HarvestImport, counts: Counts) -> str:
    told = f"{counts.refused} of {counts.read} rows are refused, so nothing landed."
    if harvest_import.replaces:
        return f"{told} Correct them; a replacement needs every row."
    return f"{told} Correct them, or have them left out with on_problem=skip."


def _told(counts: Counts, proposal: Proposal | None) -> str:
    known = f"{counts.added} added, {counts.changed} changed, {counts.unchanged} unchanged"
    if proposal:
        known += f", {proposal.gone} gone and retired"
    if counts.is_wide:
        of = f"Of {counts.read} rows, with a weighing for each filled cell"
        return f"{of}: {known}, {counts.refused} rows refused."
    return f"Of {counts.read} rows: {known}, {counts.refused} refused."


def _shown(harvest_import: HarvestImport, proposal: Proposal) -> str:
    told = "Nothing was written yet: look at the changes, then have them land with dry_run=false."
    if proposal.edited:
        told += f" Edited since they came in: {proposal.edited} of the weighings concerned."
    if harvest_import.shown not in ("", proposal.digest):
        told += " They are not those that were shown before."
    return told


def found(
    reading: Reading[Any],
    differing: Mapping[str, int] | None = None,
    replaced: Replacement | None = None,
) -> dict[str, Any]:
    """How the file was read, what its headings were taken for, and what was done by a rule.

    `differing` says, once the rows were read, how many totals of a sheet do not agree with them.
    """
    headings = [
        {"heading": heading.text, "column": _meaning(heading), "unit": heading.unit}
        for heading in reading.columns.used
    ]
    remarks = [_with_verdict(asdict(remark), differing) for remark in reading.remarks]
    return {
        **asdict(reading.detected),
        "headings": headings,
        "unused_headings": list(reading.columns.unused),
        "remarks": remarks,
        "replaces_from": replaced and replaced.first.isoformat(),
        "replaces_until": replaced and replaced.last.isoformat(),
    }


def _meaning(heading: Heading) -> str:
    """A heading's column; in a wide sheet, as a mapping would say it."""
    if not heading.over:
        return heading.column.name
    return f"{heading.column.name} by {heading.over}: {as_written(heading.value)}"


def _with_verdict(remark: dict[str, Any], differing: Mapping[str, int] | None) -> dict[str, Any]:
    if differing is None or remark["code"] != TOTALS:
        return remark
    wrong = differing.get(remark["sheet"], 0)
    verdict = f"Not agreeing: {wrong}, told among the problems." if wrong else "All of them agree."
    return {**remark, "detail": f"{remark['detail']} {verdict}"}


def differing_totals(harvest_import: HarvestImport) -> dict[str, int]:
    """How many rows of each sheet are totals that differ from the rows above them."""
    rows = harvest_import.problems.filter(code="total-differs").values("sheet")
    return dict(rows.annotate(rows=Count("row", distinct=True)).values_list("sheet", "rows"))


def questions(reading: Reading[Any]) -> list[dict[str, Any]]:
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
