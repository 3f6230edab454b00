"""A directive as it was issued, to be read again or to begin its next issue with."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.directive import NewDirective, read_directive
from invdb.records.documents import Document
from invdb.records.stock import Batch


@dataclass(frozen=True)
class StandingIssue:
    """The directive, and what it names by the words that a person knows it by ('' where it names none)."""

    directive: int
    issued: NewDirective
    engine_type_name: str
    part_number: str
    batch_tag: str
    document_words: str

    @property
    def words(self) -> str:
        """``D 7 issue 2``."""
        return f"{self.issued.reference} issue {self.issued.issue}".removesuffix(" issue ")


def standing_issue(session: Session, directive: int) -> StandingIssue:
    """A directive as it was issued; Refused if there is none."""
    row = read_directive(session, directive)
    document = session.execute(
        select(Document.kind, Document.reference).where(Document.id == row.document_id)
    ).one_or_none()
    return StandingIssue(
        directive,
        NewDirective(
            row.reference,
            row.title,
            row.method,
            row.effective_on,
            row.issue,
            row.authority,
            row.engine_type_id,
            row.serial_from,
            row.serial_to,
            row.part_id,
            row.batch_id,
            row.within_hours,
            row.within_months,
            row.due_on,
            row.every_hours,
            row.every_months,
            row.document_id,
        ),
        row.type_name or "",
        row.house_number or "",
        session.scalar(select(Batch.tag).where(Batch.id == row.batch_id)) or "",
        f"{document.kind} {document.reference}" if document is not None else "",
    )
