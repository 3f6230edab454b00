"""That everything leads outward: no piece inside itself, no place inside itself, nothing nested too deep."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from sqlalchemy import Connection, bindparam, case, or_, select
from sqlalchemy.orm import aliased

from invdb.records.chunks import chunks
from invdb.records.stock import Piece, Place, Stay
from invdb.rules.points import BEGINNING, END, Point
from invdb.terms import Refused

NESTING_MAX = 8
_STEPS_MAX = (NESTING_MAX + 1) * (NESTING_MAX + 1)

# Made once: putting a statement together costs more than executing it.
_PLACE = select(Place.parent_id, Place.piece_id).where(Place.id == bindparam("place"))
_OUTER = aliased(Place)
# The piece that a place is, and the place to look at next: none if what it stands in holds no more.
_OUTWARD = (
    select(
        Place.piece_id,
        case(
            (Place.piece_id.is_not(None), Piece.place_id),
            (or_(_OUTER.piece_id.is_not(None), _OUTER.parent_id.is_not(None)), Place.parent_id),
        ).label("next_id"),
    )
    .outerjoin(Piece, Piece.id == Place.piece_id)
    .outerjoin(_OUTER, _OUTER.id == Place.parent_id)
    .where(Place.id == bindparam("place"))
)
_PLACES_STANDING_IN = select(Place.id).where(
    Place.parent_id.in_(bindparam("places", expanding=True)), Place.piece_id.is_(None)
)
_PLACES_THAT_ARE = select(Place.id, Place.piece_id).where(
    Place.piece_id.in_(bindparam("pieces", expanding=True))
)
_PIECES_AT = select(Piece.id).where(Piece.place_id.in_(bindparam("places", expanding=True)))
_PIECES_EVER_AT = (
    select(Stay.piece_id).where(Stay.place_id.in_(bindparam("places", expanding=True))).distinct()
)
_STAYS_OF = select(Stay.place_id, Stay.from_on, Stay.from_entry, Stay.to_on, Stay.to_entry).where(
    Stay.piece_id == bindparam("piece")
)


def check_places(connection: Connection, places: Iterable[int]) -> None:
    """Refuse places that stand inside themselves, or too deep; for those that are new or were set anew."""
    for place in places:
        if _steps_outward(connection, place) + _steps_inward(connection, place) > NESTING_MAX:
            raise Refused(f"Places would stand more than {NESTING_MAX} deep in each other.", "Put it higher.")


def _steps_outward(connection: Connection, start: int) -> int:
    """How many places a place stands in, up to the nearest piece that holds it or to the outermost."""
    place = start
    for steps in range(NESTING_MAX + 1):
        parent, piece = connection.execute(_PLACE, {"place": place}).one()
        if parent is None or piece is not None:
            return steps
        if parent == start:
            raise Refused("A place can't stand inside itself.", "Choose another place for it to stand in.")
        place = parent
    return NESTING_MAX + 1


def _steps_inward(connection: Connection, place: int) -> int:
    """How deep other places stand in a place; at most one above the bound."""
    level = {place}
    for steps in range(NESTING_MAX + 1):
        level = _places_directly_in(connection, level)
        if not level:
            return steps
    return NESTING_MAX + 1


def _places_directly_in(connection: Connection, places: Collection[int]) -> set[int]:
    found: set[int] = set()
    for some in chunks(places):
        found.update(connection.scalars(_PLACES_STANDING_IN, {"places": some}))
    return found


def check_pieces(connection: Connection, moved: Mapping[int, int], holding: Iterable[int]) -> None:
    """Refuse pieces moved to places (by their ids) that are there inside themselves or more than 8 deep.

    ``holding`` are those of them that are places for others.
    """
    below = _depths_below(connection, holding)
    above: dict[int, list[int]] = {}
    for piece_id, place_id in moved.items():
        if place_id not in above:
            above[place_id] = _holders(connection, place_id)
        _refuse_nesting(piece_id in above[place_id], len(above[place_id]) + below.get(piece_id, 0))


def check_pieces_over_time(connection: Connection, moved: Collection[int]) -> None:
    """The same at every moment that there was; for an act that is late or that reverses."""
    climber = _Climber(connection)
    for piece_id in ever_beneath(connection, moved):
        climber.climb(piece_id, BEGINNING, END, (piece_id,))


def _refuse_nesting(in_itself: bool, depth: int) -> None:
    if in_itself:
        raise Refused("A piece can't be put inside itself.", "Check which of the two holds the other.")
    if depth > NESTING_MAX:
        raise Refused(f"Pieces would stand more than {NESTING_MAX} deep in each other.", "Strip one first.")


def _holders(connection: Connection, place_id: int) -> list[int]:
    """The pieces that a place lies in, the nearest first."""
    holders: list[int] = []
    place: int | None = place_id
    for _ in range(_STEPS_MAX):
        if place is None:
            return holders
        piece_id, place = connection.execute(_OUTWARD, {"place": place}).one()
        if piece_id is None:
            continue
        if piece_id in holders:
            raise Refused("A piece can't be put inside itself.", "Check which of the two holds the other.")
        holders.append(piece_id)
    raise Refused("The places there do not lead outward.", "Run `invdb check`.")


def _depths_below(connection: Connection, holding: Iterable[int]) -> dict[int, int]:
    """How deep other pieces stand in each of these; at most one above the bound."""
    depths: dict[int, int] = {}
    for piece_id in holding:
        held: set[int] = {piece_id}
        for depth in range(NESTING_MAX + 2):
            held = _directly_in(connection, held)
            if not held:
                depths[piece_id] = depth
                break
        else:
            depths[piece_id] = NESTING_MAX + 1
    return depths


def that_hold(connection: Connection, pieces: Collection[int]) -> list[int]:
    """Those of the pieces that are a place for others."""
    found: list[int] = []
    for some in chunks(pieces):
        holding = connection.execute(_PLACES_THAT_ARE, {"pieces": some})
        found += [piece_id for _, piece_id in holding if piece_id is not None]
    return found


def _places_in(connection: Connection, pieces: Collection[int]) -> set[int]:
    """The places that these pieces are, and the places that stand in those."""
    places: set[int] = set()
    for some in chunks(pieces):
        places.update(connection.scalars(_PLACES_THAT_ARE, {"pieces": some}))
    level = places
    for _ in range(NESTING_MAX):
        level = _places_directly_in(connection, level)
        if not level:
            break
        places |= level
    return places


def _directly_in(connection: Connection, pieces: Collection[int]) -> set[int]:
    found: set[int] = set()
    for some in chunks(_places_in(connection, pieces)):
        found.update(connection.scalars(_PIECES_AT, {"places": some}))
    return found


def now_beneath(connection: Connection, pieces: Collection[int]) -> set[int]:
    """These pieces, and every piece that is in one of them now, or in one of those."""
    beneath = set(pieces)
    level = beneath
    for _ in range(NESTING_MAX + 1):
        level = _directly_in(connection, that_hold(connection, level)) - beneath
        if not level:
            break
        beneath |= level
    return beneath


def ever_beneath(connection: Connection, pieces: Collection[int]) -> set[int]:
    """These pieces, and every piece that was ever in one of them, or in one of those."""
    beneath = set(pieces)
    level = beneath
    for _ in range(NESTING_MAX + 1):
        inside: set[int] = set()
        for some in chunks(_places_in(connection, that_hold(connection, level))):
            inside.update(connection.scalars(_PIECES_EVER_AT, {"places": some}))
        level = inside - beneath
        if not level:
            break
        beneath |= level
    return beneath


class _Climber:
    """Follows pieces outward through all their stays."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._stays: dict[int, list[tuple[int, Point, Point]]] = {}
        self._holder: dict[int, int | None] = {}

    def climb(self, piece_id: int, from_: Point, to: Point, path: tuple[int, ...]) -> None:
        """Refuse what is wrong with the nesting of a piece between two points; ``path`` leads up to it."""
        for place_id, came, went in self._stays_of(piece_id):
            began, ended = max(came, from_), min(went, to)
            holder = self._holder_of(place_id) if began < ended else None
            if holder is None:
                continue
            _refuse_nesting(holder in path, len(path))
            self.climb(holder, began, ended, (*path, holder))

    def _stays_of(self, piece_id: int) -> list[tuple[int, Point, Point]]:
        if piece_id not in self._stays:
            stays = self._connection.execute(_STAYS_OF, {"piece": piece_id})
            self._stays[piece_id] = [
                (
                    place_id,
                    (from_on, from_entry),
                    END if to_on is None or to_entry is None else (to_on, to_entry),
                )
                for place_id, from_on, from_entry, to_on, to_entry in stays
            ]
        return self._stays[piece_id]

    def _holder_of(self, place_id: int) -> int | None:
        """The piece that a place lies in, if any."""
        if place_id not in self._holder:
            place: int | None = place_id
            holder: int | None = None
            for _ in range(NESTING_MAX + 1):
                if place is None or holder is not None:
                    break
                place, holder = self._connection.execute(_PLACE, {"place": place}).one()
            self._holder[place_id] = holder
        return self._holder[place_id]
