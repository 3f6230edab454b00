"""The question of a kit choice, made from what the store says: what is needed, could serve, and suits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.homes import homes
from invdb.acts.kit_facts import Catalogue, EngineFacts, Held, LineFacts, PositionFacts, asking, offered_at
from invdb.acts.kit_pool import Offer, Pool, need_key, position_key, source_key
from invdb.acts.kit_standing import Standing, read_standing
from invdb.acts.kit_suits import At, Group, KitSuits
from invdb.acts.matched import MatchedFacts
from invdb.acts.matched_in_kit import Throw, hard_sets, throws_now, throws_of
from invdb.acts.proposed import Asked
from invdb.acts.things import ThingState
from invdb.records.engines import Station
from invdb.rules import kit_model
from invdb.rules.availability import bars
from invdb.rules.matching import Home
from invdb.rules.pulling import Option, units_filled
from invdb.rules.suiting import BalanceLine

_MG_PER_G = 1000
# A fit of two pieces that nobody has measured counts as one at the very end of the new limits.
_UNMEASURED_TENTHS = 10


class KitQuestion:
    """What is asked for, in the store's words and in those of the choice.

    A line that is selected on assembly is no need of the choice: what is issued for it follows from what it
    fills, once that is chosen.
    """

    def __init__(
        self,
        catalogue: Catalogue,
        engines: Mapping[int, EngineFacts],
        positions: Mapping[Asked, PositionFacts],
        held: Mapping[tuple[int, int], Sequence[Held]],
    ) -> None:
        self.catalogue = catalogue
        self.engines = engines
        self.positions = positions
        self.lines = {
            asked: catalogue.lines_for(engines[asked.engine], position)
            for asked, position in positions.items()
        }
        self.options: dict[tuple[Asked, int], list[Option]] = {
            (asked, line.id): catalogue.options_for(line.part, engines[asked.engine], positions[asked])
            for asked, lines in self.lines.items()
            for line in lines
        }
        self.pool = Pool()
        self.offers: dict[str, Offer] = {}
        self.throws: Mapping[int, str] = {}
        self.sets: Mapping[int, MatchedFacts] = {}
        self.homes: Mapping[int, Home] = {}
        self.stations: Mapping[tuple[Group, str], int] = {}
        # Members of matched sets that are at a throw, or bound for it by a pull, already.
        self.there: Mapping[int, Throw] = {}
        self.standing: Mapping[tuple[int, Group], Standing] = {}
        self._held = held
        self._suits: KitSuits | None = None

    def read_mates(self, session: Session) -> None:
        """Read which pieces of the pool go together, and where each ran before."""
        pieces = [state.thing.piece for state in self.pool.states if state.thing.piece is not None]
        self.throws = throws_of(session, {asked.position for asked in self.lines})
        self.sets = hard_sets(session, pieces)
        self.homes = homes(session, pieces)
        self.stations = {
            ((row.engine_type_id, row.group_name), row.name): row.id
            for row in session.execute(
                select(Station.id, Station.engine_type_id, Station.group_name, Station.name).where(
                    Station.engine_type_id.in_({engine_type for engine_type, _ in self.groups()})
                )
            )
        }
        members = {piece for each in self.sets.values() for piece, _ in each.members}
        self.there = throws_now(session, members)

    def read_standing(self, session: Session) -> None:
        """Read what stays in the engines, and what pulls hold for them, where masses must agree."""
        self.standing = read_standing(
            session, self.engines.values(), dict.fromkeys(self.groups()), self._held, self.suits
        )

    def throw(self, asked: Asked) -> Throw:
        """The throw of an engine that a position is at."""
        return asked.engine, self.throws.get(asked.position, str(asked.position))

    @property
    def suits(self) -> KitSuits:
        """How things suit each other; given before the request is made."""
        assert self._suits is not None
        return self._suits

    @suits.setter
    def suits(self, suits: KitSuits) -> None:
        self._suits = suits

    def group(self, asked: Asked) -> Group:
        """The group that a position belongs to."""
        return self.engines[asked.engine].engine_type, self.positions[asked].group

    def groups(self) -> list[Group]:
        """The groups of all positions asked for."""
        return [self.group(asked) for asked in self.lines]

    def parts(self) -> set[int]:
        """Every part that a line could be filled with, or nearly, and those of what is held already."""
        parts = {
            part for options in self.options.values() for option in options for part, _ in option.members
        }
        for asked, lines in self.lines.items():
            engine, position = self.engines[asked.engine], self.positions[asked]
            for line in lines:
                parts |= {part for part, _ in self.catalogue.barred_stand_ins(line.part, engine, position)}
            parts |= {each.part for each in self.held_at(asked)}
        return parts

    def held_at(self, asked: Asked) -> Sequence[Held]:
        """What open pulls hold for a position."""
        return self._held.get((asked.engine, asked.position), ())

    def held_for(self, asked: Asked, line: LineFacts) -> tuple[Held, ...]:
        """What open pulls hold for a line."""
        return tuple(each for each in self.held_at(asked) if each.kit_line == line.id)

    def held_things(self, asked: Asked) -> Iterator[At]:
        """What open pulls hold for a position, each at its station."""
        by_thing = {state.thing: state for state in self.pool.states}
        for each in self.held_at(asked):
            if each.thing in by_thing:
                yield each.station, by_thing[each.thing]

    def wanted(self, asked: Asked, line: LineFacts) -> int:
        """How much of a line no pull holds yet; of what is issued as a range nothing more than a range."""
        held = self.held_for(asked, line)
        if self.is_selected(asked, line):
            return 0 if held else line.quantity
        amounts: dict[int, int] = defaultdict(int)
        for each in held:
            amounts[each.part] += each.reserved + each.issued
        return line.quantity - units_filled(self.options[asked, line.id], amounts)

    def is_selected(self, asked: Asked, line: LineFacts) -> bool:
        """Whether what fills a line is selected on assembly."""
        return self.suits.suiting(self.group(asked)).selecting(line.station) is not None

    def open_offers(self, asked: Asked, line: LineFacts, part: int) -> list[Offer]:
        """What may be taken of a part for a line, and suits what pulls hold for the position already."""
        ask = asking(self.engines[asked.engine], line.renewed_always)
        held = list(self.held_things(asked))
        group = self.group(asked)
        return [
            (state, where)
            for state, where in self.pool.by_part.get(part, ())
            if where.quantity > where.reserved
            and not bars(offered_at(state, where), ask)
            and not (held and self.suits.bars(group, (line.station, state), held))
            and not self._rest_elsewhere(asked, state)
        ]

    def _rest_elsewhere(self, asked: Asked, state: ThingState) -> bool:
        """Whether the rest of a piece's matched set is at another throw already, or bound for one."""
        each = self.sets.get(state.thing.piece or 0)
        if each is None:
            return False
        there = {self.there[piece] for piece, _ in each.members if piece in self.there}
        return bool(there - {self.throw(asked)})

    def _matched_sets(self) -> list[tuple[kit_model.Key, ...]]:
        """The sets that go whole or not at all, less what is where they go already.

        A member that is no source stands by its tag alone, which keeps the rest out.
        """
        key_of = {state.thing.piece: key for key, (state, _) in self.offers.items() if state.thing.piece}
        found: dict[int, tuple[kit_model.Key, ...]] = {}
        for piece in key_of:
            each = self.sets.get(piece or 0)
            if each is not None:
                rest = [(member, tag) for member, tag in each.members if member not in self.there]
                found[each.id] = tuple(key_of.get(member, tag) for member, tag in rest)
        return [members for members in found.values() if len(members) > 1]

    def request(self) -> kit_model.KitRequest:
        """The question in the words of the choice: needs, sources that nothing bars, and how they suit."""
        needs: list[kit_model.Need] = []
        open_to: dict[tuple[Asked, int], dict[str, ThingState]] = {}
        for asked, lines in self.lines.items():
            for line in lines:
                wanted = self.wanted(asked, line)
                if wanted <= 0 or self.is_selected(asked, line):
                    continue
                options = []
                states: dict[str, ThingState] = {}
                for preference, option in enumerate(self.options[asked, line.id]):
                    components = []
                    for part, each in option.members:
                        offers = {source_key(*offer): offer for offer in self.open_offers(asked, line, part)}
                        self.offers.update(offers)
                        states |= {key: state for key, (state, _) in offers.items()}
                        components.append(kit_model.Component(each, tuple(offers)))
                    options.append(kit_model.NeedOption(preference, tuple(components)))
                open_to[asked, line.id] = states
                needs.append(
                    kit_model.Need(
                        need_key(asked, line.id), position_key(asked), wanted, tuple(options), line.measure
                    )
                )
        return kit_model.KitRequest(
            positions=[
                kit_model.PositionRequest(
                    position_key(asked),
                    -self.engines[asked.engine].priority,
                    "/".join(map(str, self.throw(asked))),
                )
                for asked in self.lines
            ],
            needs=needs,
            sources=self._sources(),
            matched_sets=self._matched_sets(),
            pairings=[pairing for asked in self.lines for pairing in self._pairings(asked, open_to)],
            balances=self._balances(open_to),
        )

    def _sources(self) -> list[kit_model.Source]:
        states = [state for state, _ in self.offers.values()]
        expiries = sorted({state.shelf_expiry_on for state in states if state.shelf_expiry_on})
        receipts = sorted({state.received_on for state in states})
        expiry_rank = {expiry: rank for rank, expiry in enumerate(expiries)}
        receipt_rank = {receipt: rank for rank, receipt in enumerate(receipts)}
        return [
            kit_model.Source(
                key,
                where.quantity - where.reserved,
                home_line=self.home_line(state),
                shelf_expiry_rank=(
                    expiry_rank[state.shelf_expiry_on] if state.shelf_expiry_on else len(expiries)
                ),
                receipt_rank=receipt_rank[state.received_on],
                other_uses=self.catalogue.uses[state.part],
            )
            for key, (state, where) in self.offers.items()
        ]

    def home_line(self, state: ThingState) -> kit_model.Key | None:
        """The need at whose station a piece last ran, if it is asked for."""
        home = self.homes.get(state.thing.piece or 0)
        if home is None:
            return None
        asked = Asked(home.engine, home.position)
        for line in self.lines.get(asked, ()):
            if self.stations.get((self.group(asked), line.station)) == home.station:
                return need_key(asked, line.id)
        return None

    def _pairings(
        self, asked: Asked, open_to: Mapping[tuple[Asked, int], Mapping[str, ThingState]]
    ) -> Iterator[kit_model.Pairing]:
        """What fits, sizes and finishes bar and weigh at a position, for every two lines that they tie."""
        group = self.group(asked)
        if not self.suits.suiting(group).stations:
            return
        lines = [line for line in self.lines[asked] if (asked, line.id) in open_to]
        for one, other in combinations(lines, 2):
            if one.station == other.station or not self.suits.tied(group, one.station, other.station):
                continue
            barred: set[tuple[kit_model.Key, kit_model.Key]] = set()
            tenths: dict[tuple[kit_model.Key, kit_model.Key], int] = {}
            for key, state in open_to[asked, one.id].items():
                for other_key, other_state in open_to[asked, other.id].items():
                    suited = self.suits.judge(group, (one.station, state), (other.station, other_state))
                    if not suited.may_go:
                        barred.add((key, other_key))
                        continue
                    tenths[key, other_key] = suited.tenths
                    if state.thing.piece is not None and other_state.thing.piece is not None:
                        tenths[key, other_key] += _UNMEASURED_TENTHS * suited.unmeasured
            # What is the same for every pair decides nothing.
            if barred or len(set(tenths.values())) > 1:
                far = {pair: each for pair, each in tenths.items() if each}
                yield kit_model.Pairing(
                    need_key(asked, one.id), need_key(asked, other.id), frozenset(barred), far
                )

    def _balances(
        self, open_to: Mapping[tuple[Asked, int], Mapping[str, ThingState]]
    ) -> list[kit_model.Balance]:
        """The masses that must agree, engine by engine: of each source for each need that counts."""
        balances = []
        for engine, group in dict.fromkeys((asked.engine, self.group(asked)) for asked in self.lines):
            positions = {
                self.positions[asked].name: asked
                for asked in self.lines
                if asked.engine == engine and self.group(asked) == group
            }
            for line in self.suits.balances[group]:
                masses: dict[tuple[kit_model.Key, kit_model.Key], int] = {}
                open_at = set()
                for name, asked in positions.items():
                    if line.holds_for(name) and any(
                        (asked, each.id) in open_to and each.station == station
                        for each in self.lines[asked]
                        for station, _ in line.masses
                    ):
                        open_at.add(name)
                        masses |= self._masses(asked, line.masses, open_to)
                if masses:
                    fixed = self._fixed(line, self.standing.get((engine, group), {}), open_at)
                    key = f"{engine}/{line.id}"
                    balances.append(kit_model.Balance(key, line.spread, masses, line.target, fixed))
        return balances

    def _fixed(self, line: BalanceLine, standing: Standing, open_at: Collection[str]) -> tuple[int, ...]:
        """What the positions that stay as they are weigh, in mg, as far as it is known.

        Nothing where they don't agree among themselves: no choice could mend that.
        """
        if line.target is not None:
            return ()
        masses = [
            mass
            for name, things in standing.items()
            if name not in open_at and line.holds_for(name)
            for mass, _ in [self.suits.mass(line, things)]
            if mass is not None
        ]
        fixed = tuple(round(mass * _MG_PER_G) for mass in masses)
        return fixed if fixed and max(fixed) - min(fixed) <= line.spread else ()

    def is_weighed(self, asked: Asked, line: LineFacts) -> bool:
        """Whether the mass of what fills a line counts in a balance."""
        position = self.positions[asked].name
        return any(
            balance.holds_for(position) and any(station == line.station for station, _ in balance.masses)
            for balance in self.suits.balances[self.group(asked)]
        )

    def _masses(
        self,
        asked: Asked,
        names: Iterable[tuple[str, str]],
        open_to: Mapping[tuple[Asked, int], Mapping[str, ThingState]],
    ) -> dict[tuple[kit_model.Key, kit_model.Key], int]:
        """What each source weighs for each line of a position whose mass counts, in mg.

        What a pull holds for the position already is weighed with the first line that takes one piece.
        Nothing where one of the stations has no weighed thing: the position's mass will not be known then.
        """
        found: dict[tuple[kit_model.Key, kit_model.Key], int] = {}
        held_mass = Fraction(0)
        single: kit_model.Key | None = None
        for station, name in names:
            lines = [
                line for line in self.lines[asked] if line.station == station and (asked, line.id) in open_to
            ]
            held = [
                self.suits.known(state).mass(name) for at, state in self.held_things(asked) if at == station
            ]
            known = bool(held) and not lines
            for line in lines:
                need = need_key(asked, line.id)
                if single is None and self.wanted(asked, line) == 1:
                    single = need
                for key, state in open_to[asked, line.id].items():
                    mass = self.suits.known(state).mass(name)
                    if mass is not None:
                        found[need, key] = found.get((need, key), 0) + round(mass * _MG_PER_G)
                        known = True
            if not known or None in held:
                return {}
            held_mass += sum(mass for mass in held if mass is not None)
        if held_mass and single is None:
            return {}
        extra = round(held_mass * _MG_PER_G)
        return {take: mass + extra if take[0] == single else mass for take, mass in found.items()}
