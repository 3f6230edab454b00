"""What stands in the ledger: numbers, instants, bodies, hashes, lines, facts and reversals."""

from __future__ import annotations

import json
import unicodedata
from datetime import timedelta
from hashlib import sha256

import pytest
from sqlalchemy import func, select, text

from invdb.acts import catalogue
from invdb.acts.by import By
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.reverse import reverse
from invdb.records.base import write_instant
from invdb.records.catalogue import Part
from invdb.records.documents import DocumentContent
from invdb.records.ledger import NO_HASH, Entry, EntryFact, EntryLine, LedgerHead
from invdb.records.people import Person
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.rules.sealing import canonical
from invdb.store import Store
from invdb.terms import EntryKind, Origin, PaperKind, Refused
from tests.shop import NOW, TODAY, Clock, Shop


def some_days_work(shop: Shop, serial: str = "E\u0301-4") -> None:
    """Book in pieces and a batch with a paper, late and today, and take one entry back."""
    paper = NewPaper(PaperKind.INVOICE, "INV-77", content=b"one exhaust valve")
    with shop.store.writing() as session:
        receive(
            session,
            GoodsIn(Origin.NEW, shop.goods_in, part=shop.valve, pieces=(NewPiece(serial),), papers=(paper,)),
            shop.by(TODAY - timedelta(days=40), note="Ring der Fa. Söhne\nzwei Zeilen"),
        )
    with shop.store.writing() as session:
        batch = shop.book_in(session, shop.spring, quantity=12)
    with shop.store.writing() as session:
        reverse(session, batch.entry, "Booked in twice", shop.by())


def entries(store: Store) -> list[Entry]:
    with store.reading() as session:
        found = list(session.scalars(select(Entry).order_by(Entry.number)))
        session.expunge_all()
        return found


def test_numbers_run_from_one_without_a_gap_even_past_an_act_that_was_refused(shop: Shop) -> None:
    some_days_work(shop)
    with pytest.raises(Refused), shop.store.writing() as session:
        shop.piece(session)
        shop.batch(session, quantity=-1)
    some_days_work(shop, "E\u0301-5")
    numbers = [entry.number for entry in entries(shop.store)]
    assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.parametrize("step", [timedelta(0), timedelta(minutes=-1)], ids=["stands still", "goes back"])
def test_recorded_at_rises_though_the_clock(shop: Shop, step: timedelta) -> None:
    shop.store.clock = Clock(NOW, step)
    for _ in range(3):
        with shop.store.writing() as session:
            shop.piece(session)
    instants = [entry.recorded_at for entry in entries(shop.store)]
    assert all(earlier < later for earlier, later in zip(instants, instants[1:], strict=False))


def test_recorded_at_is_kept_to_the_microsecond_and_as_the_body_spells_it(shop: Shop) -> None:
    shop.clock.instant = NOW + timedelta(microseconds=7)
    with shop.store.writing() as session:
        shop.piece(session)
    last = entries(shop.store)[-1]
    assert last.recorded_at.microsecond == 7
    assert json.loads(last.body)["recorded_at"] == write_instant(last.recorded_at)
    with shop.store.reading() as session:
        spelled = session.scalar(text("SELECT recorded_at FROM entry ORDER BY number DESC LIMIT 1"))
    assert spelled == write_instant(last.recorded_at)


def test_a_body_is_canonical(shop: Shop) -> None:
    some_days_work(shop)
    for entry in entries(shop.store):
        body = json.loads(entry.body, parse_float=pytest.fail)
        assert entry.body == canonical(body)
        assert unicodedata.is_normalized("NFC", entry.body)
        assert "\0" not in entry.body and "\\u0000" not in entry.body


@pytest.mark.parametrize("character", ["\0", "\udcff"], ids=["NUL", "half a character"])
@pytest.mark.parametrize("where", ["note", "serial"])
def test_what_is_no_text_is_refused_in_words(shop: Shop, where: str, character: str) -> None:
    serial = f"E{character}4" if where == "serial" else "E4"
    note = f"torn{character}" if where == "note" else ""
    goods = GoodsIn(Origin.NEW, shop.goods_in, part=shop.valve, pieces=(NewPiece(serial),))
    with (
        pytest.raises(Refused, match="control character|no characters"),
        shop.store.writing() as session,
    ):
        receive(session, goods, shop.by(note=note))


