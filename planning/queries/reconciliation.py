"""A co-op's deliveries against its intakes, many to many, in one query.

What belongs together, in this order:

1. `link`: an intake to the delivery that it names, a weighing to the delivery that it is on
2. `docket`: what bears the same docket on the same farm; a docket used anew after more than
   `DOCKET_DAYS` without it is another one. A delivery without weighings of its own has those of its
   docket
3. `date`: of intakes whose docket nothing else bears, those of a farm and day, and the weighings
   on no delivery or docket that were picked in the `DATE_DAYS` before, after the intake before

Only rows of the days of membership; intakes by the co-op or by a member's own shed. A match is
dated by its first intake, else by the last day of what was sent.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from planning.compute.reconciliation import Sides
from records.calendars import calendar
from records.models import CoOp, Farm, Membership

DOCKET_DAYS = 14
DATE_DAYS = 7
WINDOW = dt.timedelta(days=DOCKET_DAYS)
EVER = dt.date(1900, 1, 1), dt.date(2200, 12, 31)

MATCHES = """
WITH spans AS MATERIALIZED (
    SELECT * FROM unnest(%(farms)s::uuid[], %(joined)s::date[], %(left)s::date[],
                         %(firsts)s::date[], %(lasts)s::date[])
        AS s (farm_id, joined_on, left_on, first_on, last_on)
),
delivery AS MATERIALIZED (
    SELECT d.id, d.farm_id, d.docket, d.delivered_on AS day
    FROM spans s JOIN records_delivery d ON d.farm_id = s.farm_id
        AND d.delivered_on BETWEEN s.joined_on AND s.left_on
        AND d.delivered_on BETWEEN s.first_on - %(docket_days)s AND s.last_on + %(docket_days)s
        AND d.farm_id = ANY(%(farms)s) AND d.delivered_on BETWEEN %(first)s AND %(last)s
    WHERE d.retired_on IS NULL AND (d.co_op_id = %(co_op)s OR d.co_op_id IS NULL)
),
on_delivery AS MATERIALIZED (
    SELECT l.weight_id, min(l.delivery_id::text)::uuid AS delivery_id
    FROM records_deliveryweight l JOIN delivery d ON d.id = l.delivery_id
    GROUP BY l.weight_id
),
weighing AS MATERIALIZED (
    SELECT w.farm_id, w.docket, w.picked_on AS day, l.delivery_id, sum(w.net_g) AS net_g,
           count(*) AS weighings, count(*) FILTER (WHERE w.net_g IS NULL) AS unweighed
    FROM spans s JOIN records_harvestweight w ON w.farm_id = s.farm_id
        AND w.picked_on BETWEEN s.joined_on AND s.left_on
        AND w.picked_on BETWEEN s.first_on - %(docket_days)s AND s.last_on + %(docket_days)s
        AND w.farm_id = ANY(%(farms)s) AND w.picked_on BETWEEN %(first)s AND %(last)s
    LEFT JOIN on_delivery l ON l.weight_id = w.id
    WHERE w.retired_on IS NULL
    GROUP BY w.farm_id, w.docket, w.picked_on, l.delivery_id
),
intake AS MATERIALIZED (
    SELECT i.id, i.farm_id, i.docket, i.received_on AS day, i.net_g, d.id AS delivery_id
    FROM spans s JOIN records_intake i ON i.farm_id = s.farm_id
        AND i.received_on BETWEEN s.joined_on AND s.left_on
        AND i.received_on BETWEEN s.first_on - %(docket_days)s AND s.last_on + %(docket_days)s
        AND i.farm_id = ANY(%(farms)s) AND i.received_on BETWEEN %(first)s AND %(last)s
    LEFT JOIN delivery d ON d.id = i.delivery_id
    WHERE i.retired_on IS NULL AND (i.co_op_id = %(co_op)s OR i.co_op_id IS NULL)
),
bearer AS (
    SELECT farm_id, docket, day, true AS is_sent FROM delivery WHERE docket <> ''
    UNION ALL SELECT farm_id, docket, day, true FROM weighing
        WHERE docket <> '' AND delivery_id IS NULL
    UNION ALL SELECT farm_id, docket, day, false FROM intake
        WHERE docket <> '' AND delivery_id IS NULL
),
stepped AS (
    SELECT farm_id, docket, day, is_sent, coalesce(
        day - lag(day) OVER (PARTITION BY farm_id, docket ORDER BY day) > %(docket_days)s, false
    )::int AS is_anew
    FROM bearer
),
numbered AS (
    SELECT farm_id, docket, day, is_sent,
           sum(is_anew) OVER (PARTITION BY farm_id, docket ORDER BY day) AS number
    FROM stepped
),
docketed AS MATERIALIZED (
    SELECT DISTINCT n.farm_id, n.docket, n.day,
           n.docket || ' ' || min(n.day) OVER same AS key, bool_or(n.is_sent) OVER same AS is_sent
    FROM numbered n WINDOW same AS (PARTITION BY n.farm_id, n.docket, n.number)
),
delivery_key AS MATERIALIZED (
    SELECT d.id, d.farm_id, d.day, coalesce(k.key, d.id::text) AS key
    FROM delivery d LEFT JOIN docketed k USING (farm_id, docket, day)
),
intake_key AS MATERIALIZED (
    SELECT i.id, i.farm_id, i.docket, i.day, i.net_g, CASE WHEN d.id IS NOT NULL THEN d.key
               WHEN k.is_sent THEN k.key ELSE 'day ' || i.day END AS key,
           CASE WHEN d.id IS NOT NULL THEN 1 WHEN k.is_sent THEN 2 ELSE 3 END AS how
    FROM intake i
    LEFT JOIN delivery_key d ON d.id = i.delivery_id
    LEFT JOIN docketed k ON i.delivery_id IS NULL AND k.farm_id = i.farm_id
        AND k.docket = i.docket AND k.day = i.day
),
intake_day AS (
    SELECT farm_id, key, day, lag(day) OVER (PARTITION BY farm_id ORDER BY day) AS previous
    FROM (SELECT DISTINCT farm_id, key, day FROM intake_key WHERE how = 3) days
),
weighing_key AS (
    SELECT w.farm_id, w.day, w.net_g, w.weighings, w.unweighed,
           coalesce(d.key, k.key, y.key) AS key
    FROM weighing w
    LEFT JOIN delivery_key d ON d.id = w.delivery_id
    LEFT JOIN docketed k ON w.delivery_id IS NULL AND k.farm_id = w.farm_id
        AND k.docket = w.docket AND k.day = w.day
    LEFT JOIN intake_day y ON w.delivery_id IS NULL AND w.docket = '' AND y.farm_id = w.farm_id
        AND w.day BETWEEN greatest(y.previous + 1, y.day - %(date_days)s) AND y.day
),
delivered AS (
    SELECT farm_id, key, array_agg(id ORDER BY id) AS ids, max(day) AS last_on
    FROM delivery_key GROUP BY farm_id, key
),
weighed AS (
    SELECT farm_id, key, sum(weighings)::int AS weighings, sum(unweighed)::int AS unweighed,
           sum(net_g) AS net_g, min(day) AS first_on, max(day) AS last_on,
           sum((day - date '2000-01-01')::bigint * net_g) / nullif(sum(net_g), 0)::float8 AS middle
    FROM weighing_key WHERE key IS NOT NULL GROUP BY farm_id, key
),
sent AS (
    SELECT coalesce(d.farm_id, w.farm_id) AS farm_id, coalesce(d.key, w.key) AS key, d.ids,
           w.weighings, w.unweighed, w.net_g, w.first_on, w.middle,
           greatest(d.last_on, w.last_on) AS last_on
    FROM delivered d FULL JOIN weighed w ON w.farm_id = d.farm_id AND w.key = d.key
),
received AS (
    SELECT farm_id, key, min(how) AS how, array_agg(id ORDER BY day, id) AS ids,
           string_agg(DISTINCT nullif(docket, ''), ', ') AS dockets, sum(net_g) AS net_g,
           min(day) AS first_on, max(day) AS last_on,
           sum((day - date '2000-01-01')::bigint * net_g) / nullif(sum(net_g), 0)::float8 AS middle
    FROM intake_key GROUP BY farm_id, key
),
paired AS (
    SELECT coalesce(s.farm_id, r.farm_id) AS farm_id, coalesce(s.key, r.key) AS key,
           coalesce(r.how, CASE WHEN s.ids IS NULL THEN 2 ELSE 1 END) AS how, r.dockets,
           s.ids AS delivery_ids, r.ids AS intake_ids,
           coalesce(s.weighings, 0) AS weighings, coalesce(s.unweighed, 0) AS unweighed,
           s.key IS NOT NULL AS is_sent, s.net_g AS sent_g, r.net_g AS received_g,
           s.first_on AS picked_from, s.last_on AS sent_on, r.first_on AS received_from,
           r.last_on AS received_to, r.middle - s.middle AS days
    FROM sent s FULL JOIN received r ON r.farm_id = s.farm_id AND r.key = s.key
)
SELECT p.farm_id, f.code, coalesce(p.dockets, k.docket, '') AS docket, p.how,
       coalesce(p.delivery_ids, '{}'), coalesce(p.intake_ids, '{}'), p.weighings, p.unweighed,
       p.is_sent, p.sent_g, p.received_g, p.picked_from, p.sent_on, p.received_from, p.received_to,
       p.days
