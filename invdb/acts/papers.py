"""Papers: take a document in, and say what it stands behind."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from stat import S_ISREG

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.numbers import Thing
from invdb.records.documents import Document
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.terms import EntryKind, FieldRefused, PaperKind

CONTENT_BYTES_MAX = 25 * 1024 * 1024


@dataclass(frozen=True)
class NewPaper:
    """A document: what it is, and its content if it is to be kept here; without it, it lies elsewhere."""

    kind: PaperKind
    reference: str
    title: str = ""
    dated_on: date | None = None
    firm: int | None = None
    content: bytes | None = None
    file_name: str | None = None


def read_content(path: Path) -> bytes:
    """The bytes of a file to be kept; refused in words when it can't be read, is empty or is too large."""
    try:
        status = path.stat()
        # A pipe would be waited for, and a device read for ever.
        if not S_ISREG(status.st_mode):
            raise FieldRefused("papers", f"{path} is no file that can be kept.", "Choose a document's file.")
        if status.st_size > CONTENT_BYTES_MAX:
            raise _too_large(path.name, status.st_size)
        content = path.read_bytes()
    except OSError as error:
        raise FieldRefused(
            "papers", f"{path} can't be read: {error.strerror}.", "Check the file's name and who may read it."
        ) from error
    if not content:
        raise FieldRefused("papers", f"The file {path.name} is empty.", "Choose the right file.")
    return content


def _too_large(name: str, size: int) -> FieldRefused:
    return FieldRefused(
        "papers",
        f"{name} has {size // 1024:,} kB; the store keeps up to {CONTENT_BYTES_MAX // 1024:,} kB a document.",
        "Scan it smaller, or record it without its content.",
    )


def draft_paper(session: Session, draft: Draft, paper: NewPaper) -> int:
    """Put a document into a draft, its content once by its SHA-256; returns the document's id."""
    if not paper.reference.strip():
        raise FieldRefused(
            "papers", f"The {paper.kind} has no reference.", "Type the number or words that name it."
        )
    digest = None
    if paper.content is not None:
        if len(paper.content) > CONTENT_BYTES_MAX:
            raise _too_large(paper.file_name or paper.reference, len(paper.content))
        digest = sha256(paper.content).hexdigest()
        draft.contents[digest] = paper.content
    return draft.new(
        session,
        "document",
        kind=paper.kind,
        reference=paper.reference,
        title=paper.title,
        dated_on=paper.dated_on,
        firm_id=paper.firm,
        sha256=digest,
        file_name=paper.file_name,
    )


def draft_link(session: Session, draft: Draft, document: int, thing: Thing) -> int:
    """Put into a draft that a document stands behind a piece or a batch."""
    return draft.new(
        session, "document_link", document_id=document, piece_id=thing.piece, batch_id=thing.batch
    )


def add_paper(session: Session, paper: NewPaper, by: By, things: tuple[Thing, ...] = ()) -> int:
    """Take a document in and link it to pieces and batches; returns the document's id."""
    draft = begin_draft(session, EntryKind.PAPERS, by)
    document = draft_paper(session, draft, paper)
    for thing in things:
        draft_link(session, draft, document, thing)
    post(session, draft)
    return document


def refuse_unknown_document(session: Session, document: int | None) -> None:
    """Refuse the id of a document that is not here; None names none."""
    if document is not None and session.scalar(select(Document.id).where(Document.id == document)) is None:
        raise FieldRefused("document", "That document is not in the store.", "Take it in first.")


def link_paper(session: Session, document: int, things: tuple[Thing, ...], by: By) -> int:
    """Link a document that is here already to more pieces and batches; returns the entry's number."""
    draft = begin_draft(session, EntryKind.PAPERS, by)
    for thing in things:
        draft_link(session, draft, document, thing)
    return post(session, draft).number
