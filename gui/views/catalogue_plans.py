"""The form that each act of the Catalogue view begins with."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from gui.job import Job
from gui.shown import Hit
from gui.sitting import Sitting
from gui.views.balance_set_form import balance_set_form
from gui.views.catalogue_acts import Act, Subject
from gui.views.fit_limit_form import fit_limit_form
from gui.views.form_plan import FormPlan
from gui.views.kit_line_form import (
    add_kit_line_form,
    correct_kit_line_form,
    end_kit_line_form,
    replace_kit_line_form,
)
from gui.views.limit_form import limit_form
from gui.views.part_cards import CardKey, CardKind
from gui.views.part_form import (
    add_part_form,
    caution_form,
    change_part_form,
    correct_number_form,
    hazard_form,
    number_form,
)
from gui.views.part_papers_form import part_papers_form
from gui.views.part_reading import PartRead, read_part, stations_used
from gui.views.part_size_form import part_size_form
from gui.views.reason_fields import set_last
from gui.views.spec_form import spec_form
from gui.views.stand_in_form import (
    add_stand_in_form,
    change_stand_in_form,
    end_stand_in_form,
    replace_stand_in_form,
)
from gui.views.station_rule_form import station_rule_form
from gui.views.type_mod_form import type_mod_form
from gui.views.withdraw_for_reason_form import withdraw_for_reason_form
from gui.views.withdraw_form import withdraw_form
from invdb.acts.balance import withdraw_balance_set
from invdb.acts.fit_limit import withdraw_fit_limit
from invdb.acts.kit_line_edit import kit_line_as_kept
from invdb.acts.life_limit import withdraw_life_limit
from invdb.acts.match_rule import withdraw_match_rule
from invdb.acts.offers import families, firms, parts_by_ids
from invdb.acts.part_edit import withdraw_hazard, withdraw_number
from invdb.acts.part_size import withdraw_part_size
from invdb.acts.set_by import set_by
from invdb.acts.spec import withdraw_spec
from invdb.acts.stand_in_edit import stand_in_as_kept
from invdb.acts.type_groups import TypeGroup, type_groups
from invdb.rules.measuring import in_base_units
from invdb.rules.specification import SpecLineFacts
from invdb.terms import Refused, SpecKind

SEQUENCE_STEP = 10


class CataloguePlans:
    """Reads what a form needs and makes its plan. ``plan`` runs on a worker."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting

    def plan(self, job: Job, act: Act, on: Subject) -> FormPlan:
        """The form of an act; Refused where it makes no sense."""
        sitting = self._sitting
        # The units are looked up here, since the first time takes long.
        in_base_units("in")
        with sitting.reading(job) as session:
            if act is Act.ADD_PART:
                return add_part_form(sitting, families(session))
            groups = type_groups(session)
            if act is Act.MOD:
                entries = [mod.entry for group in groups for mod in group.mods]
                return type_mod_form(sitting, groups, set_by(session, entries), _type_of(session, on, groups))
            if not on.part:
                raise Refused("No part is chosen.", "Choose one in the list first.")
            read = read_part(session, on.part)
            for made in (self._of_part, self._of_card, self._of_kit_line, self._of_stand_in):
                plan = made(session, act, on, read, groups)
                if plan is not None:
                    return plan
        raise AssertionError(f"no form for {act}")

    def _of_part(
        self, session: Any, act: Act, on: Subject, read: PartRead, groups: tuple[TypeGroup, ...]
    ) -> FormPlan | None:
        sitting, page = self._sitting, read.page
        match act:
            case Act.CHANGE_PART:
                own = parts_by_ids(session, [on.part])[on.part]
                return change_part_form(sitting, page, own, read.last_set(page.entry))
            case Act.NUMBER:
                return number_form(sitting, page)
            case Act.HAZARD:
                return hazard_form(sitting, page)
            case Act.SPEC:
                shown = next((each for each in page.specs if each.id == on.spec), page.spec)
                return spec_form(sitting, page, shown, read.last_set(shown.entry if shown else None))
            case Act.SIZE:
                return part_size_form(sitting, page)
            case Act.FIT:
                return fit_limit_form(sitting, hit_of(read), groups_used(read, groups))
            case Act.RULE:
                return station_rule_form(sitting, hit_of(read), groups_used(read, groups))
            case Act.BALANCE:
                used = groups_used(read, groups)
                return balance_set_form(sitting, hit_of(read), used, stations_used(page), _mass_of(read))
            case Act.LIMIT:
                return limit_form(sitting, None, (), hit_of(read))
            case Act.PAPERS:
                return part_papers_form(sitting, page)
        return None

    def _of_card(
        self, session: Any, act: Act, on: Subject, read: PartRead, groups: tuple[TypeGroup, ...]
    ) -> FormPlan | None:
        sitting, page = self._sitting, read.page
        record = on.card.record if on.card is not None else None
        match act:
            case Act.WITHDRAW_SPEC:
                spec = next((each for each in page.specs if each.id == on.spec), None)
                if spec is None:
                    raise Refused("No specification is shown.", "Put one in first.")
                what = f"revision {spec.revision} of {page.house_number}"
                follows = "The revision before it is in force again, if there is one."
                return self._withdraw(what, withdraw_spec, spec.id, follows, read.last_set(spec.entry))
            case Act.CAUTION:
                hazard = next(each for each in page.hazards if each.id == record)
                return caution_form(sitting, page, hazard, read.last_set(hazard.entry))
            case Act.CORRECT_NUMBER:
                number = next(each for each in page.numbers if each.id == record)
                firm = next((each for each in firms(session) if each.name == number.firm), None)
                whose = Hit(firm.name, firm.town, "firm", firm.id) if firm is not None else None
                return correct_number_form(sitting, page, number, whose, read.last_set(number.entry))
            case Act.REVISE_FIT:
                fit = next(each for each in page.fits if each.fit.id == record)
                last = read.last_set(fit.fit.entry)
                return fit_limit_form(sitting, hit_of(read), groups_used(read, groups), fit, last)
            case Act.WITHDRAW:
                assert on.card is not None and record is not None, "what may be withdrawn has a record"
                return self._withdraw_card(on.card, record, read)
        return None

    def _withdraw_card(self, card: CardKey, record: int, read: PartRead) -> FormPlan:
        number = read.page.house_number
        match card.kind:
            case CardKind.FIT:
                fit = next(each.fit for each in read.page.fits if each.fit.id == record)
                what, last = f"the fit {fit.terms.name}", read.last_set(fit.entry)
                return self._withdraw(what, withdraw_fit_limit, record, "Kits keep to it no more.", last)
            case CardKind.RULE:
                rule = next(each.rule for each in read.rules if each.rule.id == record)
                what, last = f"the rule of {rule.what} at the {rule.station}", read.last_set(rule.entry)
                return self._withdraw(what, withdraw_match_rule, record, "Kits keep to it no more.", last)
            case CardKind.BALANCE:
                balance = next(each.balance for each in read.balances if each.balance.id == record)
                what, last = f"the set of masses {balance.name}", read.last_set(balance.entry)
                return self._withdraw(what, withdraw_balance_set, record, "Kits keep to it no more.", last)
            case CardKind.SIZE:
                size = next(each for each in read.page.sizes if each.id == record)
                what = f"the size {size.size_class} of {number}"
                last = read.last_set(read.set_when.get(("part_size", record)))
                follows = "Pieces of that size stay what they are."
                return self._withdraw(what, withdraw_part_size, record, follows, last)
            case CardKind.NUMBER:
                entry = next(each.entry for each in read.page.numbers if each.id == record)
                said = next(each.number for each in read.page.numbers if each.id == record)
                follows = "It is not found by that number any more; its history keeps it."
                return withdraw_for_reason_form(
                    self._sitting,
                    f"the number {said} of {number}",
                    lambda session, by, _sure: withdraw_number(session, record, entry, by),
                    " ".join((follows, set_last(read.last_set(entry)))),
                )
            case CardKind.HAZARD:
                hazard = next(each for each in read.page.hazards if each.id == record)
                follows = "Whoever handles it is not warned of that any more."
                return withdraw_for_reason_form(
                    self._sitting,
                    f"the hazard {hazard.hazard} of {number}",
                    lambda session, by, sure: withdraw_hazard(session, record, hazard.entry, by, sure),
                    " ".join((follows, set_last(read.last_set(hazard.entry)))),
                )
            case CardKind.LIMIT:
                last = read.last_set(read.set_when.get(("life_limit", record)))
                follows = "Lives are judged without it from that day on."
                return self._withdraw(f"a limit of life of {number}", withdraw_life_limit, record, follows,
                                      last)  # fmt: skip
        raise AssertionError(f"a {card.kind} is not withdrawn")

    def _withdraw(self, what: str, act: Callable[..., int], record: int, follows: str, last: str) -> FormPlan:
        return withdraw_form(
            self._sitting,
            what,
            lambda session, because, by: act(session, record, because, by),
            " ".join(words for words in (follows, set_last(last)) if words),
        )

    def _of_kit_line(
        self, session: Any, act: Act, on: Subject, read: PartRead, groups: tuple[TypeGroup, ...]
    ) -> FormPlan | None:
        sitting = self._sitting
        if act is Act.KIT_LINE:
            return add_kit_line_form(sitting, hit_of(read), read.page.measure, groups, _next_sequence(read))
        if act not in (Act.CORRECT_LINE, Act.REPLACE_LINE, Act.END_LINE):
            return None
        use = next((each for each in read.page.uses if each.kit_line == on.kit_line), None)
        if use is None:
            raise Refused("No kit line is chosen.", "Choose one in the list first.")
        last = read.last_set(use.entry)
        called = f"the {use.station} in the kit list of {use.engine_type}, {use.group}"
        if act is Act.END_LINE:
            return end_kit_line_form(sitting, use.kit_line, use.entry, called, last)
        kept = kit_line_as_kept(session, use.kit_line)
        part = parts_by_ids(session, [kept.part])[kept.part]
        group = next(
            each for each in groups if (each.engine_type, each.group) == (kept.engine_type, kept.group)
        )
        form = correct_kit_line_form if act is Act.CORRECT_LINE else replace_kit_line_form
        hit = Hit(part.house_number, part.name, "part", part.id)
        return form(sitting, use.kit_line, kept, use.entry, hit, part.measure, group, last)

    def _of_stand_in(
        self, session: Any, act: Act, on: Subject, read: PartRead, groups: tuple[TypeGroup, ...]
    ) -> FormPlan | None:
        sitting = self._sitting
        if act is Act.STAND_IN:
            return add_stand_in_form(sitting, hit_of(read), groups)
        step = next((each for each in read.page.graph.steps if each.stand_in == on.stand_in), None)
        if step is None:
            raise Refused("No stand-in is chosen.", "Choose what is said between two parts in the picture.")
        names = {node.part: Hit(node.number, node.name, "part", node.part) for node in read.page.graph.nodes}
        members = " + ".join(names[part].headline for part, _ in step.members)
        called = f"{members} for {names[step.part].headline}"
        last = read.last_set(step.entry)
        if act is Act.END_STAND_IN:
            return end_stand_in_form(sitting, step.stand_in, step.entry, called, last)
        kept = stand_in_as_kept(session, step.stand_in)
        document = None
        if kept.document is not None:
            document = Hit(step.document, "", "paper", kept.document)
        if act is Act.CORRECT_STAND_IN:
            return change_stand_in_form(
                sitting, step.stand_in, kept, step.entry, called, document, groups, last
            )
        if act is Act.REPLACE_STAND_IN:
            hits = [names[part] for part, _ in kept.members]
            return replace_stand_in_form(
                sitting, step.stand_in, kept, step.entry, called, hits, document, groups, last
            )
        return None


