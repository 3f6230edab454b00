"""Documents and photographs of a part: take them in, and give out what is kept of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.papers import NewPaper, draft_paper
from invdb.records.catalogue import Part
from invdb.records.documents import Document, DocumentContent, DocumentLink
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.terms import EntryKind, FieldRefused, PaperKind, Refused


@dataclass(frozen=True)
class KeptPaper:
    """A document whose content is here: what it is, the name of its file, and its bytes."""

    kind: PaperKind
    reference: str
    file_name: str
    content: bytes

    def saved_at(self, path: Path) -> Path:
        """Write a copy of it to a file."""
        path.write_bytes(self.content)
        return path


def add_part_papers(
    session: Session, part: int, papers: tuple[NewPaper, ...], by: By, known: int | None = None
) -> int:
    """Let new documents, and a ``known`` one by its id, stand behind a part; returns the entry's number.

    Refused without any, and when the known one stands behind it already.
    """
    draft = begin_draft(session, EntryKind.PAPERS, by)
    if session.scalar(select(Part.id).where(Part.id == part)) is None:
        raise Refused("There is no such part.", "Find it by any of its numbers.")
    if not papers and known is None:
        raise FieldRefused("papers", "No document is named.", "Name one, choose one, or attach a file.")
    if known is not None:
        _link_known(session, draft, part, known)
    for paper in papers:
        document = draft_paper(session, draft, paper)
        draft.new(session, "document_link", document_id=document, part_id=part)
    return post(session, draft).number


def _link_known(session: Session, draft: Draft, part: int, document: int) -> None:
    reference = session.scalar(select(Document.reference).where(Document.id == document))
    if reference is None:
        raise FieldRefused("document", "That document is not in the store.", "Take it in first.")
    standing = select(DocumentLink.id).where(
        DocumentLink.document_id == document, DocumentLink.part_id == part
    )
    if session.scalar(standing) is not None:
        raise FieldRefused(
            "document", f"{reference} stands behind this part already.", "There is nothing to add."
        )
    draft.new(session, "document_link", document_id=document, part_id=part)


def kept_paper(session: Session, document: int) -> KeptPaper:
    """A document with its content; Refused where that is not kept here."""
    row = session.execute(
        select(Document.kind, Document.reference, Document.file_name, DocumentContent.content)
        .outerjoin(DocumentContent, DocumentContent.sha256 == Document.sha256)
        .where(Document.id == document)
    ).one_or_none()
    if row is None:
        raise Refused("That document is not in the store.", "Look again.")
    if row.content is None:
        raise Refused(
            f"Of {row.reference} nothing is kept here but its number.", "Look for it in the binder."
        )
    return KeptPaper(row.kind, row.reference, row.file_name or row.reference, row.content)
