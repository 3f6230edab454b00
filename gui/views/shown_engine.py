"""Which engine is shown, and which group of its positions: what the Bench and the Engines view share."""

from __future__ import annotations

from gui.job import Job
from gui.shown import Choice, Empty
from gui.sitting import Sitting
from gui.views.bench_cylinders import groups_of, positions_of
from invdb.acts.engine_list import ListedEngine, engines

DOUBTS_NAMED_MAX = 1


class ShownEngine:
    """Holds the engines as they were read and which of them is shown; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        self.sitting = sitting
        self.engines: tuple[ListedEngine, ...] = ()
        self.engine: ListedEngine | None = None
        self.group = ""

    def forget_engine(self) -> None:
        """Let go of what was worked out for the engine shown before."""

    def forget_group(self) -> None:
        """Let go of what was worked out for the group shown before."""

    def set_engines(self, found: tuple[ListedEngine, ...]) -> None:
        """Take the engines as they were read; the one that was shown stays, or the first is shown."""
        shown = self.engine.engine if self.engine is not None else None
        self.engines = found
        kept = next((each for each in found if each.engine == shown), None)
        self._show(kept or next(iter(found), None))

    def show_engine(self, engine: int) -> None:
        """Show that engine."""
        self._show(next(each for each in self.engines if each.engine == engine))

    def show_group(self, group: str) -> None:
        """Show another group of the engine's positions."""
        if group != self.group:
            self.group = group
            self.forget_group()

    def beside(self, way: int) -> int | None:
        """The engine before (-1) or after (1) the one that is shown, by id, or None at the end."""
        ids = [each.engine for each in self.engines]
        if self.engine is None:
            return None
        at = ids.index(self.engine.engine) + way
        return ids[at] if 0 <= at < len(ids) else None

    def engine_choices(self) -> tuple[Choice, ...]:
        """The engines to choose from, with serial and use; the type where the name does not begin with it."""
        return tuple(
            Choice(
                each.engine,
                " · ".join(
                    part
                    for part in (
                        each.name,
                        "" if each.name.startswith(each.engine_type) else each.engine_type,
                        each.serial,
                        str(each.use),
                    )
                    if part
                ),
            )
            for each in self.engines
        )

    def groups(self) -> tuple[str, ...]:
        """The groups of the shown engine."""
        return groups_of(self.engine) if self.engine is not None else ()

    def told_of_bars(self) -> str:
        """What keeps the engine from being available, or ""."""
        if self.engine is None:
            return ""
        said = [f"⊘ On hold: {reason}" for reason in self.engine.holds]
        others = self._other_doubts(self.engine)
        if others:
            more = len(others) - DOUBTS_NAMED_MAX
            besides = (
                "" if more <= 0 else "; and one more reason" if more == 1 else f"; and {more} more reasons"
            )
            said.append(f"⊘ Not available: {'; '.join(others[:DOUBTS_NAMED_MAX])}{besides}")
        return ". ".join(part.rstrip(".") for part in said)

    def told_of_engine(self) -> str:
        """What is to be known of the engine beside what bars it: its type, its owner and what was noted."""
        if self.engine is None:
            return ""
        owned = f"{self.engine.engine_type}, of {self.engine.owner}"
        return ". ".join(part.rstrip(".") for part in (owned, self.engine.note) if part)

    def told_of_type(self) -> str:
        """All that keeps the engine from being available, and how its maker numbers its type."""
        if self.engine is None:
            return ""
        others = self._other_doubts(self.engine)
        return "\n".join(part for part in (*others, self.engine.type_note) if part)

    def _other_doubts(self, engine: ListedEngine) -> list[str]:
        """What keeps it from being available besides the holds on the engine itself."""
        own = {f"on hold: {reason}" for reason in engine.holds}
        return [doubt for doubt in engine.doubts if doubt not in own]

    def why_no_picture(self) -> Empty | None:
        """What to say where there is nothing to draw, or None."""
        if self.engine is None:
            return Empty(
                "No engine is in the store yet.",
                "Each stands here as its type is drawn, once the type and the engine are in the store.",
            )
        if not self.engine.positions:
            return Empty(
                f"The positions of the {self.engine.engine_type} are not known yet.",
                "Its cylinders stand here once they are entered with the type.",
            )
        return None

    def position_named(self, name: str) -> int:
        """The position of that name in the shown group, by id."""
        assert self.engine is not None, "no engine is shown"
        return next(each.position for each in positions_of(self.engine, self.group) if each.name == name)

    def name_typed(self, typed: str) -> str | None:
        """The name in the shown group that is, or else begins with, what was typed; or None."""
        if self.engine is None:
            return None
        names = [each.name for each in positions_of(self.engine, self.group)]
        fits = [name for name in names if name.casefold() == typed]
        fits += [name for name in names if name.casefold().startswith(typed)]
        return fits[0] if fits else None

    def read_engines(self, _job: Job) -> tuple[ListedEngine, ...]:
        """Every engine; runs on a worker."""
        with self.sitting.store.reading() as session:
            return engines(session)

    def _show(self, engine: ListedEngine | None) -> None:
        same = engine is not None and self.engine is not None and engine.engine == self.engine.engine
        self.engine = engine
        if not same:
            self.forget_engine()
            self.group = next(iter(groups_of(engine)), "") if engine is not None else ""
