"""What a part must be, card by card: its lines, fits, rules, masses, sizes, limits, numbers and hazards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from gui.shown_cards import Card, CardLine
from gui.views.part_reading import PartRead, StationBalance, StationRule
from invdb.acts.part_uses import PartFit
from invdb.rules.inspection_sheet import bounds_words
from invdb.rules.life_limits import limit_words
from invdb.rules.measuring import kept, other_unit, shown
from invdb.rules.specification import SpecFacts, SpecLineFacts, seconds_words
from invdb.terms import BalanceKind, FitKind, MatchOn, SpecKind

STANDARD = "standard"


class CardKind(StrEnum):
    """What a card is of."""

    LINE = "specification line"
    FIT = "fit"
    RULE = "rule"
    BALANCE = "set of masses"
    SIZE = "size"
    LIMIT = "limit of life"
    NUMBER = "number"
    HAZARD = "hazard"


@dataclass(frozen=True)
class CardKey:
    """Which record a card is of; None for what is kept with the part itself."""

    kind: CardKind
    record: int | None


SECTIONS = {
    SpecKind.DIMENSION: "Dimensions",
    SpecKind.MASS: "Masses",
    SpecKind.TORQUE: "Torques",
    SpecKind.MATERIAL: "Material and finish",
    SpecKind.FINISH: "Material and finish",
    SpecKind.PRESSURE_TEST: "Tests",
    SpecKind.CRACK_TEST: "Tests",
    SpecKind.LOAD_TEST: "Tests",
    SpecKind.LOOK: "Tests",
}
FITS, RULES, BALANCES = "Fits", "What must suit", "Masses that must agree"
SIZES, LIMITS = "Sizes", "Limits of life"
NUMBERS, HAZARDS = "Other numbers", "Hazards"
_ORDER = tuple(dict.fromkeys(SECTIONS.values()))
_FIT_SIGNS = {FitKind.MACHINED: "to be machined", FitKind.SELECTED: "to be selected"}


def cards_of(read: PartRead, spec: SpecFacts | None) -> tuple[Card, ...]:
    """The cards of a part, with the lines of the revision that is looked at, if there is one."""
    lines = sorted(spec.lines if spec is not None else (), key=lambda line: _ORDER.index(SECTIONS[line.kind]))
    return (
        *(line_card(line) for line in lines),
        *(_fit_card(each, read) for each in read.page.fits),
        *(_rule_card(each, read) for each in read.rules),
        *(_balance_card(each, read) for each in read.balances),
        *_sizes(read),
        *_limits(read),
        *_numbers(read),
        *_hazards(read),
    )


def line_card(line: SpecLineFacts) -> Card:
    """One line of a specification, its figures as published and the other way."""
    limits = line.limits
    lines = [
        *_figures("new", limits.new_low, limits.new_high, line.unit),
        *_figures("worn", limits.worn_low, limits.worn_high, line.unit),
        *_one("at" if line.kind is SpecKind.PRESSURE_TEST else "target", line.target, line.unit),
        *_figures("ovality", None, limits.oval_max, line.unit),
        *_figures("taper", None, limits.taper_max, line.unit),
        *_figures("within a set", None, line.spread_max, line.unit),
        *_figures("drop", None, line.drop_max, line.unit),
    ]
    if line.medium:
        lines.insert(0, CardLine("with", line.medium))
    if line.hold_seconds is not None:
        lines.append(CardLine("held for", seconds_words(line.hold_seconds)))
    places = "; ".join(", ".join(names) for names in (limits.points, limits.directions) if names)
    note = ". ".join(words for words in (f"Measured at {places}" if places else "", line.wording) if words)
    kind = str(line.kind) if line.name.casefold() != str(line.kind) else ""
    aside = ", ".join(
        word for word in (line.size_class, kind if SECTIONS[line.kind] == "Tests" else "") if word
    )
    return Card(
        CardKey(CardKind.LINE, line.id),
        line.name,
        aside,
        tuple(lines),
        note,
        SECTIONS[line.kind],
        detail=_detail(line.name, lines, note),
    )


def _fit_card(each: PartFit, read: PartRead) -> Card:
    fit, terms = each.fit, each.fit.terms
    lines = [
        *_figures("new", terms.low, terms.high, terms.unit),
        *_figures("worn", None, terms.worn_high, terms.unit),
        *_one("target", terms.target, terms.unit),
    ]
    low, high = terms.ends
    interference = low < 0
    said = [
        each.between,
        "below zero is an interference" if interference and high > 0 else "",
        "an interference" if interference and high <= 0 else "",
        terms.operation,
        "what is fitted so stays together" if fit.makes_matched else "",
        _published(fit.revision, fit.source, fit.document),
    ]
    note = ". ".join(_begun(words) for words in said if words)
    title = f"{terms.name} ({each.engine_type}, {fit.group})"
    return Card(
        CardKey(CardKind.FIT, fit.id),
        title,
        str(terms.kind),
        tuple(lines),
        note,
        FITS,
        _FIT_SIGNS.get(terms.kind, ""),
        _detail(title, lines, note, read.last_set(fit.entry)),
    )


def _rule_card(each: StationRule, read: PartRead) -> Card:
    rule = each.rule
    if rule.what is MatchOn.SIZE:
        said = f"What is at the {rule.station} and at the {rule.other_station} is of one size."
    else:
        said = (
            f"Nothing {rule.finish} at the {rule.station} meets anything {rule.other_finish} at the"
            f" {rule.other_station}."
        )
    title = f"{rule.what} at the {rule.station} ({each.engine_type}, {rule.group})"
    note = f"{said} By {rule.source}."
    return Card(
        CardKey(CardKind.RULE, rule.id),
        _begun(title),
        note=note,
        section=RULES,
        detail=_detail(title, [], note, read.last_set(rule.entry)),
    )


def _balance_card(each: StationBalance, read: PartRead) -> Card:
    balance = each.balance
    against = balance.kind is BalanceKind.AGAINST
    lines = [
        *_one("target", balance.target, balance.unit),
        *_figures("off it" if against else "apart", None, balance.spread, balance.unit),
    ]
    added = ", ".join(f"the {mass} of the {station}" for station, mass in balance.masses)
    one = balance.positions is not None and "," not in balance.positions
    where = f"Position{'' if one else 's'} {balance.positions}" if balance.positions else "Every position"
    note = ". ".join(
        (
            where,
            f"{'What counts is' if len(balance.masses) == 1 else 'Added up at each:'} {added}",
            f"By {balance.source}.",
        )
    )
    title = f"{balance.name} ({each.engine_type}, {balance.group})"
    return Card(
        CardKey(CardKind.BALANCE, balance.id),
        title,
        str(balance.kind),
        tuple(lines),
        note,
        BALANCES,
        detail=_detail(f"{title}, {balance.kind}", lines, note, read.last_set(balance.entry)),
    )


def _sizes(read: PartRead) -> Iterator[Card]:
    if len(read.page.sizes) < 2:
        return
    for size in read.page.sizes:
        own = size.id is None
        title = size.size_class or STANDARD
        last = "" if own else read.last_set(read.set_when.get(("part_size", size.id or 0)))
        yield Card(
            CardKey(CardKind.SIZE, size.id),
            title,
            "its own size" if own else "",
            note=size.note,
            section=SIZES,
            detail=_detail(title, [], size.note, last),
        )


def _limits(read: PartRead) -> Iterator[Card]:
    for limit in read.limits:
        last = read.last_set(read.set_when.get(("life_limit", limit.key or 0)))
        note = f"By {limit.source}." if limit.source else ""
        if limit.key is None:
            note = "Kept with the part itself; changed there."
        title = limit_words(limit)
        yield Card(
            CardKey(CardKind.LIMIT, limit.key),
            title,
            note=note,
            section=LIMITS,
            detail=_detail(title, [], note, last),
        )


def _numbers(read: PartRead) -> Iterator[Card]:
    for number in read.page.numbers:
        whose = ", ".join(word for word in (f"{number.kind} number", number.firm) if word)
        yield Card(
            CardKey(CardKind.NUMBER, number.id),
            number.number,
            whose,
            section=NUMBERS,
            detail=_detail(number.number, [], whose, read.last_set(number.entry)),
        )


def _hazards(read: PartRead) -> Iterator[Card]:
    for hazard in read.page.hazards:
        yield Card(
            CardKey(CardKind.HAZARD, hazard.id),
            str(hazard.hazard),
            "take care",
            note=hazard.caution,
            section=HAZARDS,
            sign="take care",
            detail=_detail(str(hazard.hazard), [], hazard.caution, read.last_set(hazard.entry)),
        )


def _figures(word: str, low: str | None, high: str | None, unit: str) -> list[CardLine]:
    published, other = bounds_words(low, high, unit)
    return [CardLine(word, published, other)] if published else []


def _one(word: str, text: str | None, unit: str) -> list[CardLine]:
    """A single figure, which is neither the least nor the most."""
    if text is None:
        return []
    measured, other = kept(text, unit), other_unit(unit)
    return [CardLine(word, measured.words, shown(measured.value, other) if other is not None else "")]


def _published(revision: str, source: str, document: str) -> str:
    by = ", ".join(dict.fromkeys(word for word in (source, document) if word))
    return f"by {by}{f', revision {revision}' if revision else ''}"


def _begun(words: str) -> str:
    return words[:1].upper() + words[1:]


def _detail(title: str, lines: list[CardLine], note: str, last: str = "") -> str:
    """What pointing at a card tells: all of it, however much of it there was room for, and who set it."""
    said = [title]
    said += [f"{line.word}: {line.published}{f' ({line.other})' if line.other else ''}" for line in lines]
    said += [note] if note else []
    said += [f"Set by {last}"] if last else []
    return "\n".join(said)
