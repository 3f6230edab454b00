"""A check finds a sound store sound, and names whatever was done behind the ledger's back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from sqlalchemy import Connection, select, text
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.catalogue import add_family
from invdb.acts.check import DIFFERENCES_MAX, CheckReport, check_session, check_store
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper
from invdb.acts.reverse import reverse
from invdb.records import triggers
from invdb.records.ledger import NO_HASH, Entry
from invdb.records.posting import post
from invdb.store import Store
from invdb.terms import EntryKind, Origin, PaperKind, PlaceKind
from tests.records.tampering import behind_its_back
from tests.shop import TODAY, Shop, postgres_shop, sqlite_shop


@dataclass(frozen=True)
class Worked:
    """What a few days' work left behind: things by id, entries by number."""

    piece: int
    set_aside: int
    batch: int
    pull_line: int
    came: int
    batch_came: int
    undone: int
    reversal: int
    pulled: int
    moved: int
    last: int


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The workshop, shared by the tests of this file: whatever they do to it, they do not keep."""
    sqlite = request.param == "sqlite"
    with sqlite_shop(tmp_path_factory.mktemp("check")) if sqlite else postgres_shop() as opened:
        yield opened


@pytest.fixture(scope="module")
def worked(shop: Shop) -> Worked:
    """Goods in with a paper, a batch taken back, one kept, a pull, a late move, and part of a batch moved."""
    paper = NewPaper(PaperKind.INVOICE, "INV-77", content=b"two exhaust valves")
    with shop.store.writing() as session:
        goods = GoodsIn(
            Origin.NEW,
            shop.bin_a,
            part=shop.valve,
            pieces=(NewPiece("E-4"), NewPiece("E-5")),
            papers=(paper,),
            note="im Karton",
        )
        received = receive(session, goods, shop.by(TODAY - timedelta(days=40)))
        piece, set_aside = (thing.piece or 0 for thing, _ in received.things)
        undone = shop.book_in(session, shop.spring, quantity=12).entry
        reversal = reverse(session, undone, "Booked in twice", shop.by())
        batch_in = shop.book_in(session, shop.spring, quantity=40)
        batch = batch_in.things[0][0].batch or 0
        draft = shop.draft(kind=EntryKind.RESERVED)
        pull = draft.new(
            session,
            "pull",
            number="K000015",
            engine_id=shop.engine,
            position_id=1,
            asked_on=TODAY,
            asked_by=shop.keeper,
        )
        line = draft.new(
            session,
            "pull_line",
            pull_id=pull,
            kit_line_id=shop.kit_valve,
            wanted_part_id=shop.valve,
            part_id=shop.valve,
            piece_id=set_aside,
            place_id=shop.bin_a,
            quantity=1,
        )
        draft.new(session, "place", kind=PlaceKind.PULL, name="Pull K000015", pull_id=pull)
        draft.reserve(shop.bin_a, line, piece=set_aside)
        pulled = post(session, draft).number
        moved = shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=TODAY - timedelta(days=3))
        last = shop.move(session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=TODAY, quantity=15)
    return Worked(
        piece, set_aside, batch, line, received.entry, batch_in.entry, undone, reversal, pulled, moved, last
    )


def tamper(shop: Shop, *statements: str) -> CheckReport:
    with behind_its_back(shop.store) as connection:
        for statement in statements:
            assert connection.execute(text(statement)).rowcount, f"nothing was changed by {statement}"
        return check(connection)


def check(connection: Connection) -> CheckReport:
    if connection.dialect.name == "sqlite":
        triggers.make(connection)
    with Session(connection) as session:
        return check_session(session)


def expect(report: CheckReport, entry: int | None, words: str) -> None:
    assert any(
        difference.entry == entry and re.search(words, difference.what) for difference in report.differences
    ), report.differences
    for difference in report.differences:
        assert re.fullmatch(r"[A-Z].*\.", difference.what, re.DOTALL), difference.what


def test_a_sound_store_has_no_differences_and_ends_with_its_last_entry(shop: Shop, worked: Worked) -> None:
    report = check_store(shop.store)
    with shop.store.reading() as session:
        last = session.scalars(select(Entry).order_by(Entry.number.desc())).first()
        assert last is not None
        assert report == CheckReport(worked.last, last.hash, ())


def test_an_untouched_workshop_is_sound(shop: Shop) -> None:
    report = check_store(shop.store)
    assert report.differences == ()
    assert report.last_hash != NO_HASH


def test_progress_is_told_up_to_the_last_documents(shop: Shop, worked: Worked) -> None:
    heard: list[tuple[str, float | None]] = []
    check_store(shop.store, lambda doing, fraction: heard.append((doing, fraction)))
    assert "Reading the documents" in [doing for doing, _ in heard]
    assert all(fraction is None or 0 <= fraction <= 1 for _, fraction in heard)


ENTRY_CHEATS = {
    "a note": ("UPDATE entry SET note = 'lost' WHERE number = {moved}", "moved", "note"),
    "a kind": ("UPDATE entry SET kind = 'split' WHERE number = {moved}", "moved", "kind"),
    "a date": ("UPDATE entry SET happened_on = '2026-02-01' WHERE number = {moved}", "moved", "happened on"),
    "who": ("UPDATE entry SET who = 2 WHERE number = {moved}", "moved", "who"),
    "a job": ("UPDATE entry SET job_id = 7 WHERE number = {moved}", "moved", "job"),
    "an instant": (
        "UPDATE entry SET recorded_at = '2026-03-02T00:00:00.000000Z' WHERE number = {moved}",
        "moved",
        "no later than",
    ),
    "what is reversed": (
        "UPDATE entry SET reverses = {came} WHERE number = {reversal}",
        "reversal",
        "reverses",
    ),
    "a body": (
        "UPDATE entry SET body = replace(body, 'Karton', 'Keller') WHERE number = {came}",
        "came",
        "hash",
    ),
    "a body's form": (
        "UPDATE entry SET body = replace(body, ',', ', ') WHERE number = {came}",
        "came",
        "the ledger's own form",
    ),
    "a body that is none": ("UPDATE entry SET body = 'gone' WHERE number = {came}", "came", "own form"),
    "a hash": ("UPDATE entry SET hash = '{no_hash}' WHERE number = {moved}", "moved", "not that of its text"),
    "a previous hash": (
        "UPDATE entry SET previous_hash = '{no_hash}' WHERE number = {moved}",
        "moved",
        "does not follow on",
    ),
    "a number": ("UPDATE entry SET number = {last} + 1 WHERE number = {last}", "last+1", "what lay between"),
    "an entry taken out": (
        "DELETE FROM entry WHERE number = {undone}",
        "reversal",
        "what lay between is gone",
    ),
    "an entry's parts left": ("DELETE FROM entry WHERE number = {undone}", "undone", "which is not there"),
    "the last entry cut off": ("DELETE FROM entry WHERE number = {last}", "last-1", "head"),
    "a line's quantity": (
        "UPDATE entry_line SET quantity = 14 WHERE entry_number = {last}",
        "last",
        "line 1",
    ),
    "a line's place": (
        "UPDATE entry_line SET to_place_id = {bench} WHERE entry_number = {moved}",
        "moved",
        "line 1",
    ),
    "a line's kind": ("UPDATE entry_line SET kind = 'lend' WHERE entry_number = {moved}", "moved", "line 1"),
    "a line taken out": ("DELETE FROM entry_line WHERE entry_number = {moved}", "moved", "0 lines"),
    "a line added": (
        "INSERT INTO entry_line (entry_number, ordinal, kind, batch_id, from_place_id, to_place_id, quantity)"
        " VALUES ({last}, 2, 'move', {batch}, {bin_a}, {bin_b}, 1)",
        "last",
        "2 lines",
    ),
    "a line of no entry": (
        "INSERT INTO entry_line (entry_number, ordinal, kind, batch_id, from_place_id, to_place_id, quantity)"
        " VALUES ({last} + 5, 1, 'move', {batch}, {bin_a}, {bin_b}, 1)",
        "last+5",
        "not there",
    ),
    "a fact": (
        "UPDATE entry_fact SET \"values\" = replace(\"values\", 'E-4', 'E-9') WHERE entry_number = {came}",
        "came",
        "fact 1",
    ),
    "a fact's record": (
        "UPDATE entry_fact SET record_id = 999 WHERE entry_number = {came} AND ordinal = 1",
        "came",
        "fact 1",
    ),
    "a fact taken out": ("DELETE FROM entry_fact WHERE entry_number = {pulled}", "pulled", "0 facts"),
    "a fact added": (
        'INSERT INTO entry_fact (entry_number, ordinal, record, record_id, "values")'
        " VALUES ({last}, 1, 'piece', {piece}, '{{}}')",
        "last",
        "1 facts",
    ),
    "the head's number": ("UPDATE ledger_head SET number = number - 1", "last", "head"),
    "the head's hash": ("UPDATE ledger_head SET hash = '{no_hash}'", "last", "head"),
    "the head taken out": ("DELETE FROM ledger_head", "last", "head"),
}
ROW_CHEATS = {
    "a part's name": (
        "UPDATE part SET name = 'Inlet valve' WHERE id = {valve}",
        "?",
        "Inlet valve.*Exhaust valve",
    ),
    "a yes for a no": ("UPDATE part SET critical = (1 = 1) WHERE id = {valve}", "?", "critical"),
    "a number of nothing": ("UPDATE part SET life_limit_hours = NULL WHERE id = {valve}", "?", "life limit"),
    "a piece's date": (
        "UPDATE piece SET received_on = '2020-01-01' WHERE id = {piece}",
        "came",
        "received on",
    ),
    "a condition": (
        "UPDATE piece SET condition = 'serviceable' WHERE id = {piece}",
        "came",
        "'serviceable' as its condition, and the ledger says 'uninspected'",
    ),
    "who set a row": ("UPDATE piece SET set_by = 1 WHERE id = {piece}", "came", "set it last"),
    "a row taken out": ("DELETE FROM batch WHERE id = {batch}", "batch_came", "gone from its table"),
    "a row added": (
        "INSERT INTO setting (id, name, value, set_by) VALUES (99, 'motto', 'none', 1)",
        None,
        "setting 99 stands in its table, and no entry made it",
    ),
    "a place": (
        "UPDATE piece SET place_id = {bench} WHERE id = {piece}",
        "moved",
        "in Bench, and the ledger says in A-01-02",
    ),
    "a reservation": (
        "UPDATE piece SET reserved_for = NULL WHERE id = {set_aside}",
        "pulled",
        "set aside for nothing, and the ledger says for pull line 1",
    ),
    "a stay's place": (
        "UPDATE stay SET place_id = {bench} WHERE piece_id = {piece} AND sequence = 2",
        "moved",
        "stays",
    ),
    "a stay's date": (
        "UPDATE stay SET to_on = '2026-03-01' WHERE piece_id = {piece} AND sequence = 1",
        "came",
        "stays",
    ),
    "a stay taken out": ("DELETE FROM stay WHERE piece_id = {piece} AND sequence = 2", "moved", "stays"),
    "a stay added": (
        "INSERT INTO stay (piece_id, sequence, place_id, from_on, from_entry)"
        " VALUES ({piece}, 3, {bench}, '2026-03-02', {last})",
        "moved",
        "stays",
    ),
    "a quantity": (
        "UPDATE holding SET quantity = 24 WHERE batch_id = {batch} AND place_id = {bin_a}",
        "last",
        "24 with 0.*25 with 0",
    ),
    "a reserved quantity": (
        "UPDATE holding SET reserved = 1 WHERE batch_id = {batch} AND place_id = {bin_a}",
        "last",
        "25 with 1.*25 with 0",
    ),
    "a holding taken out": (
        "DELETE FROM holding WHERE batch_id = {batch} AND place_id = {bin_b}",
        "last",
        "nothing in A-01-02",
    ),
    "a holding added": (
        "INSERT INTO holding (batch_id, place_id, quantity, reserved) VALUES ({batch}, {bench}, 3, 0)",
        None,
        "3 with 0 of them reserved in Bench, and the ledger says nothing",
    ),
    "a batch held by the outside": (
        "INSERT INTO holding (batch_id, place_id, quantity, reserved) VALUES ({batch}, 1, 3, 0)",
        None,
        "in Outside",
    ),
    "a pull line's counts": (
        "UPDATE pull_line SET issued = 1 WHERE id = {pull_line}",
        "pulled",
        "1 reserved, 1 issued.*1 reserved, 0 issued",
    ),
    "a word taken out": (
        "DELETE FROM word WHERE kind = 'firm' AND word LIKE 'alder%'",
        None,
        "The firm 1 is not found by .*alder",
    ),
    "a word added": (
        "INSERT INTO word (kind, word, ref) VALUES ('firm', 'oldermoor', 1)",
        None,
        "The firm 1 is found by .*oldermoor",
    ),
    "a document's content": (
        "UPDATE document_content SET content = '\\x00'",
        "came",
        "not what was taken in",
    ),
    "a document's size": ("UPDATE document_content SET size = 3", "came", "noted as 3"),
    "a document taken out": ("DELETE FROM document_content", "came", "is gone"),
    "a document added": (
        "INSERT INTO document_content (sha256, size, content) VALUES ('{no_hash}', 1, '0')",
        None,
        "No entry took in",
    ),
}


@pytest.mark.parametrize("cheat", [*ENTRY_CHEATS, *ROW_CHEATS])
def test_whatever_was_altered_is_named_with_its_entry(shop: Shop, worked: Worked, cheat: str) -> None:
    statement, entry, words = (ENTRY_CHEATS | ROW_CHEATS)[cheat]
    values = vars(shop) | vars(worked) | {"no_hash": NO_HASH}
    if entry == "?":
        with shop.store.reading() as session:
            number = session.scalar(text("SELECT set_by FROM part WHERE id = :part"), {"part": shop.valve})
    elif entry is None:
        number = None
    else:
        name, sign, distance = re.fullmatch(r"(\w+?)(?:([+-])(\d))?", entry).groups()  # type: ignore[union-attr]
        number = values[name] + int(f"{sign or '+'}{distance or 0}")
    expect(tamper(shop, statement.format(**values)), number, words)


def test_an_entry_rewritten_with_a_right_hash_breaks_the_chain_at_the_next(
    shop: Shop, worked: Worked
) -> None:
    with behind_its_back(shop.store) as connection:
        rewrite(connection, worked.came)
        expect(check(connection), worked.came + 1, f"does not follow on entry {worked.came}")


def test_a_ledger_whose_end_was_rewritten_ends_with_another_hash(shop: Shop, worked: Worked) -> None:
    before = check_store(shop.store)
    with behind_its_back(shop.store) as connection:
        digest = rewrite(connection, worked.last)
        connection.execute(text("UPDATE ledger_head SET hash = :hash"), {"hash": digest})
        after = check(connection)
    assert after == CheckReport(before.entries, digest, ())
    assert digest != before.last_hash


def rewrite(connection: Connection, number: int) -> str:
    query = text("SELECT previous_hash, body FROM entry WHERE number = :number")
    previous_hash, body = connection.execute(query, {"number": number}).one()
    body = body.replace('"note":"', '"note":"Nie ', 1)
    note = re.search(r'"note":"([^"]*)"', body)
    assert note is not None
    digest = sha256((previous_hash + body).encode()).hexdigest()
    connection.execute(
        text("UPDATE entry SET body = :body, hash = :hash, note = :note WHERE number = :number"),
        {"body": body, "hash": digest, "note": note[1], "number": number},
    )
    return digest


@pytest.mark.parametrize("what", ["dropped", "altered", "added"])
@pytest.mark.parametrize("name", ["entry_follows_on", "entry_line_follows_on", "document_content_no_change"])
def test_a_guard_that_is_dropped_altered_or_added_is_named(shop: Shop, what: str, name: str) -> None:
    sqlite = shop.store.engine.dialect.name == "sqlite"
    if sqlite:
        name = name.replace("no_change", "no_delete")
    table = name.removesuffix("_follows_on").removesuffix("_no_change").removesuffix("_no_delete")
    on = "" if sqlite else f" ON {table}"
    if what == "added":
        name = "sweep"
    body = "BEGIN SELECT 1; END" if sqlite else "FOR EACH ROW WHEN (false) EXECUTE FUNCTION ledger_refuse()"
    with shop.store.engine.connect() as connection, Session(connection) as session:
        if what != "added":
            connection.execute(text(f"DROP TRIGGER {name}{on}"))
        if what != "dropped":
            connection.execute(text(f"CREATE TRIGGER {name} BEFORE INSERT ON {table} {body}"))
        assert triggers.missing_or_altered(connection) == [name]
        expect(check_session(session), None, name)


SWITCHED_OFF = {
    "a trigger": "ALTER TABLE entry DISABLE TRIGGER entry_no_change",
    "what it does": "CREATE OR REPLACE FUNCTION ledger_refuse() RETURNS trigger LANGUAGE plpgsql"
    " AS 'BEGIN RETURN NEW; END'",
}


@pytest.mark.parametrize("what", SWITCHED_OFF)
def test_a_guard_switched_off_on_the_server_is_named(what: str) -> None:
    with postgres_shop() as shop:
        with shop.store.engine.begin() as connection:
            connection.execute(text(SWITCHED_OFF[what]))
        expect(check_store(shop.store), None, "entry_no_change")


def test_pieces_set_into_each_other_are_named(shop: Shop) -> None:
    with behind_its_back(shop.store) as connection, Session(connection) as session:
        pieces = [shop.piece(session) for _ in range(2)]
        draft = shop.draft(kind=EntryKind.PLACES)
        places = [
            draft.new(session, "place", kind=PlaceKind.PIECE, name=f"In {piece}", piece_id=piece)
            for piece in pieces
        ]
        post(session, draft)
        for piece, place in zip(pieces, reversed(places), strict=True):
            session.execute(text(f"UPDATE piece SET place_id = {place} WHERE id = {piece}"))
        expect(check_session(session), None, f"Piece {pieces[0]} is inside itself")


@pytest.mark.parametrize("altered", ["body", "recorded_at", "hash", "note"])
def test_bytes_where_text_belongs_are_named(tmp_path: Path, altered: str) -> None:
    with sqlite_shop(tmp_path) as shop:
        report = tamper(shop, f"UPDATE entry SET {altered} = x'00ff' WHERE number = 5")
    assert 5 in {difference.entry for difference in report.differences}


@pytest.mark.parametrize(
    "body",
    ["[]", "{{}}", "5", '{{"facts":[1],"lines":[],"documents":[]}}', '{{"a":0.5}}'],
)
def test_a_body_that_says_something_else_is_named(shop: Shop, worked: Worked, body: str) -> None:
    statement = f"UPDATE entry SET body = '{body.format()}' WHERE number = {worked.moved}"
    expect(tamper(shop, statement.replace(":", "\\:")), worked.moved, "own form")


def test_a_fact_that_can_not_be_read_is_named(shop: Shop, worked: Worked) -> None:
    statement = f"UPDATE entry_fact SET \"values\" = '5' WHERE entry_number = {worked.came} AND ordinal = 1"
    expect(tamper(shop, statement), worked.came, "fact 1")
    expect(tamper(shop, statement.replace("'5'", "'no'")), worked.came, "fact 1")


def test_what_a_check_sees_is_one_moment(store: Store) -> None:
    with store.reading() as session:
        before = session.scalars(select(Entry.number).order_by(Entry.number.desc())).first()
        with store.writing() as other:
            add_family(other, "QQ", "Quills", By(1))
        report = check_session(session)
    assert (report.entries, report.differences) == (before, ())
    assert check_store(store).entries == report.entries + 1


def test_the_list_of_differences_is_bounded(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("invdb.acts.check.DIFFERENCES_MAX", 5)
    assert DIFFERENCES_MAX > 5
    report = tamper(shop, "UPDATE part SET set_by = 999, name = 'Thing'")
    assert len(report.differences) == 6
    assert report.differences[-1].what == "There are more differences than these 5."
