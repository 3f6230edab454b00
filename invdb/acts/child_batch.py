"""The batch that some of another becomes: its origin, owner, papers and holds are those of its parent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.numbers import Thing, issue_tag
from invdb.acts.papers import draft_link
from invdb.records.documents import DocumentLink
from invdb.records.draft import Draft
from invdb.records.registry import FACT_COLUMNS, TABLES
from invdb.records.stock import Hold


@dataclass(frozen=True)
class ParentBatch:
    """What a batch hands on: its own facts by column, its documents' ids, and its holds that stand.

    A hold is its reason, the day it was raised, and the id of who raised it.
    """

    batch: int
    facts: Mapping[str, object]
    documents: tuple[int, ...]
    holds: tuple[tuple[str, date, int], ...]


def read_parent(session: Session, batch: int) -> ParentBatch:
    """What a batch that is in the store hands on to a child."""
    table = TABLES["batch"]
    row = session.execute(select(table).where(table.c.id == batch)).one()._mapping
    documents = session.scalars(
        select(DocumentLink.document_id).where(DocumentLink.batch_id == batch).order_by(DocumentLink.id)
    )
    holds = session.execute(
        select(Hold.reason, Hold.raised_on, Hold.raised_by)
        .where(Hold.batch_id == batch, Hold.cleared_on.is_(None))
        .order_by(Hold.id)
    )
    return ParentBatch(
        batch,
        {column: row[column] for column in FACT_COLUMNS["batch"]},
        tuple(documents),
        tuple((hold.reason, hold.raised_on, hold.raised_by) for hold in holds),
    )


def draft_child(
    session: Session,
    draft: Draft,
    parent: ParentBatch,
    changed: Mapping[str, object],
    tag: str | None = None,
) -> tuple[int, str]:
    """Put a child batch into a draft, with what is changed by column; returns its id and its tag.

    Without a tag the next one is issued. The lines that fill it are the caller's.
    """
    own_tag = issue_tag(session, draft, "batch", tag)
    child = draft.new(
        session,
        "batch",
        **{**parent.facts, **changed, "tag": own_tag, "parent_batch_id": parent.batch},
    )
    for document in parent.documents:
        draft_link(session, draft, document, Thing(batch=child))
    for reason, raised_on, raised_by in parent.holds:
        draft.new(session, "hold", batch_id=child, reason=reason, raised_on=raised_on, raised_by=raised_by)
    return child, own_tag
