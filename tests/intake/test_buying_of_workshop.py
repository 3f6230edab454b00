"""The invented workshop's buying: what will run short, what was asked, ordered and lent, and what it cost."""

from __future__ import annotations

import shutil
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.beliefs import beliefs
from invdb.acts.enquiry_list import enquiries, quotes
from invdb.acts.flying_plan import flying_plan
from invdb.acts.loan_list import loans
from invdb.acts.overhaul_plan import overhaul_plan
from invdb.acts.purchase_list import OrderFacts, OrderLineFacts, firm_records, purchase_orders
from invdb.acts.short_board import short_board
from invdb.acts.stock_value import slow_stock, stock_value
from invdb.intake.loans import LoanNames, read_loans
from invdb.intake.plans import PlanNames, read_plans
from invdb.intake.purchases import PurchaseNames, read_purchases
from invdb.intake.workshop import Workshop, read_workshop
from invdb.records.buying import Cost, PlannedOverhaul
from invdb.records.engines import Engine
from invdb.rules.short_facts import ShortAction
from invdb.store import Store
from invdb.terms import LoanWay, OrderKind, Refused
from tests.intake.test_workshop import changed


def sight(workshop: Workshop, what: str) -> str:
    return next(each.number for each in workshop.sights if each.what == what)


def order_of(session: Session, number: str) -> OrderFacts:
    (found,) = (each for each in purchase_orders(session, only_open=False) if each.number == number)
    return found


def line_for(order: OrderFacts, part: str) -> OrderLineFacts:
    (found,) = (line for line in order.lines if line.part_number == part)
    return found


