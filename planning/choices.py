"""Closed sets of values of what planning stores, as the computations name them."""

from django.db.models import TextChoices


class WorkKind(TextChoices):
    """Kinds of work: those of task logs, and what is recorded in a way of its own."""

    PRUNING = "pruning", "pruning"
    LEAF_STRIPPING = "leaf-stripping", "leaf stripping"
    POLLINATION = "pollination", "pollination"
    BAGGING = "bagging", "bagging fruit"
    COUNTING = "counting", "counting"
    THINNING = "thinning", "thinning fruit"
    PICKING = "picking", "picking"
    SPRAYING = "spraying", "spraying"
    IRRIGATION = "irrigation", "irrigation"
    FERTILISING = "fertilising", "fertilising"
    WEEDING = "weeding", "weeding"
    TRAINING = "training", "training shoots"
    OTHER = "other", "other work"


class CountDetail(TextChoices):
    """Which count a counting rule asks for."""

    INITIAL = "initial", "fruit that set"
    RETAINED = "retained", "fruit still there"


class RuleTrigger(TextChoices):
    DATES = "dates", "between two days of every year"
    BEFORE_STAGE = "before-stage", "just before a growth stage, as forecast, else dates"
    AFTER_WORK = "after-work", "days after work of a kind"
    AFTER_STAGE = "after-stage", "days after a growth stage, as forecast until it is seen"
    AFTER_EVENT = "after-event", "days after an event of the season"
    AFTER_HEAT = "after-heat", "days after degree days have gathered since work or a stage"


class SeasonEvent(TextChoices):
    SEASON_START = "season-start", "the season's start"
    SEASON_END = "season-end", "the season's end"
    FIRST_PICKING = "first-picking", "the crop's first picking"
    LAST_PICKING = "last-picking", "the crop's end of picking, else its last so far"


class OnlyWhile(TextChoices):
    """While which record is missing a rule holds."""

    NONE_YET = "none-yet", "no work of a kind is on record yet"
    UNCOUNTED_ROUND = "uncounted-round", "a round has no count yet"


class RuleOrigin(TextChoices):
    DEFAULT = "default", "a default, kept up to date until the farm changes it"
    OWN = "own", "the farm's own"


class Which(TextChoices):
    FIRST = "first", "the crop's first"
    LAST = "last", "the crop's last so far"


class Climate(TextChoices):
    NORTHERN_SUBTROPICS = "northern-subtropics", "northern subtropics"
    SOUTHERN_SUBTROPICS = "southern-subtropics", "southern subtropics"
    TROPICAL_LOWLAND = "tropical-lowland", "tropical lowland"


class TaskState(TextChoices):
    COMING = "coming", "coming"
    OPEN = "open", "open"
    OVERDUE = "overdue", "overdue"
    MISSED = "missed", "missed"
    DONE = "done", "done"
    SKIPPED = "skipped", "skipped"


# States in which somebody still has something to do in time.
DUE_STATES = (TaskState.COMING, TaskState.OPEN, TaskState.OVERDUE)


class RecordKind(TextChoices):
    """The resource of the record that did a task."""

    TASK_LOG = "task-logs", "task log"
    ROUND = "pollination-rounds", "pollination round"
    COUNT = "fruit-counts", "fruit count"
    WEIGHING = "harvest-weights", "weighing"


class UndatedWhy(TextChoices):
    WAITING = "waiting", "it waits for something to be seen or done"
    DOES_NOT_APPLY = "does-not-apply", "it does not apply to this species or climate"
    NOT_KNOWN = "not-known", "the records do not say which rules hold"


class AlertKind(TextChoices):
    OPENING_SOON = "opening-soon", "opening soon"
    DUE = "due", "due on its best day"
    OVERDUE = "overdue", "overdue"
    MISSED = "missed", "missed"
    BLOOM_EARLY = "bloom-early", "bloom sooner than forecast"
    BLOOM_LATE = "bloom-late", "bloom later than forecast"
    FROST = "frost", "frost in bloom"
    DRY_HEAT = "dry-heat", "heat with dry air in bloom"
    SHORT_CREW = "short-crew", "the crew does not fit"


class AlertState(TextChoices):
    ACTIVE = "active", "to be told"
    SNOOZED = "snoozed", "snoozed until a date"
    ACKNOWLEDGED = "acknowledged", "acknowledged"
    CLOSED = "closed", "closed: its fact has ended"


