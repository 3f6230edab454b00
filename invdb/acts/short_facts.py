"""What the shortage board says, for those who ask the acts for it; the values themselves are plain rules."""

from __future__ import annotations

from invdb.rules.short_facts import (
    Advice,
    Ground,
    MonthOutlook,
    ShortAction,
    ShortBoard,
    ShortList,
    ShortReasons,
    ShortRow,
    ShortSettings,
)

__all__ = [
    "Advice",
    "Ground",
    "MonthOutlook",
    "ShortAction",
    "ShortBoard",
    "ShortList",
    "ShortReasons",
    "ShortRow",
    "ShortSettings",
]
