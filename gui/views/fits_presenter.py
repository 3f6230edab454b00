"""What the fit view shows and why: every fit and every set of masses of an engine, by cylinder."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from gui.job import Job
from gui.shown import ChartBand, ChartLine, ChartPoint, ChartStrip, Empty
from gui.signs import urgency
from gui.sitting import Sitting
from gui.views.bench_cylinders import positions_of
from gui.views.kit_fits import best_words, counted, gained_words
from invdb.acts.engine_fits import (
    EngineFits,
    FitPoint,
    FitRow,
    MassPoint,
    MassRow,
    built_fits,
    proposed_fits,
)
from invdb.acts.engine_list import ListedEngine
from invdb.acts.propose import POSITIONS_MAX, propose
from invdb.acts.proposed import Asked, Proposal
from invdb.rules.fits import FitVerdict
from invdb.rules.limits import Verdict
from invdb.rules.measuring import in_base_units, other_unit, shown
from invdb.terms import FitKind, Refused

# A thousandth of a millimetre is read of a clearance, and what is about as fine in other units.
FIGURE_PLACES = {"mm": 3, "in": 4, "thou": 1, "µm": 0, "g": 1, "kg": 4, "oz": 2, "lb": 3}
NOTHING, NOTHING_DETAIL = "nothing recorded", "The two that make this fit are not both there."
WITHIN, OUT, UNMEASURED = str(Verdict.NEW), str(Verdict.OUT), str(FitVerdict.UNMEASURED)


@dataclass(frozen=True)
class FitsShown:
    """The fits of a group of an engine: as built, or by the proposal that all its positions were put into."""

    fits: EngineFits
    proposal: Proposal | None = None


class FitsPresenter:
    """Holds whether the engine is shown as built or as proposed; methods that take a job run on a worker."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.as_proposed = False
        self.shown: FitsShown | None = None

    def read(self, job: Job, engine: ListedEngine, group: str) -> FitsShown:
        """The fits as built, or those of the best that could be pulled for all its positions at once."""
        if not self.as_proposed:
            with self._sitting.reading(job) as session:
                return FitsShown(built_fits(session, engine.engine, group))
        positions = positions_of(engine, group)
        if len(positions) > POSITIONS_MAX:
            raise Refused(
                f"{engine.name} has {len(positions)} positions, and {POSITIONS_MAX} are proposed at most.",
                "Look at it as it is built.",
            )
        asked = tuple(Asked(engine.engine, each.position) for each in positions)
        # Not broken off from outside: the solver looks itself whether it is to stop.
        with self._sitting.store.reading() as session:
            proposal = propose(session, asked, stop=job.stopped)
            job.stop_here()
            return FitsShown(proposed_fits(session, proposal)[0], proposal)

    def strips(self) -> tuple[ChartStrip, ...]:
        """The rows of the chart: the fits first, then the masses; none where nothing is there at all."""
        if self.shown is None:
            return ()
        fits = self.shown.fits
        if not fits.fits and all(row.apart is None for row in fits.masses):
            return ()
        return (
            *(strip_of_fit(row, fits.positions) for row in fits.fits),
            *(strip_of_masses(row) for row in fits.masses),
        )

    def title(self) -> str:
        """Which engine, and how it is looked at."""
        if self.shown is None:
            return "Fits and masses"
        how = "as proposed" if self.shown.proposal is not None else "as built"
        return f"Fits and masses of {self.shown.fits.engine_name}, {how}"

    def told(self) -> str:
        """How many fits stand how, and whether the masses agree."""
        if self.shown is None:
            return ""
        fits = self.shown.fits
        parts = [counted(point.verdict for row in fits.fits for point in row.points)]
        apart = [row.name for row in fits.masses if row.within is False]
        if fits.masses:
            agree = sum(row.within is True for row in fits.masses)
            parts.append(f"masses: {agree} of {len(fits.masses)} sets agree")
        if apart:
            parts.append(f"too far apart: {', '.join(apart)}")
        said = "; ".join(part for part in parts if part)
        return f"{said[0].upper()}{said[1:]}." if said else ""

    def gained(self) -> str:
        """What the proposal gained over taking things in shelf order, and how sure it is that it is best."""
        proposal = self.shown.proposal if self.shown is not None else None
        if proposal is None:
            return ""
        best = best_words(proposal)
        said = [gained_words(proposal), f"{best[0].upper()}{best[1:]}"]
        return " ".join(f"{each}." for each in said if each)

    def nothing(self) -> Empty | None:
        """What to say where there is nothing to draw, or None."""
        if self.shown is None or self.strips():
            return None
        if self.as_proposed:
            return Empty(
                "Nothing that could be pulled for this engine makes a fit that is on record.",
                "A fit shows here once its limits are entered for the engine type and both of its parts are"
                " in stock.",
            )
        return Empty(
            "Nothing that is fitted in this engine makes a fit that is on record.",
            "A fit shows here once its limits are entered for the engine type and both of its parts are"
            " fitted. Look at it as proposed to see what the stores could give.",
        )


