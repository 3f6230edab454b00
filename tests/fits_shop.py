"""An engine type whose cylinders take a barrel, a piston, a rod and a shim that must suit one another."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue, shop
from invdb.acts.balance import NewBalanceSet, add_balance_set
from invdb.acts.catalogue import NewKitLine, NewPart
from invdb.acts.fit_limit import NewFitLimit, add_fit_limit
from invdb.acts.inspect import InspectionOrder, inspect
from invdb.acts.match_rule import NewMatchRule, add_match_rule
from invdb.acts.numbers import Thing
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked, Proposal
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.acts.typed_readings import TypedReading
from invdb.records.engines import Position
from invdb.terms import (
    BalanceKind,
    Condition,
    FitKind,
    Layout,
    MatchOn,
    Scope,
    SpecKind,
    Tracking,
)
from tests.bench_shop import CHECKS, SOURCE
from tests.engine_shop import LONG_AGO, came
from tests.shop import BEGUN_ON, Shop

OVERSIZE = "0.25 mm oversize"
STATIONS = ("barrel", "piston", "rod", "end float shim")
DIMENSION = SpecKind.DIMENSION
SPECS = {
    "barrel": (
        NewSpecLine(DIMENSION, "bore", unit="mm", new_low="100.00", new_high="100.03", worn_high="100.15"),
        NewSpecLine(
            DIMENSION, "bore", OVERSIZE, "mm", new_low="100.25", new_high="100.28", worn_high="100.40"
        ),
        NewSpecLine(DIMENSION, "float gap", unit="mm", new_low="1.00", new_high="1.40"),
    ),
    "piston": (
        NewSpecLine(DIMENSION, "skirt", unit="mm", new_low="99.70", new_high="99.74", worn_low="99.60"),
        NewSpecLine(DIMENSION, "skirt", OVERSIZE, "mm", new_low="99.95", new_high="99.99", worn_low="99.85"),
        NewSpecLine(SpecKind.MASS, "mass", unit="g", new_low="500", new_high="560"),
    ),
    "rod": (NewSpecLine(SpecKind.MASS, "small end mass", unit="g", new_low="300", new_high="360"),),
    "end float shim": tuple(
        NewSpecLine(DIMENSION, "thickness", f"{size} mm", "mm", new_low=f"{size}0", new_high=f"{size}2")
        for size in ("0.8", "1.0", "1.2")
    ),
}


@dataclass(frozen=True)
class FitsShop:
    """The parts by station, the engine, and its positions by name."""

    shop: Shop
    parts: dict[str, int]
    engine: int
    engine_type: int
    positions: dict[str, int] = field(default_factory=dict)

    def measured(self, session: Session, station: str, size: str = "", **figures: str) -> Thing:
        """A serviceable piece for a station that measures so; ``small_end_mass`` for the name with spaces."""
        thing = came(session, self.shop, self.parts[station], size_class=size)
        return self.measure(session, thing, **figures)

    def measure(self, session: Session, thing: Thing, **figures: str) -> Thing:
        """Measure a piece, and find it serviceable."""
        readings = tuple(
            TypedReading(None, name.replace("_", " "), "", "", text) for name, text in figures.items()
        )
        order = InspectionOrder(thing, readings, (), Condition.SERVICEABLE, Scope.FLIGHT, CHECKS, sure=True)
        inspect(session, replace(order, reason="measured so"), self.shop.by())
        return thing

    def proposed(self, session: Session, *cylinders: str) -> Proposal:
        """The kits of these cylinders, of both unless some are named."""
        names = cylinders or tuple(self.positions)
        return propose(session, tuple(Asked(self.engine, self.positions[name]) for name in names))


def furnish_fits(shop_open: Shop) -> FitsShop:
    """Write the engine type, its parts and specifications, its fits, rules and masses into the store."""
    with shop_open.store.writing() as session:
        by, old = shop_open.by(BEGUN_ON), shop_open.by(LONG_AGO)
        family = catalogue.add_family(session, "FT", "Fitted parts", by)
        parts = {
            station: catalogue.add_part(
                session,
                NewPart(
                    family, station.capitalize(), Tracking.BATCH if "shim" in station else Tracking.PIECE
                ),
                by,
            )
            for station in STATIONS
        }
        dabchick = shop.add_engine_type(
            session,
            shop.NewEngineType(
                "Dabchick",
                Layout.IN_LINE,
                positions=tuple(shop.NewPosition(name, 0, 0, 0) for name in ("1", "2")),
                stations=tuple(shop.NewStation(name, 0, 0) for name in STATIONS),
            ),
            by,
        )
        for sequence, station in enumerate(STATIONS, start=1):
            line = NewKitLine(dabchick, "cylinder", sequence, station, parts[station], 1)
            catalogue.add_kit_line(session, line, by)
        for station in ("barrel", "piston"):
            add_part_size(session, NewPartSize(parts[station], OVERSIZE), old)
        for size in ("0.8 mm", "1.0 mm", "1.2 mm"):
            add_part_size(session, NewPartSize(parts["end float shim"], size), old)
        for station, lines in SPECS.items():
            add_spec(session, NewSpec(parts[station], "A", LONG_AGO, SOURCE, lines), old)
        skirt = NewFitLimit(
            dabchick,
            "cylinder",
            "piston in barrel",
            FitKind.AS_FOUND,
            "barrel",
            "bore",
            "piston",
            "skirt",
            "mm",
            "0.28",
            "0.34",
            SOURCE,
            "0.40",
            "0.30",
        )
        add_fit_limit(session, skirt, old)
        floating = replace(
            skirt,
            name="end float",
            kind=FitKind.SELECTED,
            outer_name="float gap",
            inner_station="end float shim",
            inner_name="thickness",
            low="0.05",
            high="0.15",
            worn_high=None,
            target=None,
        )
        add_fit_limit(session, floating, old)
        rule = NewMatchRule(dabchick, "cylinder", "piston", "barrel", MatchOn.SIZE, SOURCE)
        add_match_rule(session, rule, old)
        chrome = replace(rule, what=MatchOn.FINISH, finish="chromium faced", other_finish="chromium plated")
        add_match_rule(session, chrome, old)
        masses = (("piston", "mass"), ("rod", "small end mass"))
        balance = NewBalanceSet(
            dabchick, "cylinder", "reciprocating masses", BalanceKind.SET, "g", "5", masses, SOURCE
        )
        add_balance_set(session, balance, old)
        engine = shop.add_engine(
            session, shop.NewEngine(dabchick, "D7", "Dabchick Seven", Scope.FLIGHT, shop_open.workshop), by
        )
        positions: dict[str, int] = dict(
            session.execute(
                select(Position.name, Position.id).where(Position.engine_type_id == dabchick)
            ).all()
        )
        return FitsShop(shop_open, parts, engine, dabchick, positions)
