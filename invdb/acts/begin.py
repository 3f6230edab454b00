"""Begin a store: the shop itself, the first person, and the places that every store has."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlalchemy.orm import Session

from invdb import store
from invdb.records.clock import ZONE_SETTING, today
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import EntryKind, FieldRefused, PlaceKind

WORKSHOP_SETTING = "workshop"


@dataclass(frozen=True)
class Workshop:
    """What a new store must know: the shop's name, its time zone, and who begins it."""

    name: str
    person: str
    licence_number: str | None = None
    licence_kind: str | None = None
    zone: str = "UTC"


def begin_store(where: str, workshop: Workshop) -> None:
    """Make a store at a file that does not exist yet, or in an empty database, and write its first entry.

    Refused when something stands there already; nothing is left behind then.
    """
    with store.creating(where) as (_, session):
        begin(session, workshop)


def begin(session: Session, workshop: Workshop) -> int:
    """Write the first entry of an empty store; returns the first person's id."""
    if not workshop.name.strip():
        raise FieldRefused("name", "The workshop has no name.", "Type the name that stands on its papers.")
    if not workshop.person.strip():
        raise FieldRefused(
            "person", "The first person has no name.", "Type the name of who begins the store."
        )
    try:
        ZoneInfo(workshop.zone)
    # The name of a folder of zones is opened as if it were a zone, and fails as a file does.
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise FieldRefused(
            "zone", f"{workshop.zone!r} is no time zone.", "Give one such as Europe/London, or UTC."
        ) from error
    session.info["zone"] = ZoneInfo(workshop.zone)
    draft = Draft(EntryKind.STORE_BEGUN, 1, today(session))
    outside = draft.new(session, "place", kind=PlaceKind.OUTSIDE, name="Outside")
    assert outside == OUTSIDE_PLACE
    person = draft.new(
        session,
        "person",
        name=workshop.person,
        licence_number=workshop.licence_number or None,
        licence_kind=workshop.licence_kind or None,
        works_here=True,
    )
    draft.new(session, "owner", name=workshop.name, is_workshop=True)
    draft.new(session, "setting", name=WORKSHOP_SETTING, value=workshop.name)
    draft.new(session, "setting", name=ZONE_SETTING, value=workshop.zone)
    stores = draft.new(session, "place", kind=PlaceKind.STORES, name="Stores")
    draft.new(session, "place", kind=PlaceKind.BIN, name="Goods in", parent_id=stores)
    draft.new(session, "place", kind=PlaceKind.QUARANTINE, name="Quarantine", parent_id=stores)
    draft.new(session, "place", kind=PlaceKind.BENCH, name="Bench")
    draft.new(session, "place", kind=PlaceKind.SCRAP, name="Scrap drum")
    post(session, draft)
    return person
