"""The words that rules and records share: kinds of work, which of them, and season events."""

from enum import StrEnum


class TaskError(ValueError):
    """A rule, record or season that contradicts itself."""


class WorkKind(StrEnum):
    """Kinds of work; a pollination round and a weighing are records of work themselves."""

    PRUNING = "pruning"
    LEAF_STRIPPING = "leaf-stripping"
    POLLINATION = "pollination"
    BAGGING = "bagging"
    COUNTING = "counting"
    THINNING = "thinning"
    PICKING = "picking"
    SPRAYING = "spraying"
    IRRIGATION = "irrigation"
    FERTILISING = "fertilising"
    WEEDING = "weeding"
    TRAINING = "training"
    OTHER = "other"


class Which(StrEnum):
    """Which of a crop's works of one kind days are counted from."""

    FIRST = "first"
    LAST = "last"


class SeasonEvent(StrEnum):
    """What days of a season are counted from.

    The start and end of a season are those of its main crop. The last picking is the day on which
    the crop's picking is said to end, else the last on record so far.
    """

    SEASON_START = "season-start"
    SEASON_END = "season-end"
    FIRST_PICKING = "first-picking"
    LAST_PICKING = "last-picking"
