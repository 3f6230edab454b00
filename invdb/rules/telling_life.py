"""What happened to engines and to what is in them, in one sentence of the trade; see ``telling``."""

from __future__ import annotations

from invdb.rules.folding import RecordKey
from invdb.rules.told import Told


def tell_life(told: Told, about: RecordKey | None = None) -> str:
    """The sentence of an entry about an engine's build, log, events, directives or mods."""
    return str(told.kind).capitalize()
