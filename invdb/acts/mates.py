"""Who ran with whom: the tags of what sat in the same position of an engine when it came apart."""

from __future__ import annotations

from datetime import date, timedelta

from sqlalchemy.orm import Session

from invdb.acts.believed import When
from invdb.acts.fitted_things import fitted_things
from invdb.acts.seats import with_inside

MATES_LENGTH_MAX = 2000


class Mates:
    """What was in each position of an engine on a day, or at the end of the day before: an engine that comes
    apart in several entries of one day ran whole until then."""

    def __init__(self, session: Session, engine: int | None, on: date) -> None:
        self._tags: dict[int, set[str]] = {}
        for day in (on - timedelta(days=1), on) if engine is not None else ():
            for each in fitted_things(session, engine or 0, When(day)):
                if each.position is not None:
                    inner = {thing.tag for thing in with_inside(each.thing)}
                    self._tags.setdefault(each.position, set()).update(inner)

    def of(self, position: int | None, tag: str) -> str:
        """The tags of a thing's mates, separated by commas; as many as a line takes."""
        mates = sorted(self._tags.get(position, set()) - {tag}) if position is not None else []
        while mates and len(", ".join(mates)) > MATES_LENGTH_MAX:
            mates.pop()
        return ", ".join(mates)
