"""A rate limit per token or person, kept in the broker's store; without it, work goes on."""

import logging
from typing import Any

from redis.exceptions import RedisError
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from orchard.rest.callers import caller_of

logger = logging.getLogger(__name__)


class CallerRateThrottle(SimpleRateThrottle):
    scope = "caller"

    def get_cache_key(self, request: Request, view: Any) -> str:
        caller = caller_of(request)
        who = (caller.token_id or caller.person_id) if caller else self.get_ident(request)
        return f"rate-{who}"

    def allow_request(self, request: Request, view: Any) -> bool:
        try:
            return bool(super().allow_request(request, view))
        except RedisError as error:
            logger.warning("No rate limit: the store does not answer (%s)", error)
            return True
