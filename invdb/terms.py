"""The words of the trade, as enums and small value types.

Every value here is what the ledger stores and what a screen or a sheet shows: the enum's value is the
word itself. Nothing in this module reads a database, a clock or a screen.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from enum import StrEnum

SAFETY_LINE = (
    "A record and a calculation, not a release to service. Check against the engine's own approved data; "
    "the responsible licensed person decides."
)


SENTENCE_LENGTH_MAX = 600
_TURNS_TEXT = frozenset({"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})


def on_one_line(text: str) -> str:
    """Text as a screen or a terminal can show it in one line, whatever a person typed into it.

    Line breaks become spaces; what would steer a terminal, turn the direction of the text or is no character
    shows as its code point; of more than ``SENTENCE_LENGTH_MAX`` characters the middle is left out.
    """
    if len(text) > SENTENCE_LENGTH_MAX:
        half = SENTENCE_LENGTH_MAX // 2 - 1
        text = f"{text[:half]} … {text[-half:]}"
    return "".join(_shown(character) for character in text)


def _shown(character: str) -> str:
    if character.isspace():
        return " "
    steers = (
        unicodedata.category(character) in {"Cc", "Cs"} or unicodedata.bidirectional(character) in _TURNS_TEXT
    )
    return f"U+{ord(character):04X}" if steers else character


class Refused(Exception):
    """An act that is not done, with the reason and the way out, each one plain sentence or clause."""

    def __init__(self, reason: str, remedy: str = "") -> None:
        self.reason = on_one_line(reason)
        self.remedy = on_one_line(remedy)
        super().__init__(f"{self.reason} {self.remedy}".strip())


class FieldRefused(Refused):
    """A refusal that belongs to one field of a form, so that a window can say it beneath that field."""

    def __init__(self, field: str, reason: str, remedy: str = "") -> None:
        super().__init__(reason, remedy)
        self.field = field


class Asked(FieldRefused):
    """A refusal that is a question: the same act, said to be meant, is done."""


class Condition(StrEnum):
    """What may be done with a piece or a batch as it stands."""

    UNINSPECTED = "uninspected"
    SERVICEABLE = "serviceable"
    UNSERVICEABLE = "unserviceable"
    UNSALVAGEABLE = "unsalvageable"


class Scope(StrEnum):
    """What a serviceable piece was accepted for, and what an engine is used for."""

    FLIGHT = "flight"
    GROUND_RUNNING = "ground running"
    DISPLAY = "display"

    @property
    def rank(self) -> int:
        """3 for flight, 2 for ground running, 1 for display: a higher scope covers every lower one."""
        return {Scope.FLIGHT: 3, Scope.GROUND_RUNNING: 2, Scope.DISPLAY: 1}[self]

    def covers(self, use: Scope) -> bool:
        """Whether a piece accepted for this scope may go into an engine of that use."""
        return self.rank >= use.rank


class Origin(StrEnum):
    """How a piece or a batch began."""

    NEW = "new"
    NEW_OLD_STOCK = "new old stock"
    MADE_HERE = "made here"
    SALVAGED = "salvaged"
    UNKNOWN = "unknown"


class WorkState(StrEnum):
    """What has been done to a piece since it began; each but the first needs its report."""

    AS_RECEIVED = "as received"
    INSPECTED = "inspected"
    REPAIRED = "repaired"
    OVERHAULED = "overhauled"
    RECONDITIONED = "reconditioned"
    MODIFIED = "modified"


class Tracking(StrEnum):
    """Whether stock of a part is held as single tagged pieces or as batches."""

    PIECE = "piece"
    BATCH = "batch"


class Measure(StrEnum):
    """What a quantity counts, and so its smallest unit in the database."""

    COUNT = "count"
    LENGTH = "length"
    WEIGHT = "weight"

    @property
    def smallest_unit(self) -> str:
        """The unit of the stored integer: pieces, micrometres or milligrams."""
        return {Measure.COUNT: "pieces", Measure.LENGTH: "µm", Measure.WEIGHT: "mg"}[self]


class PlaceKind(StrEnum):
    """Whatever can hold a part."""

    OUTSIDE = "outside"
    STORES = "stores"
    BIN = "bin"
    QUARANTINE = "quarantine"
    FIRM = "firm"
    BENCH = "bench"
    ENGINE = "engine"
    STATION = "station"
    PIECE = "piece"
    PULL = "pull"
    SCRAP = "scrap"


class Layout(StrEnum):
    """How an engine's cylinders stand."""

    RADIAL = "radial"
    VEE = "vee"
    IN_LINE = "in-line"


