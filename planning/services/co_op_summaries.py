"""A co-op's rows of one season: of each member, and of all members together.

A member's row says besides what the co-op's are added up from, so that these need no weighings.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any
from uuid import UUID

from planning.compute.bases import NAMES, basis_of_member, stand_in_reason
from planning.compute.season_summary import Basis, DayTotal
from planning.models import SeasonSummary, SummaryLevel
from planning.queries.farm_seasons import FarmSeason
from planning.queries.member_seasons import MemberPortion, sums_of
from planning.queries.portions import Portion, join
from planning.services.summary_rows import summary_row
from records.models import CoOp, Membership
from records.seasons import Season

Days = Mapping[tuple[Basis, UUID | None], Sequence[DayTotal]]  # by basis and cultivar


# One member --------------------------------------------------------------------------------------


def member_rows(
    co_op: CoOp, season: FarmSeason, memberships: Sequence[Membership]
) -> Iterator[SeasonSummary]:
    """The member's row and those of its cultivars, by the co-op's basis or what stands in."""
    chosen = Basis(co_op.basis)
    basis = basis_of_member(chosen, season.bases)
    whole = season.whole(basis, kind="member")
    about: dict[str, Any] = {
        "reasons": {
            **_membership_reason(season.farm_id, whole.season, memberships),
            **_stand_in_reason(basis, chosen),
        },
        "co_op_id": co_op.pk,
        "member_id": season.farm_id,
    }
    blocks = {"blocks": len(season.blocks)}
    yield _member_row(SummaryLevel.MEMBER, whole, inputs=blocks, **about)
    for cultivar_id, portions in season.by_cultivar(basis, kind="member").items():
        yield _member_row(
            SummaryLevel.MEMBER_CULTIVAR,
            join(portions, kind="member"),
            inputs={"blocks": len(portions)} if basis is Basis.PICKED else {},
            cultivar_id=cultivar_id,
            **about,
        )


def _member_row(level: SummaryLevel, portion: Portion, **about: Any) -> SeasonSummary:
    row = summary_row(level, portion, **about)
    row.sums = sums_of(portion)
    return row


def _stand_in_reason(basis: Basis, chosen: Basis) -> dict[str, str]:
    text = stand_in_reason(basis, chosen)
    return {"basis": f"basis: {text}"} if text else {}


def _membership_reason(
    farm_id: UUID, season: Season, memberships: Sequence[Membership]
) -> dict[str, str]:
    """A caution where a member belonged to the co-op for a part of the season only."""
    own = [member for member in memberships if member.farm_id == farm_id]
    if any(_covers(member, season) for member in own):
        return {}
    return {"net_g": "net kilos: only fruit of the days of membership counts"}


def _covers(member: Membership, season: Season) -> bool:
    ends = member.ends_on is None or member.ends_on >= season.ends_on
    return ends and member.starts_on <= season.starts_on


# All members together ----------------------------------------------------------------------------


def joint_rows(
    co_op_id: UUID, members: Sequence[MemberPortion], days: Days
) -> Iterator[SeasonSummary]:
    """The co-op's row and those of its cultivars, by each basis, of one season."""
    wholes: dict[Basis, list[Portion]] = defaultdict(list)
    by_cultivar: dict[tuple[Basis, UUID | None], list[Portion]] = defaultdict(list)
    for member in members:
        if member.level == SummaryLevel.MEMBER:
            wholes[member.basis].append(member.portion)
        else:
            by_cultivar[member.basis, member.cultivar_id].append(member.portion)
    of = sum(map(len, wholes.values()))
    for basis, portions in wholes.items():
        picked = [day for (on, _), found in days.items() if on is basis for day in found]
        joint = _joint(portions, picked, kind="co-op")
        reasons = _part_reason(basis, portions, of)
        yield _joint_row(SummaryLevel.CO_OP, portions, joint, reasons, co_op_id=co_op_id)
    for key, portions in by_cultivar.items():
        joint = _joint(portions, days.get(key, ()), kind="cultivar")
        links = {"co_op_id": co_op_id, "cultivar_id": key[1]}
        yield _joint_row(SummaryLevel.CO_OP_CULTIVAR, portions, joint, {}, **links)


def _joint(members: Sequence[Portion], days: Sequence[DayTotal], *, kind: str) -> Portion:
    joined = join(members, kind=kind)
    return replace(joined, group=replace(joined.group, days=days))


def _joint_row(
    level: SummaryLevel,
    members: Sequence[Portion],
    joint: Portion,
    reasons: Mapping[str, str],
    **links: Any,
) -> SeasonSummary:
    """Several members' fruit as one row, with the seasons that it joins."""
    seasons = Counter(member.season.label for member in members)
    return summary_row(
        level,
        joint,
        inputs={"members": len(members), "seasons": dict(sorted(seasons.items()))},
        reasons={**_seasons_reason(seasons, members[0].season.year), **reasons},
        **links,
    )


def _part_reason(basis: Basis, members: Sequence[Portion], of: int) -> dict[str, str]:
    if len(members) == of:
        return {}
    text = f"{len(members)} of {of} members, by {NAMES[basis]}; the others stand in a row apart"
    return {"basis": f"basis: {text}, since kilos of different bases are never added"}


def _seasons_reason(seasons: Mapping[str, int], year: int) -> dict[str, str]:
    if len(seasons) == 1:
        return {}
    text = f"members' seasons start in different months; each one's that starts in {year} counts"
    return {"season_label": f"season: {text}"}
