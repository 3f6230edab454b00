"""The inspection sheet as a form: figures and tests by the specification, then the decision."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from gui.job import Job
from gui.shown import Choice, ChosenFile, Field, FieldKind, Values
from gui.shown_inspection import DoneTest, Judgement, Taken
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.accept_form import open_checks
from gui.views.form_plan import FormPlan
from gui.views.goods_in_checks import damage
from gui.views.goods_in_presenter import checks_of
from gui.views.inspection_lines import (
    PASSED,
    field_name,
    instrument_choices,
    line_fields,
    questions_of,
    read_held,
    readings_of,
    run_of,
)
from gui.views.place_fields import place_field
from invdb.acts.inspect import InspectionOrder, inspect
from invdb.acts.papers import NewPaper, read_content
from invdb.acts.things import ThingState
from invdb.acts.typed_readings import TypedReading, TypedTest
from invdb.rules.inspecting import Proposed, RunOfTest, propose
from invdb.rules.inspection_sheet import SheetToFill, asked_words, bounds_words
from invdb.rules.measuring import read_measured, unit_named
from invdb.rules.specification import SpecLineFacts
from invdb.terms import Asked, Condition, CrackMethod, FieldRefused, PaperKind, Scope, SpecKind

REASONS_NAMED_MAX = 6
DECISIONS = (
    *(Choice((Condition.SERVICEABLE, scope), f"serviceable, for {scope}") for scope in Scope),
    *(Choice((each, None), str(each)) for each in Condition if each is not Condition.SERVICEABLE),
)
FURTHER_TESTS = (
    Choice((SpecKind.LOOK, None), str(SpecKind.LOOK)),
    *(Choice((SpecKind.CRACK_TEST, method), f"cracks: {method}") for method in CrackMethod),
)
# What the act calls its fields, where the form calls them otherwise.
_FIELDS = {"decided": "decision", "scope": "decision", "readings": "more_figures"}


@dataclass(frozen=True)
class Inspected:
    """What came of an inspection: its id, and what was decided in words."""

    inspection: int
    decided: str


class SheetForm:
    """The form for one sheet: what it asks, what the figures call for by now, and the act."""

    def __init__(
        self, sitting: Sitting, sheet: SheetToFill, state: ThingState, used_last: Mapping[str, int]
    ) -> None:
        self._sitting, self._sheet, self._state = sitting, sheet, state
        self._used_last = used_last
        self._reckoned: tuple[Any, Proposed] | None = None

    def plan(self) -> FormPlan:
        """The form."""
        sheet = self._sheet
        # Of many an oversize part its name says the size.
        named = sheet.size_class.casefold() in sheet.part_name.casefold()
        size = "" if named else f", {sheet.size_class}"
        return FormPlan(
            title=f"Inspect {sheet.tag}  ({sheet.part_name}, {sheet.part_number}{size})",
            fields=(
                Field("about", "About it", FieldKind.JUDGED, start=self._about()),
                *line_fields(sheet, self._used_last),
                *self._further_fields(),
                *self._paper_fields(),
                *self._decision_fields(),
            ),
            act=self._act,
            told=lambda made: f"{sheet.tag} is inspected: {made.decided}.",
            save_word="Save the inspection",
            said=lambda _values: self._said(),
            filled_by=lambda _name, values: {
                "proposed": self.judgement(values),
                "signed": self._signed(),
            },
        )

    def proposed(self, values: Values) -> Proposed:
        """What all that is filled in by now calls for; what can't be read counts as not taken."""
        readings = {
            line.line.name: readings_of(value.figures, line.line.unit)
            for at, line in enumerate(self._sheet.lines)
            if isinstance(value := values.get(field_name(at)), Taken) and value.figures
        }
        runs = [*self._runs(values), *_further_runs(values.get("more_tests") or ())]
        key = (readings, runs)
        if self._reckoned is None or self._reckoned[0] != key:
            found = propose(
                [line.line for line in self._sheet.lines],
                readings,
                runs,
                self._sheet.condition or Condition.UNINSPECTED,
                sampled=self._sheet.is_batch,
            )
            self._reckoned = key, found
        return self._reckoned[1]

    def judgement(self, values: Values) -> Judgement:
        """The condition that is called for, with its reasons."""
        found = self.proposed(values)
        reasons = [*found.reasons[:REASONS_NAMED_MAX]]
        if len(found.reasons) > REASONS_NAMED_MAX:
            reasons.append(f"and {len(found.reasons) - REASONS_NAMED_MAX} more")
        return Judgement(str(found.condition), "; ".join(reasons))

    def against(self, values: Values) -> bool:
        """Whether what is decided needs a reason: it is not what the figures call for."""
        decided = values.get("decision")
        if decided is None:
            return False
        found = self.proposed(values)
        return decided[0] is not found.condition or found.against_figures

    def _runs(self, values: Values) -> Iterator[RunOfTest]:
        for at, line in enumerate(self._sheet.lines):
            value = values.get(field_name(at))
            if isinstance(value, DoneTest):
                try:
                    yield run_of(line.line, value, sure=True)
                except FieldRefused:
                    continue

    def _about(self) -> Judgement:
        sheet = self._sheet
        words = []
        if sheet.condition is not None:
            scope = f" for {sheet.scope}" if sheet.scope is not None else ""
            words.append(f"{sign(sheet.condition).text}{scope}, in {sheet.where}, of {sheet.owner}")
        if sheet.revision:
            source = ", ".join(part for part in (sheet.source, sheet.document) if part)
            words.append(
                f"By revision {sheet.revision} of its specification{f': {source}' if source else ''}"
            )
        else:
            words.append(
                f"{sheet.part_number} has no specification in force on {sheet.on.isoformat()}:"
                " name what you measure under “Besides”; it is kept, and judged by nothing"
            )
        stated = [_stated(each.line) for each in sheet.stated]
        words += [f"It also says: {'; '.join(stated)}"] if stated else []
        return Judgement("", "\n".join(words))

    def _said(self) -> str:
        sheet = self._sheet
        lines = [f"⚠ {each.word}{f': {each.caution}' if each.caution else ''}" for each in sheet.hazards]
        if sheet.against:
            lines.append(f"⊘ Stands against accepting it: {'; '.join(sheet.against)}.")
        return "\n".join(lines)

    def _signed(self) -> Judgement:
        if not self._sitting.name:
            return Judgement("take care", "nobody has said who is working; choose your name at the top right")
        licence = self._sitting.licence or "no licence number on record"
        return Judgement("", f"{self._sitting.name}, {licence}, on {self._sheet.on.isoformat()}")

    def _further_fields(self) -> tuple[Field, ...]:
        tools = instrument_choices(self._sheet)
        return (
            Field(
                "more_figures",
                "Also measured",
                FieldKind.ROWS,
                section="Besides",
                hint="What the specification does not ask for; kept, and judged by nothing",
                columns=(
                    Field("name", "Also measured", needed=True, hint="What was measured, and where"),
                    Field("figure", "Figure, its unit", needed=True, check=_figure, hint="Such as 98.02 mm"),
                    Field("instrument", "With", FieldKind.CHOICE, choices=tools),
                ),
            ),
            Field(
                "more_tests",
                "Also looked at",
                FieldKind.ROWS,
                section="Besides",
                columns=(
                    Field("how", "Also done", FieldKind.CHOICE, needed=True, choices=FURTHER_TESTS),
                    Field("name", "Of what", needed=True),
                    Field("passed", "Outcome", FieldKind.CHOICE, needed=True, choices=PASSED),
                    Field("found", "Found"),
                ),
            ),
        )

    def _paper_fields(self) -> tuple[Field, ...]:
        kinds = tuple(Choice(kind, str(kind)) for kind in (PaperKind.PHOTOGRAPH, PaperKind.WORK_REPORT))
        hint = "Photographs of what was found; kept in the store itself"
        return (
            Field("photographs", "Photographs", FieldKind.FILES, section="Besides", choices=kinds, hint=hint),
        )

    def _decision_fields(self) -> tuple[Field, ...]:
        def serviceable(values: Values) -> bool:
            decided = values.get("decision")
            return decided is not None and decided[0] is Condition.SERVICEABLE

        def flight(values: Values) -> bool:
            return values.get("decision") == (Condition.SERVICEABLE, Scope.FLIGHT)

        fields = [
            Field(
                "proposed",
                "Called for",
                FieldKind.JUDGED,
                section="Decision",
                start=self.judgement({}),
                hint="What the figures and tests call for; you decide",
            ),
            Field("decision", "Decided", FieldKind.CHOICE, needed=True, section="Decision", choices=DECISIONS,
                  hint="Yours to decide; against the figures with a reason"),
            Field("reason", "Reason", FieldKind.LINES, needed=True, section="Decision",
                  shown_when=self.against, hint="Why it is decided otherwise than the figures call for"),
        ]  # fmt: skip
        waiting = open_checks([self._state])
        if waiting:
            fields += [
                Field("checks", "Seen so", FieldKind.TICKS, section="Decision", choices=waiting,
                      shown_when=serviceable, hint="The checks on receipt that are not recorded yet"),
                Field("damage", "Damage seen", section="Decision", check=damage, shown_when=serviceable),
            ]  # fmt: skip
        if not self._state.papers and self._sitting.licence:
            fields.append(
                Field("override", "Override why", FieldKind.LINES, section="Decision", shown_when=flight,
                      hint=f"{self._sheet.tag} is without papers: under your licence {self._sitting.licence}"
                           " you may accept it for flight with a written reason, which the ledger keeps")
            )  # fmt: skip
        goes = place_field(self._sitting, "to_place", "Goes to", section="Decision",
                           hint="Left empty, it stays where it is")  # fmt: skip
        return (
            *fields,
            goes,
            Field("note", "Remark", FieldKind.LINES, section="Decision"),
            Field("signed", "Inspected by", FieldKind.JUDGED, section="Decision", start=self._signed()),
        )

    def _act(self, job: Job, values: dict[str, Any]) -> Inspected:
        sure = bool(values.get("sure"))
        questions = () if sure else questions_of(self._sheet, values)
        if questions:
            raise Asked("decision", " ".join(questions))
        readings, tests, owners = self._typed(values)
        condition, scope = values["decision"]
        checked = {"checks": frozenset(), "damage": "", **values}
        order = InspectionOrder(
            thing=self._state.thing,
            readings=readings,
            tests=tests,
            decided=condition,
            scope=scope,
            checks=checks_of(checked),
            reason=values.get("reason", ""),
            to_place=values["to_place"],
            photographs=_photographs(values["photographs"], job),
            override=values.get("override", ""),
            note=values["note"],
            sure=sure,
        )
        on = self._sheet.on
        by = self._sitting.by(None if on == self._sitting.today() else on)
        with fields_found(owners), self._sitting.store.writing() as session:
            made = inspect(session, order, by)
            job.commit_begins()
        return Inspected(made, f"{condition}{f' for {scope}' if scope is not None else ''}")

    def _typed(
        self, values: Values
    ) -> tuple[tuple[TypedReading, ...], tuple[TypedTest, ...], dict[str, str]]:
        """What was typed as the act takes it, and the form's field of each as a refusal names it."""
        readings: list[tuple[str, TypedReading]] = []
        tests: list[tuple[str, TypedTest]] = []
        for at, line in enumerate(self._sheet.lines):
            name, facts = field_name(at), line.line
            value = values.get(name)
            if isinstance(value, Taken):
                readings += [
                    (name, TypedReading(facts.id, facts.name, each.point, each.direction, each.text, "",
                                        value.instrument))
                    for each in value.figures
                ]  # fmt: skip
            elif isinstance(value, DoneTest):
                held = read_held(value.held) if value.held else None
                tests.append((name, TypedTest(facts.id, facts.kind, facts.name, value.method, value.medium,
                                              value.start, value.end, "", held, value.passed, value.found,
                                              value.instrument)))  # fmt: skip
        for row in values["more_figures"]:
            unit = read_figure(row["figure"])
            readings.append(("more_figures", TypedReading(None, row["name"], "", "", row["figure"], unit,
                                                          row["instrument"])))  # fmt: skip
        for row in values["more_tests"]:
            kind, method = row["how"]
            tests.append(("more_tests", TypedTest(None, kind, row["name"], method, passed=row["passed"],
                                                  found=row["found"])))  # fmt: skip
        owners = {f"readings.{at}": name for at, (name, _) in enumerate(readings)}
        owners |= {f"tests.{at}": name for at, (name, _) in enumerate(tests)}
        return tuple(each for _, each in readings), tuple(each for _, each in tests), owners