class HoursKnown(StrEnum):
    """How much is known of a figure for hours or starts run before we had the piece."""

    EXACT = "exact"
    BETWEEN = "between"
    AT_LEAST = "at least"
    UNKNOWN = "unknown"


class Hazard(StrEnum):
    """What can hurt a person who handles, strips, scraps or dispatches the part."""

    SODIUM = "sodium-filled"
    ASBESTOS = "asbestos"
    MAGNESIUM = "magnesium"
    CADMIUM = "cadmium-plated"
    BERYLLIUM = "beryllium"
    LEAD = "lead"
    RADIUM = "radium-painted"


class PaperKind(StrEnum):
    """What a document is."""

    RELEASE_CERTIFICATE = "release certificate"
    MAKERS_CERTIFICATE = "maker's certificate"
    MATERIAL_CERTIFICATE = "material certificate"
    CALIBRATION_CERTIFICATE = "calibration certificate"
    WORK_REPORT = "work report"
    INVOICE = "invoice"
    PHOTOGRAPH = "photograph"
    STATEMENT = "statement"
    DRAWING = "drawing"
    AGREEMENT = "agreement"
    PUBLISHED_DATA = "published data"


class PullState(StrEnum):
    """How far the gathering of one kit has come."""

    RESERVED = "reserved"
    PART_ISSUED = "part issued"
    ISSUED = "issued"
    CLOSED = "closed"
    CANCELLED = "cancelled"


class ReturnedAs(StrEnum):
    """How kit that was not used comes back; only untouched goes straight back as good stock."""

    UNTOUCHED = "untouched"
    HANDLED = "handled"
    ALTERED = "altered"


class FirmRole(StrEnum):
    """What a firm is to the workshop."""

    MAKER = "maker"
    SUPPLIER = "supplier"
    WORKS = "works"
    CUSTOMER = "customer"


class LineKind(StrEnum):
    """What a ledger line does: moves a quantity, or sets some of it aside where it lies."""

    MOVE = "move"
    RESERVE = "reserve"


class EntryKind(StrEnum):
    """What happened, in one entry of the ledger."""

    STORE_BEGUN = "store begun"
    CATALOGUE = "catalogue"
    PEOPLE = "people"
    PLACES = "places"
    ENGINES = "engines"
    PAPERS = "papers"
    GOODS_IN = "goods in"
    ACCEPTED = "accepted"
    CONDITION_SET = "condition set"
    SPLIT = "split"
    MOVED = "moved"
    HOLD_RAISED = "hold raised"
    HOLD_CLEARED = "hold cleared"
    RESERVED = "reserved"
    ISSUED = "issued"
    RETURNED = "returned"
    CANCELLED = "cancelled"
    REVERSED = "reversed"
    BUILD_TAKEN_OVER = "build taken over"
    FITTED = "fitted"
    STRIPPED = "stripped"
    ROBBED = "robbed"
    LOG_BEGUN = "log begun"
    RUNNING_LOGGED = "running logged"
    METER_CHANGED = "meter changed"
    LIFE_RESET = "life reset"
    ENGINE_EVENT = "engine event"
    EVENT_CLEARED = "event cleared"
    DIRECTIVE = "directive"
    COMPLIED = "directive complied with"
    CONCESSION = "concession"
    MOD_STATE = "mod state"
    RECALLED = "recalled"
    SPECIFICATION = "specification"
    INSPECTED = "inspected"
    REIDENTIFIED = "re-identified"
    SENT_FOR_WORK = "sent for work"
    BACK_FROM_WORK = "back from work"
    SCRAPPED = "scrapped"
    MATCHED = "matched"
    PLANNED = "planned"
    BELIEVED = "believed"
    ENQUIRY = "enquiry"
    QUOTED = "quoted"
    ORDERED = "ordered"
    ORDER_CLOSED = "order closed"
    EXCHANGED = "given in exchange"
    LENT = "lent"
    LOAN_ENDED = "loan ended"
    COSTED = "costed"


class OrderKind(StrEnum):
    """How a part is got from a firm."""

    BUY = "buy"
    MAKE = "have made"
    EXCHANGE = "exchange"


class LoanWay(StrEnum):
    """Who lends to whom."""

    IN = "lent to us"
    OUT = "lent by us"


class RunningUse(StrEnum):
    """What an engine ran for; each limit says which of the two counts."""

    FLIGHT = "flight"
    GROUND = "ground running"


class LifeMeasure(StrEnum):
    """What a life limit is counted in: hundredths of an hour, starts, or calendar months."""

    HOURS = "hours"
    STARTS = "starts"
    MONTHS = "months"


class RunningCounted(StrEnum):
    """Which running a limit by hours counts."""

    ALL = "flight and ground running"
    FLIGHT = "flight only"


