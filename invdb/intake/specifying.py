"""The acts of the tables about what parts must measure and how they fit together."""

from __future__ import annotations

from sqlalchemy.orm import Session

from invdb.acts.balance import NewBalanceSet, add_balance_set
from invdb.acts.by import By
from invdb.acts.fit_limit import NewFitLimit, add_fit_limit
from invdb.acts.match_rule import NewMatchRule, add_match_rule
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.intake.booked import Booking, Turn, booked, singly
from invdb.intake.set_up import Ids
from invdb.intake.specs import (
    BalanceRow,
    FitLimitRow,
    MatchRow,
    SizeRow,
    SpecLineRow,
    SpecRow,
    Specs,
)


class Specifying:
    """Does these acts in one session."""

    def __init__(self, session: Session, specs: Specs, ids: Ids) -> None:
        self._session = session
        self._specs = specs
        self._ids = ids

    def bookings(self) -> list[Booking]:
        """Every act of these tables; a part's sizes come before the specification that names them."""
        specs = self._specs
        return [
            *booked("part_sizes.csv", Turn.SIZE, singly(specs.sizes), self._size),
            *booked("specs.csv", Turn.SPECIFIED, singly(specs.specs), self._specify),
            *booked("fits.csv", Turn.SPECIFIED, singly(specs.fits), self._fit),
            *booked("match_rules.csv", Turn.SPECIFIED, singly(specs.matches), self._match),
            *booked("balance_sets.csv", Turn.SPECIFIED, singly(specs.balances), self._balance),
        ]

    def _by(self, row: SizeRow | SpecRow | FitLimitRow | MatchRow | BalanceRow) -> By:
        return By(self._ids.people[row.who], row.booked_on)

    def _size(self, rows: tuple[SizeRow, ...]) -> None:
        (row,) = rows
        size = NewPartSize(self._ids.parts[row.house_number], row.size_class, row.note)
        add_part_size(self._session, size, self._by(row))

    def _specify(self, rows: tuple[SpecRow, ...]) -> None:
        (row,) = rows
        spec = NewSpec(
            self._ids.parts[row.house_number],
            row.revision,
            row.booked_on,
            row.source,
            tuple(map(_line, row.lines)),
            note=row.note,
        )
        add_spec(self._session, spec, self._by(row))

    def _fit(self, rows: tuple[FitLimitRow, ...]) -> None:
        (row,) = rows
        fit = NewFitLimit(
            self._ids.engine_types[row.engine_type],
            row.group,
            row.name,
            row.kind,
            row.outer_station,
            row.outer_name,
            row.inner_station,
            row.inner_name,
            row.unit,
            row.low,
            row.high,
            row.source,
            row.worn_high,
            row.target,
            row.outer_point,
            self._ids.parts.get(row.outer_part or ""),
            row.inner_point,
            self._ids.parts.get(row.inner_part or ""),
            row.gap,
            row.operation,
            row.makes_matched,
            from_on=row.booked_on,
        )
        add_fit_limit(self._session, fit, self._by(row), sure=True)

    def _match(self, rows: tuple[MatchRow, ...]) -> None:
        (row,) = rows
        rule = NewMatchRule(
            self._ids.engine_types[row.engine_type],
            row.group,
            row.station,
            row.other_station,
            row.what,
            row.source,
            row.finish,
            row.other_finish,
        )
        add_match_rule(self._session, rule, self._by(row))

    def _balance(self, rows: tuple[BalanceRow, ...]) -> None:
        (row,) = rows
        balance = NewBalanceSet(
            self._ids.engine_types[row.engine_type],
            row.group,
            row.name,
            row.kind,
            row.unit,
            row.spread,
            row.masses,
            row.source,
            row.positions,
            row.target,
        )
        add_balance_set(self._session, balance, self._by(row))


def _line(row: SpecLineRow) -> NewSpecLine:
    return NewSpecLine(**{name: value for name, value in vars(row).items() if name != "line"})