def test_the_hashes_chain_every_body_to_the_one_before(shop: Shop) -> None:
    some_days_work(shop)
    before = NO_HASH
    for entry in entries(shop.store):
        assert entry.previous_hash == before
        before = sha256((before + entry.body).encode()).hexdigest()
        assert entry.hash == before
    with shop.store.reading() as session:
        head = session.scalars(select(LedgerHead)).one()
        last = session.scalars(select(Entry).order_by(Entry.number.desc()).limit(1)).one()
        assert (head.number, head.hash, head.recorded_at) == (last.number, before, last.recorded_at)


def test_columns_lines_and_facts_are_projections_of_the_body(shop: Shop) -> None:
    some_days_work(shop)
    with shop.store.reading() as session:
        for entry in session.scalars(select(Entry)):
            lines = session.scalars(
                select(EntryLine).where(EntryLine.entry_number == entry.number).order_by(EntryLine.ordinal)
            )
            facts = session.scalars(
                select(EntryFact).where(EntryFact.entry_number == entry.number).order_by(EntryFact.ordinal)
            )
            body = json.loads(entry.body)
            documents = body.pop("documents")
            assert body == {
                "number": entry.number,
                "kind": entry.kind,
                "happened_on": entry.happened_on.isoformat(),
                "recorded_at": write_instant(entry.recorded_at),
                "who": entry.who,
                "job": entry.job_id,
                "reverses": entry.reverses,
                "note": entry.note,
                "lines": [
                    {
                        "kind": line.kind,
                        "piece": line.piece_id,
                        "batch": line.batch_id,
                        "from": line.from_place_id,
                        "to": line.to_place_id,
                        "quantity": line.quantity,
                        "pull_line": line.pull_line_id,
                    }
                    for line in lines
                ],
                "facts": [
                    {"record": fact.record, "id": fact.record_id, "values": json.loads(fact.values)}
                    for fact in facts
                ],
            }
            for digest in documents:
                content = session.get_one(DocumentContent, digest)
                assert sha256(content.content).hexdigest() == digest
                assert content.size == len(content.content)


def test_a_late_entry_carries_its_true_date_and_when_it_was_recorded(shop: Shop) -> None:
    fourteen_months_ago = TODAY - timedelta(days=400)
    with shop.store.writing() as session:
        shop.piece(session, on=fourteen_months_ago)
    last = entries(shop.store)[-1]
    assert last.happened_on == fourteen_months_ago
    assert last.recorded_at.date() == TODAY


