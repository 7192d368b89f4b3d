"""A rate limit per token or person, kept in the broker's store; without it, work goes on."""

import hashlib
import logging
from typing import Any

from redis.exceptions import RedisError
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from orchard.rest.callers import caller_of

logger = logging.getLogger(__name__)


class OpenThrottle(SimpleRateThrottle):
    """A rate limit that lets everyone pass while its store is away."""

    def allow_request(self, request: Request, view: Any) -> bool:
        try:
            return bool(super().allow_request(request, view))
        except RedisError as error:
            logger.warning("No rate limit: the store does not answer (%s)", error)
            return True


class CallerRateThrottle(OpenThrottle):
    scope = "caller"

    def get_cache_key(self, request: Request, view: Any) -> str:
        caller = caller_of(request)
        who = (caller.token_id or caller.person_id) if caller else self.get_ident(request)
        return f"rate-{who}"


class PageThrottle(OpenThrottle):
    """For pages that take a secret or a password: by address, and by what is guessed at."""

    scope = "page"

    def __init__(self, about: str = "") -> None:
        super().__init__()
        self.about = about

    def get_cache_key(self, request: Any, view: Any) -> str:
        about = self.about or self.get_ident(request)
        return f"page-{hashlib.sha256(about.encode()).hexdigest()}"
