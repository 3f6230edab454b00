"""For which engines a kit line or a stand-in holds, as a form asks it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from gui.shown import Choice, Field, FieldKind, Values
from invdb.acts.catalogue import Holds
from invdb.acts.type_groups import TypeGroup, TypeMod

HOLDS = "For which engines"


def group_choices(groups: Sequence[TypeGroup]) -> tuple[Choice, ...]:
    """The groups of engine types, by their places among them."""
    return tuple(Choice(at, group.words) for at, group in enumerate(groups))


def holds_fields(
    mods: Sequence[tuple[TypeMod, Callable[[Values], bool], str]],
    start: Holds,
    *,
    begins: bool = True,
    positions_hint: str = "Such as 4, 5; empty for all of them",
) -> tuple[Field, ...]:
    """The bounds; ``mods`` are offered each when its own test says so, with the name of its type.

    Without ``begins`` the day from which it holds is asked for elsewhere.
    """
    return (
        Field("positions", "Positions", section=HOLDS, start=start.positions or "", hint=positions_hint),
        Field("serial_from", "Serials from", section=HOLDS, start=start.serial_from or "",
              hint="The lowest engine serial, itself included; empty for no bound"),
        Field("serial_to", "Serials up to", section=HOLDS, start=start.serial_to or "",
              hint="The highest engine serial, itself included; empty for no bound"),
        *_mod_fields(mods, start),
        *((Field("from_on", "Holds from", FieldKind.DATE, section=HOLDS, start=start.from_on,
                 hint="Empty: it has always been so"),) if begins else ()),
    )  # fmt: skip


def _mod_fields(
    mods: Sequence[tuple[TypeMod, Callable[[Values], bool], str]], start: Holds
) -> tuple[Field, ...]:
    """One box for each engine type that has mods."""
    by_type: dict[str, list[tuple[TypeMod, Callable[[Values], bool]]]] = {}
    for mod, shown_when, type_name in mods:
        by_type.setdefault(type_name, []).append((mod, shown_when))
    return tuple(
        Field(
            mod_field(type_name),
            "Mod",
            FieldKind.CHOICE,
            section=HOLDS,
            start=None if start.mod is None else (start.mod, bool(start.mod_embodied)),
            choices=tuple(
                Choice((mod.mod, embodied), f"{word} mod {mod.code}: {mod.name}")
                for mod, _ in own
                for embodied, word in ((True, "with"), (False, "without"))
            ),
            shown_when=own[0][1],
            hint="Only in engines on which that mod is embodied, or is not; empty for all",
        )
        for type_name, own in by_type.items()
    )


def mod_field(type_name: str) -> str:
    """The name of the field that asks for a mod of an engine type."""
    return f"mod of {type_name}"


def holds_of_values(values: dict[str, Any], type_name: str, start: Holds) -> Holds:
    """The bounds that were filled in; what ends it stays as it was."""
    mod, embodied = values.get(mod_field(type_name)) or (None, None)
    return Holds(
        values["positions"] or None,
        values["serial_from"] or None,
        values["serial_to"] or None,
        mod,
        embodied,
        values.get("from_on"),
        start.until_on,
    )
