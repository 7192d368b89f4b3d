"""The web admin of the records: one module a family, as in `records.models`.

Everything goes through `base.RecordAdmin`: rows come from `visible_to`, changes are bounded by
`writable_by` and written by `records.services.saving`.
"""

from django.contrib import admin
from django.contrib.auth.models import Group

from records.admin import (
    batches,
    co_ops,
    farms,
    field,
    fruit,
    harvest,
    imports,
    invitations,
    jobs,
    people,
    plants,
    pollination,
    shed,
    tokens,
    traceability,
    weather,
)

# Roles decide what people may do; Django's groups would say a second thing.
admin.site.unregister(Group)

__all__ = [
    "batches",
    "co_ops",
    "farms",
    "field",
    "fruit",
    "harvest",
    "imports",
    "invitations",
    "jobs",
    "people",
    "plants",
    "pollination",
    "shed",
    "tokens",
    "traceability",
    "weather",
]
