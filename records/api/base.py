"""What the records' resources share: writes go through `records.services.saving`."""

from typing import Any, ClassVar

import django_filters
from django.db.models import Model

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.viewsets import RecordViewSet
from records.models import Block, Farm
from records.services import saving


class FarmFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm)


class BlockFilter(FarmFilter):
    block = VisibleFilter(Block)


class FarmRecordViewSet(RecordViewSet):
    """Records of farms. Subclasses name queryset, serializer and filters."""

    area: ClassVar[Area | None] = Area.PLACE
    filterset_class: Any = FarmFilter

    def write(self, serializer: Any, **extra: Any) -> Model:
        attrs = {**serializer.validated_data, **extra}
        record = serializer.candidate(attrs)
        rows = {name: attrs[name] for name in serializer.row_names() if name in attrs}
        if record._state.adding and hasattr(record, "created_by_id"):
            record.created_by_id = self.caller.person_id
        saved: Model = saving.save(record, caller=self.caller, **rows)
        return saved

    def remove(self, record: Any) -> None:
        saving.delete(record, caller=self.caller)


class ReferenceViewSet(FarmRecordViewSet):
    """Records that belong to no farm: seen more widely, changed by few."""

    filterset_class: Any = None
