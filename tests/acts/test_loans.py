"""Pieces lent to a firm and to us: when they are due back, what they ran there, and what may not be lent."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts import shop as acts_of_the_shop
from invdb.acts.find import find
from invdb.acts.goods_in import GoodsIn, NewPiece
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.loan import BackFromLoan, Borrowing, LoanMade, NewLoan, borrow, get_back, give_back, lend
from invdb.acts.loan_list import loan_by_number, loans
from invdb.acts.numbers import Thing
from invdb.acts.reverse import reverse
from invdb.acts.scrap import ScrapOrder, scrap
from invdb.acts.things import ThingState, things_by_id
from invdb.acts.work import ToSend, WorkSent, send_for_work
from invdb.records.posting import post
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import (
    NO_PRIOR_LIFE,
    PRIOR_LIFE_UNKNOWN,
    Asked,
    Condition,
    FieldRefused,
    HoursKnown,
    LifeSince,
    LoanWay,
    Origin,
    PlaceKind,
    PriorLife,
    Refused,
    Unusable,
    WorkWanted,
)
from tests.acts.test_ledger_list import said
from tests.buying_shop import plater, sound
from tests.engine_shop import barrel_with_valve, last_entry
from tests.kit_shop import reserved, stock
from tests.shop import TODAY, Shop

BACK_BY = TODAY + timedelta(days=30)
TEN_HOURS = PriorLife(HoursKnown.EXACT, 10_00, 10_00)


def state(session: Session, piece: int) -> ThingState:
    return things_by_id(session, [Thing(piece=piece)])[Thing(piece=piece)]


def lent(shop: Shop, session: Session, piece: int, on: date | None = None) -> LoanMade:
    return lend(session, NewLoan(piece, shop.works, BACK_BY, hazards_seen=True), shop.by(on))


def came_on_loan(shop: Shop, session: Session) -> tuple[int, int]:
    """A valve of the firm Brackwater Plating on loan to us: the loan and the piece."""
    lender = acts_of_the_shop.add_owner(session, "Brackwater", shop.by(), firm=plater(session))
    goods = GoodsIn(Origin.UNKNOWN, shop.goods_in, shop.valve, pieces=(NewPiece(),), owner=lender)
    made = borrow(session, Borrowing(goods, BACK_BY), shop.by())
    piece = made.received.things[0][0].piece
    assert piece is not None
    return made.loan, piece


def test_a_piece_is_lent_and_overdue_until_it_is_back(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session)
        tag = state(session, piece).tag
        with pytest.raises(Asked, match="sodium"):
            lend(session, NewLoan(piece, shop.works, BACK_BY), shop.by())
        made = lent(shop, session, piece)
        assert said(session) == (
            f"Lent {tag} to Brackwater Plating on loan {made.number}, to be back by 2026-04-01."
        )
        (loan,) = loans(session)
        assert (loan.way, loan.tag, loan.place_name) == (LoanWay.OUT, tag, "At Brackwater")
        assert loan.due_words == "due 2026-04-01"
        assert find(session, made.number).found[0].ref == made.loan == loan_by_number(session, made.number)
        shop.clock.instant += timedelta(days=32)
        assert loans(session)[0].due_words == "overdue by 2 days"
        back = BackFromLoan(made.loan, shop.bin_a, NO_PRIOR_LIFE, NO_PRIOR_LIFE, "letter of 30 March")
        get_back(session, back, shop.by())
        assert said(session) == f"Got {tag} back from loan {made.number}, into A-01-01."
        assert loans(session) == ()
        assert not loans(session, only_open=False, piece=piece)[0].due_words
        assert state(session, piece).run_hours == NO_PRIOR_LIFE
        with pytest.raises(Refused, match="ended on 2026-04-03 already"):
            get_back(session, back, shop.by())
        assert sound(session)


def test_what_comes_back_is_uninspected_and_has_run_what_it_ran_there(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session)
        reset_life(session, LifeResetOrder("BP 9", piece=piece), shop.by())
        draft = shop.draft()
        draft.set("piece", piece, condition=Condition.SERVICEABLE)
        post(session, draft)
        made = lent(shop, session, piece)
        get_back(session, BackFromLoan(made.loan, shop.goods_in, TEN_HOURS, PRIOR_LIFE_UNKNOWN), shop.by())
        found = state(session, piece)
        assert (found.condition, found.scope) == (Condition.UNINSPECTED, None)
        assert found.run_hours == TEN_HOURS
        assert found.lived is not None
        assert found.lived.hours(LifeSince.OVERHAUL).known() == TEN_HOURS
        reverse(session, last_entry(session), "not back yet", shop.by())
        assert state(session, piece).run_hours == NO_PRIOR_LIFE
        assert loans(session)[0].open
        assert sound(session)


def test_what_is_lent_out_is_neither_lent_again_nor_sent_nor_scrapped(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session)
        thing = Thing(piece=piece)
        made = lent(shop, session, piece)
        elsewhere = acts_of_the_shop.NewPlace("At Aldermoor", PlaceKind.FIRM, firm=shop.supplier)
        place = acts_of_the_shop.add_place(session, elsewhere, shop.by())
        sent = WorkSent(shop.works, WorkWanted.PLATING, "chrome", (ToSend(thing),), hazards_seen=True)
        for act in (
            lambda: lend(session, NewLoan(piece, place, BACK_BY, hazards_seen=True), shop.by()),
            lambda: send_for_work(session, sent, shop.by()),
            lambda: scrap(session, ScrapOrder(thing, "x", Unusable.SAWN, shop.scrap), shop.by()),
        ):
            with pytest.raises(Refused, match=f"is lent to Brackwater Plating on loan {made.number}"):
                act()


def test_what_can_not_be_lent_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        _, theirs = came_on_loan(shop, session)
        piece = shop.piece(session)
        for new, reason in (
            (NewLoan(theirs, shop.works, BACK_BY), "not ours to lend"),
            (NewLoan(piece, shop.bin_b, BACK_BY), "lent to a firm"),
            (NewLoan(piece, 999, BACK_BY), "lent to a firm"),
            (NewLoan(piece, shop.works, TODAY - timedelta(days=1)), "is before"),
            (NewLoan(piece, shop.works, BACK_BY, document=999), "not in the store"),
        ):
            with pytest.raises(Refused, match=reason):
                lend(session, new, shop.by())
        made = lent(shop, session, piece)
        with pytest.raises(Refused, match="is a piece lent by us"):
            give_back(session, made.loan, shop.by(), hazards_seen=True)
        with pytest.raises(FieldRefused, match="when loan"):
            get_back(
                session,
                BackFromLoan(made.loan, shop.bin_a, NO_PRIOR_LIFE, NO_PRIOR_LIFE),
                shop.by(TODAY - timedelta(days=1)),
            )


def test_a_lenders_piece_comes_in_as_goods_and_goes_back(shop: Shop) -> None:
    with shop.store.writing() as session:
        loan, piece = came_on_loan(shop, session)
        (found,) = loans(session)
        assert (found.loan, found.way, found.owner_name) == (loan, LoanWay.IN, "Brackwater")
        tag = state(session, piece).tag
        assert said(session) == (
            f"Borrowed {tag} from Brackwater Plating on loan {found.number}, to be back by 2026-04-01,"
            " into Goods in."
        )
        assert state(session, piece).condition is Condition.UNINSPECTED
        with pytest.raises(Asked, match="sodium"):
            give_back(session, loan, shop.by())
        give_back(session, loan, shop.by(), hazards_seen=True)
        assert said(session) == f"Gave {tag} back to its lender, loan {found.number}."
        assert state(session, piece).where[0].place == OUTSIDE_PLACE
        assert loans(session) == ()
        assert sound(session)


def test_only_one_piece_of_a_lender_is_borrowed(shop: Shop) -> None:
    goods = GoodsIn(Origin.UNKNOWN, shop.goods_in, shop.valve, pieces=(NewPiece(),))
    with shop.store.writing() as session:
        for borrowing, field in (
            (Borrowing(goods, BACK_BY), "owner"),
            (Borrowing(replace(goods, owner=shop.workshop), BACK_BY), "owner"),
            (Borrowing(replace(goods, owner=shop.customer), BACK_BY), "firm"),
            (Borrowing(replace(goods, owner=shop.customer, pieces=()), BACK_BY), "quantity"),
            (Borrowing(replace(goods, owner=shop.customer), date(2999, 1, 1), shop.supplier), "back_by"),
        ):
            with pytest.raises(FieldRefused) as refused:
                borrow(session, borrowing, shop.by())
            assert refused.value.field == field
        borrow(session, Borrowing(replace(goods, owner=shop.customer), BACK_BY, shop.supplier), shop.by())
        assert loans(session)[0].firm_name == "Aldermoor Aero Spares"


def test_what_is_reserved_is_not_lent(shop: Shop) -> None:
    (valve,) = stock(shop)["valves"]
    (pull,) = reserved(shop, "1")
    assert valve.piece is not None
    with shop.store.writing() as session, pytest.raises(Refused, match=f"reserved for pull {pull.number}"):
        lent(shop, session, valve.piece)


def test_what_is_inside_a_lent_piece_ran_as_much_and_must_be_ours_too(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        assert barrel.piece is not None and valve.piece is not None
        with pytest.raises(Refused, match="isn't moved from there by hand"):
            lent(shop, session, valve.piece)
        made = lent(shop, session, barrel.piece)
        get_back(session, BackFromLoan(made.loan, shop.goods_in, TEN_HOURS, NO_PRIOR_LIFE), shop.by())
        assert state(session, valve.piece).run_hours == TEN_HOURS
        draft = shop.draft()
        draft.set("piece", valve.piece, owner_id=shop.customer)
        post(session, draft)
        with pytest.raises(Refused, match="inside .* is Dunmere Gliding Club's"):
            lent(shop, session, barrel.piece)


def test_a_loan_stands_again_only_while_its_piece_was_not_lent_since(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session)
        made = lent(shop, session, piece)
        shop.move(session, Thing(piece=piece), shop.works, shop.bin_a, on=TODAY)
        back = BackFromLoan(made.loan, shop.bin_a, NO_PRIOR_LIFE, NO_PRIOR_LIFE)
        ended = get_back(session, back, shop.by())
        lent(shop, session, piece)
        again = last_entry(session)
    with (
        pytest.raises(Refused, match=f"Entry {again} stands in the way: it lent"),
        shop.store.writing() as session,
    ):
        reverse(session, ended, "not back", shop.by())
    with shop.store.writing() as session:
        reverse(session, again, "not lent", shop.by())
        reverse(session, ended, "not back", shop.by())
        assert loans(session)[0].loan == made.loan
        assert sound(session)