def strip_of_fit(row: FitRow, positions: tuple[str, ...]) -> ChartStrip:
    """One fit over the engine's positions, in its published unit; a position without it stands empty."""
    size = in_base_units(row.unit)

    def figure(value: Fraction) -> float:
        return float(value / size)

    by_position: dict[str, list[FitPoint]] = {}
    for point in row.points:
        by_position.setdefault(point.position, []).append(point)
    points = []
    for position in positions:
        here = by_position.get(position, [])
        points += [_chart_point(point, row, again=at > 0) for at, point in enumerate(here)]
        if not here:
            points.append(ChartPoint(position, None, None, None, "", NOTHING, False, NOTHING_DETAIL))
    bands = [ChartBand(figure(row.low), figure(row.high), WITHIN)]
    if row.worn_high > row.high:
        bands.append(ChartBand(figure(row.high), figure(row.worn_high), str(Verdict.WORN)))
    worn = row.worn_high > row.high
    limits = [
        ("minimum", row.low, OUT),
        ("target", row.target, ""),
        ("maximum", row.high, WITHIN if worn else OUT),
        *([("worn", row.worn_high, OUT)] if worn else []),
    ]
    lines = [
        ChartLine(figure(value), f"{word} {_figure(value, row.unit)} {row.unit}", at)
        for word, value, at in limits
    ]
    outer, inner = row.stations
    # The name of a fit often says already what goes in what.
    between = "" if row.name == f"{inner} in {outer}" else f"{inner} in {outer}"
    how = "" if row.kind is FitKind.AS_FOUND else str(row.kind)
    caption = "\n".join(part for part in (", ".join(filter(None, (between, how))), row.limits_words) if part)
    told = counted(point.verdict for point in row.points)
    return ChartStrip(
        ("fit", row.name, row.stations),
        row.name,
        caption,
        told,
        _worst(str(point.verdict) for point in row.points),
        tuple(bands),
        tuple(lines),
        tuple(points),
    )


def _chart_point(point: FitPoint, row: FitRow, *, again: bool) -> ChartPoint:
    size = in_base_units(row.unit)
    low, mean, high = (
        None if value is None else float(value / size) for value in (point.low, point.mean, point.high)
    )
    telling = _telling(point, row)
    known = "" if telling is None or not point.measured else _told_apart(telling, row)
    lines = [f"{point.tags[1]} in {point.tags[0]}: {point.words}"]
    other = other_unit(row.unit)
    if point.measured and point.mean is not None and other is not None:
        lines.append(f"The other way, on the mean: {shown(point.mean, other)}")
    if not point.measured and point.low is not None:
        lines.append("From the limits of the parts, since not both were measured.")
    if row.operation and point.verdict is FitVerdict.MACHINED:
        lines.append(f"On assembly: {row.operation}")
    name = f"{point.position}′" if again else point.position
    return ChartPoint(name, low, mean, high, known, str(point.verdict), point.measured, "\n".join(lines))


def _telling(point: FitPoint, row: FitRow) -> Fraction | None:
    """The clearance that stands beneath a cylinder: its mean, or the end by which it is judged otherwise."""
    if point.low is None or point.mean is None or point.high is None:
        return None
    if point.low < row.low <= point.mean:
        return point.low
    limits = (row.worn_high, row.high)
    return point.high if any(point.mean <= limit < point.high for limit in limits) else point.mean


def _told_apart(value: Fraction, row: FitRow) -> str:
    """The figure, with a place more where it would read like a limit that it is not."""
    figure, limits = _figure(value, row.unit), {row.low, row.high, row.worn_high} - {value}
    if figure not in {_figure(limit, row.unit) for limit in limits}:
        return figure
    return _figure(value, row.unit, FIGURE_PLACES[row.unit] + 1)


def strip_of_masses(row: MassRow) -> ChartStrip:
    """A set of masses against the spread that is allowed, in its published unit.

    Without a target they agree with one another: the window stands on the lightest.
    """
    size = in_base_units(row.unit)
    known = [point.mass for point in row.points if point.mass is not None]
    bands: list[ChartBand] = []
    lines: list[ChartLine] = []
    window: tuple[Fraction, Fraction] | None = None
    if row.target is not None:
        window = row.target - row.spread, row.target + row.spread
        lines.append(
            ChartLine(float(row.target / size), f"target {_figure(row.target, row.unit)} {row.unit}")
        )
    elif known:
        window = min(known), min(known) + row.spread
    if window is not None:
        low, high = window
        bands.append(ChartBand(float(low / size), float(high / size), WITHIN))
        lines.append(ChartLine(float(high / size), f"at most {_figure(high, row.unit)} {row.unit}", OUT))
        word = "lightest" if row.target is None else "at least"
        lines.append(ChartLine(float(low / size), f"{word} {_figure(low, row.unit)} {row.unit}", OUT))
    points = tuple(_mass_point(point, row, window) for point in row.points)
    how = "of one another" if row.target is None else f"of {shown(row.target, row.unit)}"
    return ChartStrip(
        ("mass", row.name),
        row.name,
        f"within {shown(row.spread, row.unit)} {how}",
        row.words,
        _worst(point.sign for point in points),
        tuple(bands),
        tuple(lines),
        points,
    )


def _mass_point(point: MassPoint, row: MassRow, window: tuple[Fraction, Fraction] | None) -> ChartPoint:
    if point.mass is None or window is None:
        return ChartPoint(point.position, None, None, None, "", UNMEASURED, False, point.words)
    mass = float(point.mass / in_base_units(row.unit))
    within = window[0] <= point.mass <= window[1]
    other = other_unit(row.unit)
    detail = shown(point.mass, row.unit) + (f" ({shown(point.mass, other)})" if other is not None else "")
    figure, verdict = _figure(point.mass, row.unit), WITHIN if within else OUT
    return ChartPoint(point.position, mass, mass, mass, figure, verdict, True, detail)


def _figure(value: Fraction, unit: str, places: int | None = None) -> str:
    """The figure alone, rounded to ``places`` (None: to what is read beneath a cylinder in that unit)."""
    places = FIGURE_PLACES[unit] if places is None else places
    scaled = round(value / in_base_units(unit) * 10**places)
    whole, rest = divmod(abs(scaled), 10**places)
    sign_before = "−" if scaled < 0 else ""
    return f"{sign_before}{whole}.{rest:0{places}d}" if places else f"{sign_before}{whole}"


def _worst(words: Iterable[str]) -> str:
    return max(words, key=urgency, default=NOTHING)