FROM paired p JOIN records_farm f ON f.id = p.farm_id
LEFT JOIN (SELECT DISTINCT farm_id, key, docket FROM docketed) k USING (farm_id, key)
WHERE EXISTS (
    SELECT FROM spans s WHERE s.farm_id = p.farm_id
    AND coalesce(p.received_from, p.sent_on) BETWEEN s.first_on AND s.last_on
)
ORDER BY f.code, coalesce(p.received_from, p.sent_on), docket, p.key
LIMIT %(limit)s
"""
HOW = {1: "link", 2: "docket", 3: "date"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What belongs together on one farm, and by what; either side may have nothing."""

    farm_id: UUID
    farm_code: str
    docket: str
    how: str
    delivery_ids: Sequence[UUID]
    intake_ids: Sequence[UUID]
    weighings: int
    sides: Sides
    picked_from: dt.date | None
    sent_on: dt.date | None
    received_from: dt.date | None
    received_to: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """A season by the year it starts in (each farm's own), days, or both; None: without end."""

    year: int | None = None
    first_on: dt.date | None = None
    last_on: dt.date | None = None


def matches(co_op: CoOp, period: Period, member: Farm | None = None, *, limit: int) -> list[Match]:
    """By farm, day and docket, at most so many."""
    spans = _spans(co_op, period, member)
    names = ("farms", "joined", "left", "firsts", "lasts")
    columns = zip(*spans, strict=True) if spans else ([] for _ in names)
    values: dict[str, Any] = {
        **{name: list(column) for name, column in zip(names, columns, strict=True)},
        "co_op": co_op.pk,
        "docket_days": DOCKET_DAYS,
        "date_days": DATE_DAYS,
        "limit": limit,
        "first": min((span[3] for span in spans), default=EVER[0]) - WINDOW,
        "last": max((span[4] for span in spans), default=EVER[1]) + WINDOW,
    }
    with transaction.atomic(), connection.cursor() as cursor:
        # The planner knows nothing of the steps' sizes, and is not to try each row against each.
        cursor.execute("SELECT set_config('enable_nestloop', 'off', true)")
        cursor.execute(MATCHES, values)
        found = cursor.fetchall()
        cursor.execute("SELECT set_config('enable_nestloop', 'on', true)")
    return [_match(row) for row in found]


