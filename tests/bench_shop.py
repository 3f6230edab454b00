"""A barrel with its specification and an instrument, in the small workshop of tests/shop.py."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import product

from sqlalchemy.orm import Session

from invdb.acts.goods_in import GoodsIn, NewPiece, ReceivingChecks, receive
from invdb.acts.inspect import InspectionOrder, inspect
from invdb.acts.instrument import NewInstrument, add_instrument
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.acts.typed_readings import TypedReading, TypedTest
from invdb.terms import Condition, CrackMethod, Origin, PaperKind, Scope, SpecKind
from tests.shop import TODAY, Shop

CHECKS = ReceivingChecks("as drawn", "match", "none", "none")
PAPER = NewPaper(PaperKind.RELEASE_CERTIFICATE, "RC 7")
SPEC_FROM = TODAY - timedelta(days=200)
BOUGHT_ON = TODAY - timedelta(days=30)
SOURCE = "Pellworth overhaul manual, chapter 4"
POINTS = ("top", "bottom")
DIRECTIONS = ("along", "across")
BORE = NewSpecLine(
    SpecKind.DIMENSION,
    "bore",
    unit="mm",
    new_low="105.00",
    new_high="105.03",
    worn_high="105.15",
    points=", ".join(POINTS),
    directions=", ".join(DIRECTIONS),
    oval_max="0.05",
)
MASS = NewSpecLine(SpecKind.MASS, "mass", unit="g", spread_max="20")
WATER = NewSpecLine(
    SpecKind.PRESSURE_TEST,
    "water jacket",
    unit="bar",
    target="1.6",
    medium="water",
    hold_seconds=1200,
    drop_max="0.05",
)
CRACKS = NewSpecLine(SpecKind.CRACK_TEST, "cracks", wording="All over, by dye penetrant or better.")
STUDS = NewSpecLine(SpecKind.TORQUE, "studs", unit="N·m", target="40")
HELD = TypedTest(None, SpecKind.PRESSURE_TEST, "water jacket", start="1.62", end="1.60", held_seconds=1200)
NO_CRACKS = TypedTest(None, SpecKind.CRACK_TEST, "cracks", method=CrackMethod.DYE, passed=True)


@dataclass(frozen=True)
class BenchShop:
    """The barrel to inspect, its specification in force, and a bore gauge in calibration."""

    shop: Shop
    barrel: Thing
    spec: int
    gauge: int

    def order(self, **more: object) -> InspectionOrder:
        """A sheet with all that is asked, within new limits, decided to be serviceable for flight."""
        full = InspectionOrder(
            self.barrel, bores(), (HELD, NO_CRACKS), Condition.SERVICEABLE, Scope.FLIGHT, CHECKS
        )
        return replace(full, **more)  # type: ignore[arg-type]

    def inspect(self, on: object = None, **more: object) -> int:
        """Inspect the barrel, today or ``on`` a day; returns the inspection's id."""
        assert on is None or isinstance(on, date)
        with self.shop.store.writing() as session:
            return inspect(session, self.order(**more), self.shop.by(on))


def bores(text: str = "105.01", **places: str) -> tuple[TypedReading, ...]:
    """The bore at every place, and other figures at places such as ``top_across``."""
    return tuple(
        TypedReading(None, "bore", point, direction, places.get(f"{point}_{direction}", text))
        for point, direction in product(POINTS, DIRECTIONS)
    )


def barrel(session: Session, shop: Shop, on: date = BOUGHT_ON) -> Thing:
    """A new barrel with papers, not inspected yet, in the bin A-01-01."""
    goods = GoodsIn(Origin.NEW, shop.bin_a, part=shop.barrel, pieces=(NewPiece(),), papers=(PAPER,))
    return receive(session, goods, shop.by(on)).things[0][0]


def furnished(shop: Shop) -> BenchShop:
    """Write the specification, the gauge and the barrel into the store."""
    with shop.store.writing() as session:
        lines = (BORE, MASS, WATER, CRACKS, STUDS)
        spec = add_spec(session, NewSpec(shop.barrel, "A", SPEC_FROM, SOURCE, lines), shop.by(SPEC_FROM))
        gauge = NewInstrument("M-03", "bore gauge", SPEC_FROM, TODAY + timedelta(days=100))
        return BenchShop(
            shop, barrel(session, shop), spec, add_instrument(session, gauge, shop.by(SPEC_FROM))
        )
