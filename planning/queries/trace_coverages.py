"""What farms and co-ops stated of the species in a trace."""

from collections.abc import Iterable

from django.db.models import Q

from orchard.access import Caller
from planning.compute.traces import Asked, Entry, Stated, stated
from records.models import TraceCoverage


def statements(asked: Iterable[Asked], caller: Caller) -> list[Stated]:
    """What was stated, as far as the caller may see it, in one query."""
    wanted = list(asked)
    owners = {one.owner for one in wanted}
    rows = TraceCoverage.objects.all().visible_to(caller).select_related("species", "created_by")
    entries = rows.filter(Q(farm_id__in=owners) | Q(co_op_id__in=owners)) if owners else []
    return stated([_entry(row) for row in entries], wanted)


def _entry(row: TraceCoverage) -> Entry:
    return Entry(
        owner=str(row.farm_id or row.co_op_id),
        species=row.species.common_name,
        is_covered=row.is_covered,
        starts_on=row.starts_on,
        ends_on=row.ends_on,
        source=row.source,
        entered_by=row.created_by.name if row.created_by else "",
    )
