"""The acts of the Engines view: what each is called, its key, and what it is on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from gui.views.built_stations import StationKey


class Act(StrEnum):
    """What may be done to an engine, by the word on its button."""

    FIT = "Fit"
    FIT_PULL = "Fit a pulled kit"
    FIT_INSIDE = "Fit into a piece"
    STRIP = "Strip"
    STRIP_POSITION = "Strip all of it"
    STRIP_ENGINE = "Strip the whole engine"
    ROB = "Rob"
    TAKE_OVER = "Take over a build record"
    PRESUME = "Presume"
    RUN = "Log running"
    BEGIN_LOG = "Begin the log"
    METER = "Change the meter"
    OVERHAUL = "Overhauled"
    EVENT = "Record an event"
    CLEAR = "Clear of an event"
    HOLD = "Hold"
    CLEAR_HOLD = "Clear hold"
    DIRECTIVE = "Enter a directive"
    CONCESSION = "Concession"
    LIMIT = "Set a limit of life"
    MOD = "Embody a mod"
    RECALL = "Recall"
    DUE_SOON = "What is due soon"


KEYS = {
    Act.FIT: ("Ctrl+I", "Fit things at the chosen stations"),
    Act.FIT_PULL: ("Ctrl+Shift+I", "Fit all that an issued pull has out, in one act"),
    Act.FIT_INSIDE: ("Ctrl+Shift+F", "Fit pieces into another on the bench, such as guides into a barrel"),
    Act.STRIP: ("Ctrl+S", "Strip what is at the chosen stations"),
    Act.STRIP_POSITION: ("Ctrl+Shift+S", "Strip everything in the chosen cylinder, in one act"),
    Act.STRIP_ENGINE: ("Ctrl+Shift+W", "Strip everything in the engine, in one act"),
    Act.ROB: ("Ctrl+Shift+R", "Take the chosen pieces for another engine, owed back"),
    Act.TAKE_OVER: ("Ctrl+Shift+B", "Book in what a document says is in the engine, with what it had run"),
    Act.PRESUME: ("Ctrl+Shift+P", "Say that stations are filled, though nobody has seen with what"),
    Act.RUN: ("Ctrl+R", "Log what the engine ran"),
    Act.BEGIN_LOG: ("Ctrl+Shift+L", "Begin the log: the meter, and what it had run by then"),
    Act.METER: ("Ctrl+Shift+M", "Record that the meter is another from now on"),
    Act.OVERHAUL: (
        "Ctrl+Shift+O",
        "Begin the engine's own count since overhaul anew, for what a report says",
    ),
    Act.EVENT: ("Ctrl+Shift+E", "Record what befell the engine: it taints all that was inside"),
    Act.CLEAR: ("Ctrl+Shift+K", "Clear the engine, or what was inside it, by the inspection named for it"),
    Act.HOLD: ("Ctrl+H", "Raise a doubt on the engine, or on what is at the chosen stations"),
    Act.CLEAR_HOLD: ("Ctrl+Shift+H", "Say what settled a doubt on the engine, or on what is chosen"),
    Act.DIRECTIVE: ("Ctrl+Shift+N", "Enter what an authority orders: for what it is, and when it is due"),
    Act.CONCESSION: ("Ctrl+Shift+G", "Record what an authority allows of the chosen piece beyond a limit"),
    Act.LIMIT: ("Ctrl+Shift+T", "Limit the life of a part, or of the engines of a type"),
    Act.MOD: ("Ctrl+Shift+D", "Embody a mod or remove one, having read what that would need"),
    Act.RECALL: ("Ctrl+Shift+C", "Find every piece of what is in doubt, hold it, and write the letter"),
    Act.DUE_SOON: ("Ctrl+Shift+J", "Choose how near its limit a thing is due soon, for the whole shop"),
}
# What is on no engine in particular, whatever is shown.
OF_THE_SHOP = frozenset({Act.RECALL, Act.DIRECTIVE, Act.LIMIT, Act.DUE_SOON})


@dataclass(frozen=True)
class Subject:
    """What an act is on: the engine, the chosen position if any, and the chosen stations.

    Where no engine is shown, its id is 0 and its names are "".
    """

    engine: int
    name: str
    position: int | None = None
    keys: tuple[StationKey, ...] = ()
    engine_type: str = ""
