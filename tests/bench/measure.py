"""One line for each measure: ours, the reference, their ratio, and whether that is what was promised."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Measure:
    """Two times in seconds; ``ratio_max`` and ``seconds_max`` are what is promised of ours, if anything."""

    name: str
    ours: float
    reference: float | None = None
    ratio_max: float | None = None
    seconds_max: float | None = None

    @property
    def within(self) -> bool:
        """Whether ours is within everything that is promised of it."""
        return all(kept for kept, _ in self._bounds)

    @property
    def _bounds(self) -> list[tuple[bool, str]]:
        bounds = []
        if self.ratio_max is not None:
            bounds.append((self._ratio <= self.ratio_max, f"{self.ratio_max:g} times"))
        if self.seconds_max is not None:
            bounds.append((self.ours <= self.seconds_max, f"{self.seconds_max * 1e3:g} ms"))
        return bounds

    @property
    def _ratio(self) -> float:
        assert self.reference is not None, "a ratio is promised against a reference"
        return self.ours / self.reference

    def __str__(self) -> str:
        said = [f"ours {self.ours * 1e3:.2f} ms"]
        if self.reference is not None:
            said += [f"reference {self.reference * 1e3:.2f} ms", f"ratio {self._ratio:.2f}"]
        verdicts = [f"{'within' if kept else 'OVER'} {bound}" for kept, bound in self._bounds]
        return f"{self.name}: {', '.join(said)} ({', '.join(verdicts) or 'for information'})"
