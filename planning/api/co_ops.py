"""`co-ops/{id}/...`: answers about a co-op, computed when its staff or apps ask for them."""

from typing import Any, ClassVar
from uuid import UUID

from rest_framework.request import Request

from orchard.access import Area, Caller
from orchard.rest.problems import Problem
from planning.api.computed import ComputedViewSet
from records.models import CoOp


class CoOpComputedViewSet(ComputedViewSet):
    """A computed answer about one co-op, named by the address; `asked` holds it as `co_op`.

    Register as `co-ops/<uuid:co_op>/harvest`.
    """

    area: ClassVar[Area] = Area.SUMMARY

    def asked(self, request: Request) -> dict[str, Any]:
        asked = super().asked(request)
        return {"co_op": co_op_of(self.caller, self.area, self.kwargs["co_op"]), **asked}


def co_op_of(caller: Caller, area: Area, co_op_id: UUID) -> CoOp:
    """The co-op, if the caller reads an area of it as its staff or app; else there is none."""
    found: CoOp | None = CoOp.objects.filter(pk=co_op_id).first()
    if found is None or not (
        caller.is_platform_admin or found.pk in caller.co_ops_with("reads", area)
    ):
        raise Problem("not-found", "There is no such co-op.")
    return found