@contextmanager
def fields_found(owners: Mapping[str, str]) -> Iterator[None]:
    """Let a refusal of a figure or a test by its number name the form's field; a question stays one."""
    try:
        yield
    except FieldRefused as refused:
        first_two = ".".join(refused.field.split(".")[:2])
        field = owners.get(first_two) or _FIELDS.get(refused.field, refused.field)
        kind = Asked if isinstance(refused, Asked) else FieldRefused
        raise kind(field, refused.reason, refused.remedy) from refused


def _stated(line: SpecLineFacts) -> str:
    """What a line says of which nothing is filled in: ``studs: target 40 N·m (29.5 lbf ft)``."""
    bounds, _other = bounds_words(line.limits.new_low, line.limits.new_high, line.unit)
    return f"{line.name}: {', '.join(part for part in (bounds, asked_words(line)) if part)}"


def _figure(text: str, _values: Values) -> None:
    read_figure(text)


def read_figure(text: str) -> str:
    """The unit of a figure that carries its own; FieldRefused for one that doesn't, or is none."""
    typed = text.strip()
    # ½ is a figure too.
    unit = typed.lstrip(".,/+-− " + "".join(filter(str.isnumeric, typed)))
    if not unit:
        raise FieldRefused(
            "figure", f"{typed!r} has no unit.", "Type it behind the figure, such as 98.02 mm."
        )
    named = unit_named(unit, "figure")
    try:
        read_measured(typed, named)
    except Asked:
        return named
    return named


def _further_runs(rows: Sequence[Values]) -> Iterator[RunOfTest]:
    for row in rows:
        kind, method = row["how"]
        yield RunOfTest(kind, row["name"], row["passed"], row["found"] or "", method)


def _photographs(files: Sequence[ChosenFile], job: Job) -> tuple[NewPaper, ...]:
    papers = []
    for file in files:
        job.stop_here()
        papers.append(
            NewPaper(file.kind, file.path.stem, content=read_content(file.path), file_name=file.path.name)
        )
    return tuple(papers)
