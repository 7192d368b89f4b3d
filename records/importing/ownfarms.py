"""Whose row it is: in a farm's file the farm's, in a co-op's file that of the member it names."""

from collections.abc import Iterator
from uuid import UUID

from records.importing.cells import Fault
from records.importing.checks import problem_of
from records.importing.lookups import MAX_HINTS, Dictionary, Known, Verdict
from records.importing.staging import Staged
from records.models import Farm, Membership

WORDS = """
SELECT DISTINCT farm FROM records_stagedweighing
WHERE import_id = %(import)s AND farm <> '' ORDER BY 1
"""

MEAN = """
UPDATE records_stagedweighing s SET farm_id = k.id
FROM unnest(%(words)s::text[], %(ids)s::uuid[]) k (word, id)
WHERE s.import_id = %(import)s AND s.farm = k.word
"""

MISSING = problem_of(
    broken="s.farm = ''",
    code="'farm-missing'",
    value="''",
    detail="'In a file of many farms every row names its farm, by code or name.'",
)

NO_MEMBER = problem_of(
    join="""JOIN unnest(%(words)s::text[], %(codes)s::text[], %(details)s::text[])
                 k (word, code, detail) ON s.farm = k.word""",
    broken="true",
    code="k.code",
    value="k.word",
    detail="k.detail",
)

FARMS = """
SELECT DISTINCT farm_id FROM records_stagedweighing
WHERE import_id = %(import)s AND farm_id IS NOT NULL ORDER BY 1
"""


def find_farms(staged: Staged) -> None:
    """Set the farm of each row of a co-op's file; refuse those that name no member."""
    verdicts = list(_verdicts(staged))
    meant = [one for one in verdicts if one.id]
    faults = {one.word: one.fault for one in verdicts if one.fault}
    staged.run(MEAN, words=[one.word for one in meant], ids=[one.id for one in meant])
    heading = staged.heading("farm")
    staged.run(MISSING, heading=heading)
    staged.run(
        NO_MEMBER,
        heading=heading,
        words=list(faults),
        codes=[fault.code for fault in faults.values()],
        details=[fault.detail for fault in faults.values()],
    )


def farms_in(staged: Staged) -> list[UUID]:
    """The farms of the staged rows, in their order."""
    return [farm_id for (farm_id,) in staged.rows(FARMS)]


def _verdicts(staged: Staged) -> Iterator[Verdict]:
    members = Membership.objects.filter(co_op=staged.harvest_import.co_op_id)
    farms = Farm.objects.filter(pk__in=members.values("farm_id")).order_by("code")
    dictionary = Dictionary("farm", [Known(farm.pk, farm.code, farm.name) for farm in farms])
    for number, (word,) in enumerate(staged.rows(WORDS)):
        verdict = dictionary.look_up(word, with_hint=number < MAX_HINTS)
        yield verdict if verdict.id else _told(word, verdict)


def _told(word: str, verdict: Verdict) -> Verdict:
    """What is wrong in the terms of a co-op, whose staff may not know of other farms."""
    if verdict.fault is None or verdict.fault.code == "ambiguous-farm":
        detail = "More than one member of the co-op is called so. Give the code."
        return Verdict(word, None, Fault("ambiguous-farm", detail))
    hint = verdict.fault.detail.partition("name. ")[2]
    detail = f"No member of the co-op is called {word}, by code or name. {hint}".strip()
    return Verdict(word, None, Fault("no-member", detail[:500]))
