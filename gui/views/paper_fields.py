"""The papers that come with a thing: as files to be kept, or as a reference to what lies in the binder."""

from __future__ import annotations

from gui.job import Job
from gui.shown import Choice, ChosenFile, Field, FieldKind, Values
from invdb.acts.papers import NewPaper, read_content
from invdb.terms import PaperKind

PAPER_KINDS = tuple(Choice(kind, str(kind)) for kind in PaperKind)


def paper_fields(section: str = "Papers") -> tuple[Field, ...]:
    """Fields for one paper by its reference, and for any number of files."""
    return (
        Field(
            "paper_kind",
            "Kind of paper",
            FieldKind.CHOICE,
            section=section,
            choices=PAPER_KINDS,
            hint="A paper that lies in the binder; a scan of it can be attached below",
        ),
        Field(
            "paper_reference",
            "Its number",
            needed=True,
            section=section,
            shown_when=lambda values: values.get("paper_kind") is not None,
        ),
        Field("papers", "Files", FieldKind.FILES, section=section, kept=False, choices=PAPER_KINDS,
              hint="Kept in the store itself, once however often they are attached"),
    )  # fmt: skip


def papers_of(values: Values, job: Job) -> tuple[NewPaper, ...]:
    """The papers that a form names, with the content of its files.

    The first file of the kind of the paper that is named by its number is that paper; every other is known
    by its own name without the ending. Refused, for the field ``papers``, if a file can't be read.
    """
    kind, reference = values.get("paper_kind"), values.get("paper_reference", "")
    papers = []
    for file in values.get("papers", ()):
        assert isinstance(file, ChosenFile)
        job.stop_here()
        named = file.kind == kind and reference != ""
        papers.append(
            NewPaper(
                file.kind,
                reference if named else file.path.stem,
                content=read_content(file.path),
                file_name=file.path.name,
            )
        )
        if named:
            kind = None
    if kind is not None:
        papers.insert(0, NewPaper(kind, reference))
    return tuple(papers)
