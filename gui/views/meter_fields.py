"""What a form asks of an engine's meter, and how hours are read from what was typed."""

from __future__ import annotations

from typing import Any

from gui.shown import Choice, Field, FieldKind, Values
from invdb.acts.running import LogAt
from invdb.rules.life import hours_words, read_prior
from invdb.terms import FieldRefused, HoursKnown, PriorLife, RunningUse

RAN_FOR = tuple(Choice(use, str(use)) for use in RunningUse)


def hours_figure(hundredths: int) -> str:
    """The figure alone, as a field begins with it."""
    return hours_words(hundredths).removesuffix(" h")


def read_hours(text: str, field: str) -> int:
    """Hours in hundredths; Refused, for that field, for what is no exact figure."""
    known = read_prior(text, field) if text.strip() else PriorLife(HoursKnown.UNKNOWN)
    if known.known is not HoursKnown.EXACT or known.low is None:
        raise FieldRefused(field, f"“{text.strip()}” is no exact figure.", "Type the hours, such as 312.50.")
    return known.low


def read_count(text: str, field: str) -> int:
    """A whole number, 0 for nothing typed; Refused, for that field, for what is none."""
    text = text.strip()
    if not text:
        return 0
    if not (text.isascii() and text.isdigit()):
        raise FieldRefused(field, f"“{text}” is no whole number.", "Type how many there were.")
    return int(text)


def meter_fields(log: LogAt) -> tuple[Field, ...]:
    """The reading, offered as the meter read last, and what the engine ran for if it is another by now.

    None for an engine without a meter.
    """
    meter = log.state.meter
    if meter is None:
        return ()

    def check(written: Any, _values: Values) -> None:
        read_hours(written, "reading")

    def ran_since(values: Values) -> bool:
        return str(values.get("reading") or "").strip() != hours_figure(meter)

    return (
        Field(
            "reading",
            "Meter reads",
            FieldKind.QUANTITY,
            needed=True,
            start=hours_figure(meter),
            unit=f"h; it read {hours_words(meter)} on {log.last_on.isoformat()}",
            check=check,
            hint="What the meter of the engine reads as this is done",
        ),
        Field(
            "use",
            "It ran for",
            FieldKind.CHOICE,
            needed=True,
            start=log.usual_use,
            choices=RAN_FOR,
            hint="What the engine ran for since its log's last line",
            shown_when=ran_since,
        ),
    )


def reading_of(values: Values) -> tuple[int | None, RunningUse | None]:
    """The reading and what the engine ran for, as an act takes them; None for what was not asked."""
    written = values.get("reading")
    return (read_hours(written, "reading") if written is not None else None), values.get("use")