def test_the_day_is_that_of_the_shops_own_zone(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(kind=EntryKind.PEOPLE)
        zone = session.scalar(text("SELECT id FROM setting WHERE name = 'zone'"))
        draft.set("setting", zone, value="Pacific/Auckland")
        post(session, draft)
    shop.clock.instant = NOW.replace(hour=20)
    with shop.store.writing() as session:
        shop.piece(session)
    assert entries(shop.store)[-1].happened_on == TODAY + timedelta(days=1)


def test_a_date_in_the_future_is_refused_by_whoever_posts(shop: Shop) -> None:
    tomorrow = TODAY + timedelta(days=1)
    with pytest.raises(Refused, match=tomorrow.isoformat()), shop.store.writing() as session:
        post(session, shop.draft(tomorrow))


def test_a_change_to_the_catalogue_is_an_entry_and_the_row_says_which(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(kind=EntryKind.CATALOGUE)
        draft.set("part", shop.valve, name="Exhaust valve, sodium-cooled")
        number = post(session, draft).number
    with shop.store.reading() as session:
        part = session.get_one(Part, shop.valve)
        assert (part.name, part.set_by) == ("Exhaust valve, sodium-cooled", number)
        assert session.get_one(Part, shop.spring).set_by < number


def test_a_late_change_does_not_outdo_a_later_one_but_is_the_last_that_set_the_row(shop: Shop) -> None:
    with shop.store.writing() as session:
        for name, days_ago in (("Second name", 1), ("First name", 2)):
            draft = shop.draft(TODAY - timedelta(days=days_ago), EntryKind.CATALOGUE)
            draft.set("part", shop.valve, name=name)
            number = post(session, draft).number
    with shop.store.reading() as session:
        part = session.get_one(Part, shop.valve)
        assert (part.name, part.set_by) == ("Second name", number)


def test_a_reversed_change_leaves_the_row_as_it_was_before(shop: Shop) -> None:
    with shop.store.reading() as session:
        before = session.get_one(Part, shop.valve).set_by
    with shop.store.writing() as session:
        draft = shop.draft(kind=EntryKind.CATALOGUE)
        draft.set("part", shop.valve, name="Inlet valve", critical=True)
        number = post(session, draft).number
    with shop.store.writing() as session:
        reverse(session, number, "The wrong part", shop.by())
    with shop.store.reading() as session:
        part = session.get_one(Part, shop.valve)
        assert (part.name, part.critical, part.set_by) == ("Exhaust valve", False, before)


def test_a_fact_before_its_record_began_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        shop.piece(session, on=TODAY - timedelta(days=5))
    with pytest.raises(Refused, match="began with entry") as caught, shop.store.writing() as session:
        draft = shop.draft(TODAY - timedelta(days=6))
        piece = session.scalars(select(func.max(Piece.id))).one()
        draft.set("piece", piece, note="seen before it came")
        post(session, draft)
    assert (TODAY - timedelta(days=5)).isoformat() in caught.value.reason


def test_ids_are_permanent_none_is_given_twice(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = shop.book_in(session, shop.valve, pieces=1)
    with shop.store.writing() as session:
        reverse(session, received.entry, "Never came", shop.by())
    with shop.store.writing() as session:
        again = shop.piece(session)
    assert again > (received.things[0][0].piece or 0)


def test_a_reversal_has_no_lines(shop: Shop) -> None:
    some_days_work(shop)
    reversal = entries(shop.store)[-1]
    assert reversal.reverses is not None
    with shop.store.reading() as session:
        lines = select(func.count()).where(EntryLine.entry_number == reversal.number)
        assert session.scalar(lines) == 0
    with pytest.raises(AssertionError), shop.store.writing() as session:
        draft = shop.draft(kind=EntryKind.REVERSED, reverses=2)
        draft.move(shop.bin_a, shop.bin_b, piece=1)
        post(session, draft)


@pytest.mark.parametrize(
    ("which", "why"),
    [
        ("the beginning", "began the store"),
        ("a reversal", "itself a reversal"),
        ("what is reversed already", "reversed it already"),
        ("nothing", "no such entry"),
    ],
)
def test_what_can_not_be_reversed_is_refused_even_when_posted_by_hand(
    shop: Shop, which: str, why: str
) -> None:
    some_days_work(shop)
    last = entries(shop.store)[-1]
    assert last.reverses is not None
    number = {
        "the beginning": 1,
        "a reversal": last.number,
        "what is reversed already": last.reverses,
        "nothing": last.number + 1,
    }[which]
    with pytest.raises(Refused, match=why), shop.store.writing() as session:
        post(session, shop.draft(kind=EntryKind.REVERSED, reverses=number))


def test_a_document_is_kept_once_however_often_it_comes_in(shop: Shop) -> None:
    for reference in ("CERT 1", "CERT 1, second copy"):
        with shop.store.writing() as session:
            add_paper(session, NewPaper(PaperKind.STATEMENT, reference, content=b"as found"), shop.by())
    with shop.store.reading() as session:
        assert session.scalar(select(func.count()).select_from(DocumentContent)) == 1


def test_who_did_it_is_a_person_of_the_shop(shop: Shop) -> None:
    with pytest.raises(Refused, match="99"), shop.store.writing() as session:
        catalogue.add_family(session, "QQ", "Quills", By(99))
    with shop.store.writing() as session:
        catalogue.add_family(session, "QQ", "Quills", By(shop.keeper))
    with shop.store.reading() as session:
        assert session.get_one(Person, entries(shop.store)[-1].who).name == "Ben Hollis"