def _match(row: Any) -> Match:
    farm_id, code, docket, how, deliveries, intakes, weighings, unweighed, is_sent, *rest = row
    sent_g, received_g, picked_from, sent_on, received_from, received_to, days = rest
    sides = Sides(
        sent_g=None if not is_sent else int(sent_g or 0),
        received_g=None if received_g is None else int(received_g),
        unweighed=unweighed if weighings or not is_sent else 1,
        days=days,
    )
    return Match(
        farm_id=farm_id,
        farm_code=code,
        docket=docket,
        how=HOW[how],
        delivery_ids=deliveries,
        intake_ids=intakes,
        weighings=weighings,
        sides=sides,
        picked_from=picked_from,
        sent_on=sent_on,
        received_from=received_from,
        received_to=received_to,
    )


def _spans(
    co_op: CoOp, period: Period, member: Farm | None
) -> list[tuple[UUID, dt.date, dt.date, dt.date, dt.date]]:
    """Each membership, and the days asked for; a season is that of the farm as a whole."""
    rows = Membership.objects.filter(co_op=co_op).select_related("farm").order_by("pk")
    memberships = list(rows.filter(farm=member) if member else rows)
    seasons = calendar({each.farm for each in memberships}) if period.year else None
    found = []
    for each in memberships:
        first, last = period.first_on or EVER[0], period.last_on or EVER[1]
        if seasons is not None and period.year:
            season = seasons.season_span(each.farm_id, None, period.year)
            first, last = max(first, season.starts_on), min(last, season.ends_on)
        found.append((each.farm_id, each.starts_on, each.ends_on or EVER[1], first, last))
    return found
