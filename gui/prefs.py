"""What the window remembers from one day to the next: a small JSON file in the user's own settings folder."""

from __future__ import annotations

import json
import logging
import os
from dataclasses import asdict, dataclass, field
from pathlib import Path

from gui.theme import SCALES

log = logging.getLogger(__name__)


def settings_file() -> Path:
    """Where the settings are kept for this user of this machine."""
    from platformdirs import user_config_path

    return user_config_path("invdb") / "window.json"


@dataclass
class Prefs:
    """Light or dark, the scale (None: as the screen asks), the window's place, and widths of columns.

    ``widths`` holds, for each list by name, the width of each column in pixels at 100 %. Nothing of the
    workshop's own is kept here: losing the file loses nothing but habits.
    """

    path: Path
    dark: bool = False
    scale: float | None = None
    geometry: str = ""
    store: str = ""
    person: str = ""
    view: str = ""
    widths: dict[str, dict[str, int]] = field(default_factory=dict)

    @classmethod
    def read(cls, path: Path) -> Prefs:
        """The settings in the file; the usual ones where it is missing or cannot be made sense of."""
        prefs = cls(path)
        try:
            kept = json.loads(path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return prefs
        except (OSError, ValueError) as broken:
            log.warning("The settings in %s cannot be read and are begun afresh: %s", path, broken)
            return prefs
        if not isinstance(kept, dict):
            return prefs
        prefs.dark = kept.get("dark") is True
        prefs.scale = kept.get("scale") if kept.get("scale") in SCALES else None
        for name in ("geometry", "store", "person", "view"):
            if isinstance(kept.get(name), str):
                setattr(prefs, name, kept[name])
        lists = kept.get("widths")
        for name, widths in lists.items() if isinstance(lists, dict) else ():
            if isinstance(widths, dict):
                prefs.widths[name] = {c: w for c, w in widths.items() if isinstance(w, int) and w > 0}
        return prefs

    def keep(self) -> None:
        """Write the settings; a disk that refuses costs only the habit, and the log says so."""
        kept = {name: value for name, value in asdict(self).items() if name != "path"}
        beside = self.path.with_suffix(".new")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            beside.write_text(json.dumps(kept, indent=1, sort_keys=True), encoding="utf-8")
            os.replace(beside, self.path)
        except OSError as refused:
            log.warning("The settings cannot be kept in %s: %s", self.path, refused)

    def keep_widths(self, name: str, widths: dict[str, int]) -> None:
        """Remember how wide a person made the columns of that list."""
        self.widths[name] = widths
        self.keep()
