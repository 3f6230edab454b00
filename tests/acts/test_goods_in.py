"""What comes in: numbered, complete, uninspected, and never twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.catalogue import NewOtherNumber, NewPart, add_other_number
from invdb.acts.goods_in import GoodsIn, MadeHere, NewBatch, NewPiece, ReceivingChecks, receive
from invdb.acts.hold import Subject, clear_hold, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing, part_by_number, person_named, place_named, thing_by_tag
from invdb.acts.papers import NewPaper
from invdb.acts.reverse import reverse
from invdb.acts.shop import NewPlace, add_person, add_place
from invdb.acts.split import Share, split
from invdb.acts.things import things_by_id
from invdb.records.ledger import Entry
from invdb.records.stock import Batch, Piece
from invdb.terms import (
    NO_PRIOR_LIFE,
    PRIOR_LIFE_UNKNOWN,
    Condition,
    FieldRefused,
    Hazard,
    HoursKnown,
    Origin,
    PaperKind,
    PlaceKind,
    PriorLife,
    Refused,
    Scope,
    Tracking,
    WorkState,
)
from tests.shop import TODAY, Shop

LOOKED_AT = ReceivingChecks("yes, by number", "match", "none seen", "sealed, labelled")
CERTIFICATE = NewPaper(PaperKind.RELEASE_CERTIFICATE, "RC 5512", content=b"a certificate")


def refused_field(shop: Shop, goods: GoodsIn) -> FieldRefused:
    with pytest.raises(FieldRefused) as caught, shop.store.writing() as session:
        receive(session, goods, shop.by())
    return caught.value


def valves(shop: Shop, **more: object) -> GoodsIn:
    goods = GoodsIn(Origin.NEW, shop.goods_in, part=shop.valve, pieces=(NewPiece("W 31"),))
    return replace(goods, **more)  # type: ignore[arg-type]


def test_pieces_come_in_with_tags_of_our_own_and_uninspected(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = receive(
            session, valves(shop, pieces=(NewPiece("W 31"), NewPiece("W 32"), NewPiece())), shop.by()
        )
    tags = [tag for _, tag in received.things]
    assert len(set(tags)) == 3
    assert received.hazards == ((Hazard.SODIUM, "Do not cut the stem."),)
    with shop.store.reading() as session:
        for tag in tags:
            thing = thing_by_tag(session, tag.lower().replace("-", " "))
            state = things_by_id(session, [thing])[thing]
            assert (state.condition, state.scope) == (Condition.UNINSPECTED, None)
            assert [where.name for where in state.where] == ["Goods in"]


def test_several_like_pieces_are_one_entry(shop: Shop) -> None:
    with shop.store.writing() as session:
        receive(session, valves(shop, pieces=tuple(NewPiece() for _ in range(12))), shop.by())
    with shop.store.reading() as session:
        entry = session.scalars(select(Entry.number).order_by(Entry.number.desc())).first()
        assert len(set(session.scalars(select(Piece.set_by)))) == 1
        assert session.scalars(select(Piece.set_by)).first() == entry


def test_a_serial_that_is_here_already_is_refused_with_a_pointer_to_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        tag = receive(session, valves(shop), shop.by()).things[0][1]
    refused = refused_field(shop, valves(shop))
    assert refused.field == "serial"
    assert tag in refused.reason and "Goods in" in refused.reason
    twice = refused_field(shop, valves(shop, pieces=(NewPiece("Q 1"), NewPiece("Q 1"))))
    assert "Q 1" in twice.reason


def test_a_part_can_be_added_on_the_spot_and_both_go_or_neither(shop: Shop) -> None:
    new = NewPart(1, "Exhaust valve, plain stem", Tracking.PIECE)
    with pytest.raises(FieldRefused), shop.store.writing() as session:
        receive(session, valves(shop, part=None, new_part=new, origin=Origin.SALVAGED), shop.by())
    with shop.store.reading() as session:
        before = session.scalars(select(Piece.id)).all()
    with shop.store.writing() as session:
        received = receive(session, valves(shop, part=None, new_part=new), shop.by())
        assert received.part != shop.valve
    assert before == []


@pytest.mark.parametrize(
    "missing", ["drawing", "revision", "material", "material_certificate", "made_by", "inspected_by"]
)
def test_what_was_made_here_says_how(shop: Shop, missing: str) -> None:
    whole = MadeHere("HM 114", "C", "EN 24", "heat 88213", "Colm Farraday", "Ada Farrow")
    goods = valves(shop, origin=Origin.MADE_HERE, made_here=replace(whole, **{missing: " "}))
    assert refused_field(shop, goods).field == missing
    with shop.store.writing() as session:
        receive(session, replace(goods, made_here=whole), shop.by())


def test_bad_goods_are_refused_by_field_and_nothing_is_left(shop: Shop) -> None:
    absurd = PriorLife(HoursKnown.EXACT, 90_000_000, 90_000_000)
    cases: list[tuple[str, GoodsIn]] = [
        ("donor", valves(shop, origin=Origin.SALVAGED)),
        ("work_reference", valves(shop, work_state=WorkState.REPAIRED)),
        ("quantity", valves(shop, pieces=())),
        ("quantity", valves(shop, pieces=(), batch=NewBatch(3))),
        ("quantity", valves(shop, pieces=tuple(NewPiece() for _ in range(201)))),
        ("quantity", valves(shop, part=shop.spring, pieces=(), batch=NewBatch(0))),
        ("quantity", valves(shop, part=shop.spring, pieces=(), batch=NewBatch(-4))),
        ("quantity", valves(shop, part=shop.wire, pieces=(), batch=NewBatch(10**15))),
        ("shelf_expiry_on", valves(shop, part=shop.gasket, pieces=(), batch=NewBatch(3))),
        ("place", valves(shop, place=shop.bonded)),
        ("place", valves(shop, place=99_999)),
        ("prior_hours", valves(shop, pieces=(NewPiece(prior_hours=absurd),))),
        ("papers", valves(shop, papers=(NewPaper(PaperKind.INVOICE, " "),))),
        ("part", valves(shop, part=99_999)),
    ]
    for field, goods in cases:
        assert refused_field(shop, goods).field == field
    with pytest.raises(FieldRefused) as caught, shop.store.writing() as session:
        receive(session, valves(shop), shop.by(TODAY + timedelta(days=1)))
    assert "future" in caught.value.reason
    with pytest.raises(Refused, match=r"control character U\+0007"), shop.store.writing() as session:
        receive(session, valves(shop, pieces=(NewPiece("W\x0731"),)), shop.by())
    with shop.store.reading() as session:
        assert session.scalars(select(Piece.id)).all() == []
        assert session.scalars(select(Batch.id)).all() == []


def test_a_mistyped_number_is_told_from_an_unknown_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        tag = receive(session, valves(shop), shop.by()).things[0][1]
    wrong = tag[:-1] + ("7" if tag[-1] != "7" else "8")
    with shop.store.reading() as session:
        with pytest.raises(Refused, match="mistyped"):
            thing_by_tag(session, wrong)
        with pytest.raises(Refused, match="No piece or batch has the tag"):
            thing_by_tag(session, "T90000-" + _check("T90000"))
        with pytest.raises(Refused, match="shape"):
            thing_by_tag(session, "the blue one")
        assert part_by_number(session, "pw 1187") == shop.valve


def test_a_name_is_known_whatever_its_case_and_letters(shop: Shop) -> None:
    with shop.store.writing() as session:
        person = add_person(session, "Émile Żuraw", shop.by())
        place = add_place(session, NewPlace("Шкаф 1", PlaceKind.BIN), shop.by())
        small = add_place(session, NewPlace("шкаф 2", PlaceKind.BIN), shop.by())
        large = add_place(session, NewPlace("Шкаф 2", PlaceKind.BIN), shop.by())
        number = NewOtherNumber("ЧЖ 44")
        add_other_number(session, shop.barrel, number, shop.by())
        for text in ("Émile Żuraw", "émile żuraw", " E\u0301MILE ŻURAW "):
            assert person_named(session, text) == person
        assert place_named(session, "шкаф 1") == place
        assert (place_named(session, "шкаф 2"), place_named(session, "Шкаф 2")) == (small, large)
        with pytest.raises(Refused, match="any of: Шкаф 2, шкаф 2"):
            place_named(session, "ШКАФ 2")
        assert part_by_number(session, "ЧЖ 44") == shop.barrel


def _check(body: str) -> str:
    from stdnum.iso7064 import mod_37_36

    return mod_37_36.calc_check_digit(body)


def test_accepted_for_flight_by_a_licensed_person_with_checks_and_papers(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = receive(session, valves(shop), shop.by()).things[0][0]
    flight = Acceptance((thing,), Scope.FLIGHT, LOOKED_AT, to_place=shop.bonded)
    for acceptance, by, said in (
        (replace(flight, checks=ReceivingChecks()), shop.by(), "the check of the right part"),
        (flight, replace(shop.by(), person=shop.keeper), "licence number"),
        (flight, shop.by(), "no papers"),
        (replace(flight, scope=Scope.GROUND_RUNNING), shop.by(), "bonded"),
    ):
        with pytest.raises(Refused, match=said), shop.store.writing() as session:
            accept(session, acceptance, by)
    with shop.store.writing() as session:
        accept(session, replace(flight, to_place=shop.bin_a, override="stripped and measured"), shop.by())
    with shop.store.reading() as session:
        state = things_by_id(session, [thing])[thing]
        assert (state.condition, state.scope, state.where[0].name) == ("serviceable", "flight", "A-01-01")
        note = session.scalars(select(Entry.note).order_by(Entry.number.desc())).first()
        assert note == "Override: stripped and measured"


def test_an_expired_or_doubtful_thing_is_not_accepted_whoever_asks(shop: Shop) -> None:
    used_up = PriorLife(HoursKnown.BETWEEN, 500_00, 600_00)
    no_worst_end = PriorLife(HoursKnown.AT_LEAST, 300_00)
    with shop.store.writing() as session:
        goods = valves(
            shop, papers=(CERTIFICATE,), pieces=(NewPiece("1", used_up), NewPiece("2", no_worst_end))
        )
        (expired, _), (unknown, _) = receive(session, goods, shop.by()).things
        past = GoodsIn(
            Origin.NEW, shop.bin_a, part=shop.gasket, batch=NewBatch(5), shelf_expiry_on=date(2025, 12, 31)
        )
        stale = receive(session, past, shop.by()).things[0][0]
    for thing, said in ((expired, "life is used up"), (unknown, "not known"), (stale, "shelf life ended")):
        with pytest.raises(Refused, match=said), shop.store.writing() as session:
            accept(session, Acceptance((thing,), Scope.FLIGHT, LOOKED_AT, override="I say so"), shop.by())
    with shop.store.writing() as session:
        accept(session, Acceptance((unknown,), Scope.GROUND_RUNNING, LOOKED_AT), shop.by())


def test_forty_springs_tested_come_to_three_batches_that_keep_their_trace(shop: Shop) -> None:
    with shop.store.writing() as session:
        goods = GoodsIn(
            Origin.NEW_OLD_STOCK,
            shop.bin_a,
            part=shop.spring,
            batch=NewBatch(40),
            papers=(CERTIFICATE,),
            checks=LOOKED_AT,
        )
        batch = receive(session, goods, shop.by()).things[0][0].batch
        assert batch is not None
        raise_hold(session, (Subject(batch=batch),), "odd colour", shop.by())
    shares = (
        Share(31, Condition.SERVICEABLE, Scope.FLIGHT),
        Share(5, Condition.UNSERVICEABLE),
        Share(4, Condition.UNSALVAGEABLE, to_place=shop.scrap),
    )
    with pytest.raises(Refused, match="odd colour"), shop.store.writing() as session:
        split(session, batch, shop.bin_a, shares, shop.by())
    with shop.store.writing() as session:
        clear_hold(session, 1, "stain, wiped off", shop.by())
        done = split(session, batch, shop.bin_a, shares, shop.by())
    with shop.store.reading() as session:
        children = things_by_id(session, [Thing(batch=child) for child, _ in done.batches])
        assert [
            (str(state.condition), state.where[0].quantity, state.where[0].name, state.papers)
            for state in children.values()
        ] == [
            ("serviceable", 31, "A-01-01", 1),
            ("unserviceable", 5, "A-01-01", 1),
            ("unsalvageable", 4, "Scrap drum", 1),
        ]
        assert things_by_id(session, [Thing(batch=batch)])[Thing(batch=batch)].where == ()
    with pytest.raises(FieldRefused, match="lies there"), shop.store.writing() as session:
        split(session, batch, shop.bin_a, shares, shop.by())


def test_a_share_is_accepted_only_where_its_batch_could_be(shop: Shop) -> None:
    good = (Share(5, Condition.SERVICEABLE, Scope.FLIGHT),)
    with shop.store.writing() as session:
        goods = GoodsIn(Origin.NEW, shop.bin_a, part=shop.spring, batch=NewBatch(40), papers=(CERTIFICATE,))
        unseen = receive(session, goods, shop.by()).things[0][0]
        worn = receive(session, replace(goods, checks=LOOKED_AT), shop.by()).things[0][0]
        set_condition(session, (worn,), Condition.UNSERVICEABLE, "short of length", shop.by())
    for thing, said in ((unseen, "the check of damage is not recorded"), (worn, "it is unserviceable")):
        assert thing.batch is not None
        with pytest.raises(Refused, match=said), shop.store.writing() as session:
            split(session, thing.batch, shop.bin_a, good, shop.by())
    assert unseen.batch is not None
    with shop.store.writing() as session:
        (child,) = split(
            session, unseen.batch, shop.bin_a, (Share(5, Condition.UNINSPECTED),), shop.by()
        ).batches
        accept(session, Acceptance((Thing(batch=child[0]),), Scope.FLIGHT, LOOKED_AT), shop.by())


def test_the_tag_of_a_share_is_one_of_ours_and_free(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session)
        taken = things_by_id(session, [Thing(batch=batch)])[Thing(batch=batch)].tag
    for tag, said in ((taken, "is taken"), ("VX0001-Y", "is no batch")):
        with pytest.raises(FieldRefused, match=said), shop.store.writing() as session:
            split(session, batch, shop.bin_a, (Share(1, Condition.UNSERVICEABLE, tag=tag),), shop.by())


def test_a_remark_on_what_came_is_kept_with_pieces_and_with_a_batch(shop: Shop) -> None:
    with shop.store.writing() as session:
        goods = GoodsIn(Origin.NEW, shop.bin_a, note="tin was dented")
        (piece, _), (batch, _) = (
            shop.book_in(session, shop.valve, pieces=1, goods=goods).things[0],
            shop.book_in(session, shop.spring, quantity=4, goods=goods).things[0],
        )
        states = things_by_id(session, [piece, batch])
    assert [states[thing].note for thing in (piece, batch)] == ["tin was dented"] * 2


def test_an_overhauled_piece_is_not_taken_to_have_run_no_hours(shop: Shop) -> None:
    with shop.store.writing() as session:
        goods = GoodsIn(Origin.NEW_OLD_STOCK, 0, work_state=WorkState.OVERHAULED, work_reference="Report 7")
        overhauled = shop.book_in(session, shop.valve, pieces=1, goods=goods).things[0][0]
        untouched = shop.book_in(session, shop.valve, pieces=1).things[0][0]
        states = things_by_id(session, [overhauled, untouched])
    assert (states[overhauled].used, states[overhauled].prior_hours) == (True, PRIOR_LIFE_UNKNOWN)
    assert (states[untouched].used, states[untouched].prior_hours) == (False, NO_PRIOR_LIFE)


def test_more_than_there_is_can_not_be_split_off_or_moved(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10)
    with pytest.raises(FieldRefused, match="11 off"), shop.store.writing() as session:
        split(session, batch, shop.bin_a, (Share(11, Condition.UNSERVICEABLE),), shop.by())
    with pytest.raises(FieldRefused, match="10 off"), shop.store.writing() as session:
        move(session, (Shift(Thing(batch=batch), 11),), shop.bin_b, shop.by())
    with shop.store.writing() as session:
        move(session, (Shift(Thing(batch=batch), 4),), shop.bin_b, shop.by())
    with pytest.raises(FieldRefused, match="several places"), shop.store.writing() as session:
        move(session, (Shift(Thing(batch=batch)),), shop.quarantine, shop.by())


def test_a_bonded_bin_admits_only_accepted_stock_and_scrap_lies_apart(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = Thing(piece=shop.piece(session))
    with pytest.raises(FieldRefused, match="bonded"), shop.store.writing() as session:
        move(session, (Shift(piece),), shop.bonded, shop.by())
    with pytest.raises(FieldRefused, match="scrap drum"), shop.store.writing() as session:
        set_condition(session, (piece,), Condition.UNSALVAGEABLE, "cracked through", shop.by())
    with shop.store.writing() as session:
        set_condition(session, (piece,), Condition.UNSALVAGEABLE, "cracked", shop.by(), to_place=shop.scrap)
    with pytest.raises(FieldRefused, match="among stock"), shop.store.writing() as session:
        move(session, (Shift(piece),), shop.bin_a, shop.by())


def test_an_entry_is_reversed_whole_and_only_while_nothing_stands_on_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = receive(session, valves(shop), shop.by())
        moved = move(session, (Shift(received.things[0][0]),), shop.bin_a, shop.by())
    with pytest.raises(Refused, match=f"[Ee]ntry {moved}"), shop.store.writing() as session:
        reverse(session, received.entry, "booked twice", shop.by())
    with shop.store.writing() as session:
        reversal = reverse(session, moved, "wrong bin", shop.by())
        reverse(session, received.entry, "booked twice", shop.by())
    with shop.store.reading() as session:
        assert session.scalars(select(Piece.id)).all() == []
    for number, said in (
        (moved, "already"),
        (reversal, "itself a reversal"),
        (1, "began the store"),
        (999, "no entry"),
    ):
        with pytest.raises(Refused, match=said), shop.store.writing() as session:
            reverse(session, number, "again", shop.by())
    with shop.store.writing() as session:
        again = receive(session, valves(shop), shop.by())
    assert again.things[0][1] != received.things[0][1], "a tag is never given twice"


def test_the_day_it_was_made_is_kept_and_is_not_after_it_came(shop: Shop) -> None:
    made = date(1991, 5, 2)
    goods = GoodsIn(Origin.NEW_OLD_STOCK, shop.bin_a, part=shop.valve, pieces=(NewPiece(made_on=made),))
    with shop.store.writing() as session:
        (thing, _) = receive(session, goods, shop.by()).things[0]
        assert session.scalar(select(Piece.made_on).where(Piece.id == thing.piece)) == made
    late = replace(goods, pieces=(NewPiece(made_on=TODAY + timedelta(days=1)),))
    with shop.store.writing() as session, pytest.raises(FieldRefused, match="before it was made"):
        receive(session, late, shop.by())