class LifeSince(StrEnum):
    """From when a limit counts."""

    NEW = "new"
    OVERHAUL = "overhaul"


class LifeControl(StrEnum):
    """How a removed life-limited piece is kept from being fitted past its limit (14 CFR 43.10)."""

    RECORD = "record"
    TAG = "tag"
    MARK = "mark"
    SEGREGATION = "segregation"
    MUTILATION = "mutilation"


class EngineEventKind(StrEnum):
    """What befell an engine that puts every piece inside it in doubt till an inspection clears it."""

    PROPELLER_STRIKE = "propeller strike"
    SUDDEN_STOPPAGE = "sudden stoppage"
    OVERSPEED = "overspeed"
    OVERHEATING = "overheating"
    METAL_IN_FILTER = "metal in the filter"
    OIL_PRESSURE_LOST = "loss of oil pressure"


class ConcessionOver(StrEnum):
    """Which rule a concession sets aside for its piece."""

    LIFE_LIMIT = "life limit"
    WORN_LIMIT = "worn limit"
    CONDITION = "condition"
    PART = "part"
    HOLD = "hold"


class SpecKind(StrEnum):
    """What one line of a part's specification states."""

    DIMENSION = "dimension"
    MASS = "mass"
    TORQUE = "torque"
    MATERIAL = "material"
    FINISH = "finish"
    PRESSURE_TEST = "pressure test"
    CRACK_TEST = "crack test"
    LOAD_TEST = "load test"
    LOOK = "look over"

    @property
    def measured(self) -> bool:
        """Whether an inspection takes figures for it, which are judged by limits."""
        return self in {SpecKind.DIMENSION, SpecKind.MASS, SpecKind.LOAD_TEST}

    @property
    def tested(self) -> bool:
        """Whether an inspection passes or fails it."""
        return self in {SpecKind.PRESSURE_TEST, SpecKind.CRACK_TEST, SpecKind.LOOK}


class CrackMethod(StrEnum):
    """How cracks are looked for."""

    MAGNETIC = "magnetic particle"
    DYE = "dye penetrant"
    FLUORESCENT = "fluorescent penetrant"
    EDDY_CURRENT = "eddy current"
    ULTRASONIC = "ultrasonic"
    RADIOGRAPHIC = "radiographic"
    VISUAL = "visual, by glass"


class FitKind(StrEnum):
    """How two mating parts come to their clearance."""

    AS_FOUND = "as found"
    MACHINED = "machined on assembly"
    SELECTED = "selected on assembly"


class MatchOn(StrEnum):
    """What of two parts must suit each other, apart from what is measured."""

    SIZE = "size"
    FINISH = "finish"


class BalanceKind(StrEnum):
    """How the masses of an engine's rods and pistons are matched."""

    SET = "as one set"
    AGAINST = "against a mass"
    ENDS = "end for end"


class MatchedAs(StrEnum):
    """Why pieces go back together: they ran so, or were made to suit one another."""

    MATES = "mates"
    SET = "matched set"


class WorkWanted(StrEnum):
    """What a piece is sent out for."""

    INSPECTION = "inspection"
    REPAIR = "repair"
    OVERHAUL = "overhaul"
    MACHINING = "machining"
    PLATING = "plating"
    LAPPING = "lapping"
    BALANCING = "balancing"
    MODIFICATION = "modification"


class Unusable(StrEnum):
    """How a scrapped piece was made unfit for any use."""

    SAWN = "sawn through"
    CRUSHED = "crushed"
    DRILLED = "drilled through"
    GROUND = "ground away"
    MELTED = "melted"
    BY_A_FIRM = "destroyed by a firm"
    KEPT_FOR_DISPLAY = "marked, and kept for display"


@dataclass(frozen=True)
class PriorLife:
    """Hours (in hundredths) or starts run before we had the piece.

    ``known`` says which bounds carry meaning: EXACT low == high, BETWEEN low..high, AT_LEAST low and no
    upper end, UNKNOWN neither.
    """

    known: HoursKnown
    low: int | None = None
    high: int | None = None

    def __post_init__(self) -> None:
        shape = (self.low is not None, self.high is not None)
        expected = {
            HoursKnown.EXACT: (True, True),
            HoursKnown.BETWEEN: (True, True),
            HoursKnown.AT_LEAST: (True, False),
            HoursKnown.UNKNOWN: (False, False),
        }[self.known]
        if shape != expected:
            raise ValueError(f"prior life {self.known}: bounds {self.low}..{self.high} do not fit")


NO_PRIOR_LIFE = PriorLife(HoursKnown.EXACT, 0, 0)
PRIOR_LIFE_UNKNOWN = PriorLife(HoursKnown.UNKNOWN)