def test_the_exhaust_valve_will_run_short_and_the_firm_makes_no_fewer_than_twelve(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        board = short_board(session)
    valve = sight(workshop, "will run short")
    assert [row.house_number for row in board.rows if row.p_short > 0.2] == [valve]
    assert (board.rows[0].house_number, board.rows[0].free) == (valve, 9)
    assert board.rows[0].stops_flying and board.rows[0].first_short is not None
    made = next(each for each in board.rows[0].advice if each.action is ShortAction.MAKE)
    assert made.quantity == 12 and "Saltenham" in made.words


def test_few_parts_are_watched_and_most_are_safe(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        board = short_board(session)
    watched = {row.house_number for row in board.rows if 0.05 < row.p_short <= 0.2}
    assert watched >= {each.number for each in workshop.sights if each.what == "may run short"}
    assert len(watched) <= 4
    assert sum(row.p_short < 0.01 for row in board.rows) > 0.9 * len(board.rows)


def test_one_overhaul_was_moved_and_one_was_done(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        planned = {each.engine_name: each.on for each in overhaul_plan(session) if each.planned}
        done = session.execute(
            select(Engine.name, PlannedOverhaul.done_on)
            .join(PlannedOverhaul, PlannedOverhaul.engine_id == Engine.id)
            .where(PlannedOverhaul.done_on.is_not(None))
        ).all()
        seasons = {each.name: each for each in flying_plan(session, 12)}
    assert [tuple(each) for each in done] == [("Linnet 142", date(2021, 4, 26))]
    assert planned["Linnet 117"] == date(2027, 11, 8)
    assert sum(on < date(2028, 11, 1) for on in planned.values()) == 3
    flown = sum(month.hours for month in seasons["Linnet 117"].months if month.planned)
    assert 0 < flown < 37_10, "it flies on what its overhaul life has left"


def test_what_is_believed_of_a_family_says_where_it_comes_from(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        held = beliefs(session)
    assert {each.family_name[:2] for each in held.of_families} >= {"VA", "SP", "PN", "LN", "BR"}
    assert all(each.source and not each.built_in for each in held.of_families)
    assert held.others.built_in


def test_firms_were_asked_and_some_declined_and_some_have_not_answered(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        asked = enquiries(session, only_open=False)
    assert len(asked) == 3 and sum(each.closed_on is None for each in asked) == 2
    for each in asked:
        assert len(each.firms) > 1
    firms = [firm for each in asked for firm in each.firms]
    assert any(firm.declined_on is not None for firm in firms)
    assert any(firm.declined_on is None and not firm.quotes for firm in firms)


def test_the_valve_is_quoted_from_twelve_on_and_other_quotes_are_in_euros_or_run_out(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        every, standing = quotes(session, only_standing=False), quotes(session)
    (valve,) = (each for each in standing if each.part_number == sight(workshop, "will run short"))
    assert (valve.minimum, valve.lead_days, valve.kind) == (12, 140, OrderKind.MAKE)
    assert valve.prices == ((12, 184_00), (24, 156_00))
    assert {each.currency for each in standing} == {"GBP", "EUR", "USD"}
    assert any(each.valid_until and each.valid_until < date(2026, 11, 25) for each in every)


def test_what_came_against_orders_is_what_the_goods_in_notes_say(
    harrowmere: Store, workshop: Workshop
) -> None:
    came: Counter[str] = Counter()
    numbers = {(row.goods_in, row.house_number): row.order for row in workshop.purchases.bought}
    for piece in workshop.pieces:
        came[f"{numbers.get((piece.goods_in, piece.house_number))} {piece.house_number}"] += 1
    for batch in workshop.batches:
        key = f"{numbers.get((batch.goods_in, batch.house_number))} {batch.house_number}"
        came[key] += batch.quantity
    with harrowmere.reading() as session:
        every = purchase_orders(session, only_open=False)
    assert 15 <= len(every) <= 25
    for order in every:
        for line in order.lines:
            assert line.received == came[f"{order.number} {line.part_number}"], line
            assert line.received <= line.quantity


def test_two_orders_are_open_and_one_of_them_is_overdue(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        still = purchase_orders(session)
    late, due = sight(workshop, "order overdue"), sight(workshop, "order to come")
    assert {order.number: order.days_over for order in still} == {late: 40, due: 0}
    (overdue,) = (order for order in still if order.number == late)
    assert sum(line.received for line in overdue.lines) > 0


def test_an_order_came_in_parts_and_another_was_closed_short(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        parts = order_of(session, sight(workshop, "part deliveries"))
        short = order_of(session, sight(workshop, "closed short"))
    days = {each.delivered_on for line in parts.lines for each in line.deliveries}
    assert days == {date(2026, 2, 16), date(2026, 9, 14)}
    assert any(len(line.deliveries) == 2 for line in parts.lines) and not parts.open
    valves = line_for(short, sight(workshop, "will run short"))
    assert (valves.quantity, valves.received, valves.to_come) == (12, 9, 0)
    assert "hardness" in valves.closed_because


def test_a_crankshaft_was_given_for_another(harrowmere: Store, workshop: Workshop) -> None:
    given = sight(workshop, "exchange")
    with harrowmere.reading() as session:
        (order,) = (
            each for each in purchase_orders(session, only_open=False) if each.kind is OrderKind.EXCHANGE
        )
    (line,) = order.lines
    assert (line.given_tag, line.given_on, line.received) == (given, date(2022, 2, 14), 1)
    assert workshop.standings[given].quantities == {"Outside": 1}


def test_every_supplier_that_was_ordered_of_has_a_record_of_its_time(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        records = {each.firm_name: each for each in firm_records(session)}
    ordered = [record for record in records.values() if record.lines]
    assert len(ordered) == 7 and all(record.taken_days for record in ordered)
    assert set(records["Saltenham Valve Company"].taken_days) == {147}
    late = {record.firm_name for record in ordered if record.late}
    # Saltenham delivered by its day, but for three valves that never came.
    assert late == {"Fenwade Aero Stores", "Saltenham Valve Company"}


def test_one_piece_is_lent_one_is_overdue_and_one_was_given_back(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        every = {each.number: each for each in loans(session, only_open=False)}
    overdue = every[sight(workshop, "loan overdue")]
    assert (overdue.way, overdue.back_by, overdue.days_over) == (LoanWay.OUT, date(2026, 8, 31), 86)
    back = every[sight(workshop, "borrowed and given back")]
    assert (back.way, back.owner_name, back.back_on) == (
        LoanWay.IN, "Sandlow Technical College", date(2023, 9, 25),
    )  # fmt: skip
    assert workshop.standings[back.tag].quantities == {"Outside": 1}
    lent = sight(workshop, "lent out")
    (still,) = (each for each in every.values() if each.tag == lent and each.back_on is None)
    assert still.days_over == 0 and workshop.standings[lent].quantities == {still.place_name: 1}


def test_stock_has_cost_in_three_currencies_and_much_of_it_no_known_cost(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        value, slow = stock_value(session), slow_stock(session)
        sources = set(session.scalars(select(Cost.source)))
    assert [each.currency for each in value.values] == ["EUR", "GBP", "USD"]
    assert value.uncosted > 100
    mixed = next(each for each in value.parts if each.part_number == sight(workshop, "some of no known cost"))
    assert mixed.values and 0 < mixed.uncosted < mixed.quantity
    assert "as booked in" in sources and any(source.startswith("order D") for source in sources)
    assert sight(workshop, "stock without use") in {each.part_number for each in slow}


def read_buying(folder: Path, workshop: Workshop) -> None:
    """Read the tables about buying alone, with the names of the workshop's other tables."""
    parts = {part.house_number: part for part in workshop.parts}
    tags = {thing.tag: parts[thing.house_number] for thing in workshop.things}
    people = {person.name for person in workshop.people}
    places = {place.name: place for place in workshop.places}
    engines = {engine.name for engine in workshop.engines}
    read_plans(folder, PlanNames(engines, {family.letters for family in workshop.families}, people))
    owners = {owner.name for owner in workshop.owners}
    read_loans(folder, LoanNames(tags, parts, people, owners, places))
    notes = {note.number: note for note in workshop.goods_in}
    came = {(thing.goods_in, thing.house_number) for thing in workshop.things}
    firms = {firm.name for firm in workshop.firms}
    read_purchases(folder, PurchaseNames(tags, parts, people, places, firms, notes, came))


@pytest.mark.parametrize(
    ("file", "line", "column", "value"),
    [
        ("planned_overhauls.csv", 2, "Engine", "Linnet 999"),
        ("planned_overhauls.csv", 2, "For", ""),
        ("planned_overhauls.csv", 2, "Done on", "2020-09-14"),
        ("planned_overhauls.csv", 3, "Engine", "Linnet 117"),
        ("planned_overhauls.csv", 3, "Date", "2020-09-13"),
        ("planned_overhauls.csv", 3, "Done on", "2021-05-04"),
        ("planned_flying.csv", 2, "Month", "2026-12-02"),
        ("planned_flying.csv", 3, "Month", "2026-12-01"),
        ("planned_flying.csv", 2, "Hours", "-3"),
        ("beliefs.csv", 2, "Family", "ZZ"),
        ("beliefs.csv", 2, "Rejected", "often"),
        ("beliefs.csv", 2, "Failures", "NaN"),
        ("beliefs.csv", 2, "Source", ""),
        ("enquiries.csv", 2, "Enquiry", "E00001-X"),
        ("enquiry_lines.csv", 2, "Enquiry", "E00009-C"),
        ("enquiry_lines.csv", 2, "Quantity", "18 mm"),
        ("enquiry_firms.csv", 2, "Firm", "Nobody"),
        ("quotes.csv", 2, "House number", "ZZ0001-X"),
        ("quotes.csv", 4, "House number", "VA0104-B"),
        ("quotes.csv", 2, "Currency", "ZZZ"),
        ("quotes.csv", 2, "Prices", "12 for 92.00"),
        ("quotes.csv", 2, "Prices", "12: 92,00"),
        ("quotes.csv", 3, "House number", "VA0104-B"),
        ("purchase_orders.csv", 2, "For", "beg"),
        ("purchase_orders.csv", 3, "Order", "D00001-H"),
        ("order_lines.csv", 2, "Order", "D00099-9"),
        ("order_lines.csv", 2, "Price", "410.005"),
        ("order_lines.csv", 2, "Quote", "SV Q 22/31"),
        ("order_lines.csv", 2, "Given", "T00363-E"),
        ("order_lines.csv", 2, "Closed on", "2021-01-01"),
        ("order_lines.csv", 3, "House number", "HD0401-L"),
        ("bought.csv", 2, "House number", "VA0111-D"),
        ("bought.csv", 2, "Order", "D00002-F"),
        ("bought.csv", 2, "Price", "1.00"),
        ("loans.csv", 2, "Of", "T00016-F"),
        ("loans.csv", 2, "Owner", "Nobody"),
        ("loans.csv", 2, "Back on", "2023-04-01"),
        ("loans.csv", 2, "From", "Bench 1"),
        ("loans.csv", 3, "To", "Bench 1"),
        ("loans.csv", 3, "House number", "CK0403-2"),
        ("loans.csv", 3, "Back to", "Nowhere"),
    ],
)
def test_a_wrong_cell_about_buying_is_named(
    tmp_path: Path, workshop: Workshop, file: str, line: int, column: str, value: str
) -> None:
    with pytest.raises(Refused) as refused:
        read_buying(changed(tmp_path, file, line, column, value), workshop)
    said = refused.value.reason
    assert said.startswith(f"{file}, line {line}, column ") and refused.value.remedy
    assert value in said or column in said


def test_what_is_not_where_it_is_lent_or_given_from_does_not_go(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"loans\.csv, line 4 \(L00003-J\): T00153-Y has 0 in H-01"):
        read_workshop(changed(tmp_path, "loans.csv", 4, "From", "H-01"))
    shutil.rmtree(tmp_path / "tables")
    with pytest.raises(Refused, match=r"order_lines\.csv, line 54 \(D00007-5\): T00363-E has 0 in U-02"):
        read_workshop(changed(tmp_path, "order_lines.csv", 54, "From", "U-02"))