def hit_of(read: PartRead) -> Hit:
    """The part as a field that finds parts holds it."""
    return Hit(read.page.house_number, read.page.name, "part", read.page.part)


def groups_used(read: PartRead, groups: Iterable[TypeGroup]) -> tuple[TypeGroup, ...]:
    """The groups in which kits ask for the part, or for what it may stand in for."""
    used = {(use.engine_type, use.group) for use in read.page.uses}
    return tuple(group for group in groups if (group.type_name, group.group) in used)


def _mass_of(read: PartRead) -> SpecLineFacts | None:
    """The mass that its specification in force states, if it states one alone."""
    lines = read.page.spec.lines if read.page.spec is not None else ()
    masses = [line for line in lines if line.kind is SpecKind.MASS]
    return masses[0] if len({line.name for line in masses}) == 1 else None


def _next_sequence(read: PartRead) -> int:
    """A place after the lines that ask for the part already."""
    return max((use.sequence for use in read.page.uses), default=0) + SEQUENCE_STEP


def _type_of(session: Any, on: Subject, groups: Iterable[TypeGroup]) -> int | None:
    """The engine type in which the part is used, if it is one alone."""
    if not on.part:
        return None
    used = {group.engine_type for group in groups_used(read_part(session, on.part), groups)}
    return used.pop() if len(used) == 1 else None
