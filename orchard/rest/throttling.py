"""A rate limit per token or person, kept in the broker's store; without it, work goes on."""

import hashlib
import logging
from functools import cache
from typing import Any

from django.conf import settings
from redis import Redis
from redis.exceptions import RedisError
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from orchard.rest.callers import caller_of

logger = logging.getLogger(__name__)


class OpenThrottle(SimpleRateThrottle):
    """A rate limit that lets everyone pass while its store is away.

    Requests are counted by the minute (or what the rate is by) in one step of the store. DRF's own
    list of times takes two, loses some of those that come at once, and is read whole each time.
    """

    duration: int
    num_requests: int

    def allow_request(self, request: Request, view: Any) -> bool:
        key = self.get_cache_key(request, view)
        if self.rate is None or key is None:
            return True
        self.now = self.timer()
        try:
            counted = count(f"{key}-{int(self.now // self.duration)}", self.duration)
        except RedisError as error:
            logger.warning("No rate limit: the store does not answer (%s)", error)
            return True
        return counted <= self.num_requests

    def wait(self) -> float:
        """Seconds until the next count begins."""
        return float(self.duration - self.now % self.duration)


@cache
def store() -> Redis:
    return Redis.from_url(settings.REDIS_URL)


def count(key: str, duration_s: int) -> int:
    """How often this was counted, this time included; forgotten after a while."""
    with store().pipeline() as steps:
        steps.incr(key)
        steps.expire(key, 2 * duration_s)
        counted, _ = steps.execute()
    return int(counted)


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