class CropWork(TextChoices):
    """What opens a further crop."""

    STRIP_AND_PRUNE = "strip-and-prune", "leaf stripping and pruning"
    PRUNING = "pruning", "pruning"
    LEAF_STRIPPING = "leaf-stripping", "leaf stripping"


class SunEvent(TextChoices):
    """From what the hours of flowers are counted."""

    SUNRISE = "sunrise", "sunrise"
    SOLAR_NOON = "solar-noon", "solar noon"
    SUNSET = "sunset", "sunset"


class StageAhead(TextChoices):
    """Stages of a crop that are forecast, in the order in which they come."""

    LEAF_OUT = "leaf-out", "leaf-out"
    FIRST_BLOOM = "first-bloom", "first bloom"
    HALF_BLOOM = "half-bloom", "half bloom"
    END_OF_BLOOM = "end-of-bloom", "end of bloom"
    SKIN_CHANGE = "skin-change", "skin change"
    FIRST_PICKING = "first-picking", "first picking"
    LAST_PICKING = "last-picking", "last picking"


class ForecastMethod(TextChoices):
    OBSERVED = "observed", "it was seen"
    PASSED = "passed", "it went by unseen"
    DAYS = "days", "days from an anchor, as in the block's earlier seasons"
    DEGREE_DAYS = "degree-days", "degree days from an anchor"
    HISTORY = "history", "the mean day of the block's earlier seasons"
    SHRUNK = "shrunk", "the block's few seasons, drawn towards the species' figure"
    SPECIES = "species", "the species' figure alone"
    NOT_KNOWN = "not-known", "something is missing"
    DOES_NOT_APPLY = "does-not-apply", "it does not apply to the species"


class DegreeDayMethod(TextChoices):
    AVERAGE = "average", "the mean of the day"
    SUBSTITUTION = "average-with-substitution", "its mean, each end drawn to the thresholds"
    SINE = "single-sine", "a sine through the day"
    TRIANGLE = "single-triangle", "a triangle through the day"
    FOUR_CASES = "four-cases", "the four cases of Met Eireann"


class DegreeDayCutoff(TextChoices):
    HORIZONTAL = "horizontal", "growth goes on at the rate of the upper threshold"
    VERTICAL = "vertical", "it stops above the upper threshold"
    INTERMEDIATE = "intermediate", "it slows down above the upper threshold"


class FarmDayKind(TextChoices):
    """What a farm's day of weather is known by."""

    OBSERVED = "observed", "it was observed"
    FORECAST = "forecast", "the newest forecast of it"
    NORMAL = "normal", "the station's mean of earlier years"


class FindingKind(TextChoices):
    UNIT_SLIP = "unit-slip", "pounds for kilos, or kilos for pounds"
    TENFOLD_SLIP = "tenfold-slip", "a decimal place or two off"
    SWAPPED_DATE = "swapped-date", "day and month swapped"
    RECORDED_TWICE = "recorded-twice", "recorded twice"
    NO_BEARING_TREES = "no-bearing-trees", "fruit from a block on which no tree bears"
    FRUIT_WEIGHT = "fruit-weight", "fruit heavier or lighter than published"


class FindingState(TextChoices):
    OPEN = "open", "to be looked at"
    APPLIED = "applied", "its fix was applied"
    DISMISSED = "dismissed", "nothing is wrong"
    REVERSED = "reversed", "its fix was taken back"
    OUTDATED = "outdated", "its rows say something else now"


class Sure(TextChoices):
    HIGH = "high", "sure"
    MEDIUM = "medium", "likely"
    LOW = "low", "one of two"


class PoolState(TextChoices):
    DRAFT = "draft", "draft"
    ISSUED = "issued", "issued"


class DeductionKind(TextChoices):
    """What a deduction is reckoned from."""

    PER_KILO = "per-kilo", "per kilo"
    PER_CONTAINER = "per-container", "per container"
    PER_CENT = "per-cent", "per cent of gross"
    FIXED = "fixed", "a fixed amount"


class StatementLineKind(TextChoices):
    KILOS = "kilos", "kilos"
    DEDUCTION = "deduction", "deduction"
    ADJUSTMENT = "adjustment", "adjustment of an earlier statement"
    CARRIED = "carried-forward", "brought forward"
