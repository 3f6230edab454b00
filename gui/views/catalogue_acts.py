"""The acts of the Catalogue view: what each is called, its key, and what it is on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from gui.views.part_cards import CardKey

SPEC, USES, STOCK, ALTERNATES, PAPERS, CHANGES = "spec", "uses", "stock", "alternates", "papers", "changes"
# What a page is called, and, in a word, where there is little room; and the key that goes to it.
PAGES = {
    SPEC: ("Specification", "Spec.", "F6"),
    USES: ("Where used", "Used", "F7"),
    STOCK: ("Stock", "Stock", "F8"),
    ALTERNATES: ("Alternates", "Alternates", "F9"),
    PAPERS: ("Documents", "Papers", "F11"),
    CHANGES: ("Changes", "Changes", "F12"),
}


class Act(StrEnum):
    """What may be done in the catalogue, by the word on its button."""

    ADD_PART = "Add a part"
    CHANGE_PART = "Change the part"
    NUMBER = "Other number"
    HAZARD = "Hazard"
    CAUTION = "Change the caution"
    CORRECT_NUMBER = "Correct the number"
    SPEC = "New revision"
    WITHDRAW_SPEC = "Withdraw the revision"
    FIT = "Fit"
    REVISE_FIT = "Later revision of the fit"
    RULE = "Rule of size or finish"
    BALANCE = "Masses that must agree"
    SIZE = "Size"
    LIMIT = "Limit of life"
    WITHDRAW = "Withdraw"
    KIT_LINE = "Add to a kit list"
    CORRECT_LINE = "Correct"
    REPLACE_LINE = "Replace from a day"
    END_LINE = "End"
    STAND_IN = "Add a stand-in"
    CORRECT_STAND_IN = "Correct the stand-in"
    REPLACE_STAND_IN = "Replace the stand-in from a day"
    END_STAND_IN = "End the stand-in"
    MOD = "Enter a mod"
    PAPERS = "Attach documents"


KEYS = {
    Act.ADD_PART: ("Ctrl+N", "Add a part to the catalogue"),
    Act.CHANGE_PART: ("Ctrl+U", "Change its name, its note, or how it is held"),
    Act.NUMBER: ("Alt+O", "Add a maker's, a dealer's or a drawing's number of it"),
    Act.HAZARD: ("Alt+H", "Add what can hurt a person who handles it"),
    Act.CAUTION: ("F4", "Change what is said to do about the hazard"),
    Act.CORRECT_NUMBER: ("F4", "Correct a number that was written wrongly"),
    Act.SPEC: ("Ctrl+J", "Put in a revision of its specification, begun from the one in force"),
    Act.WITHDRAW_SPEC: ("Alt+W", "Say that the revision that is shown holds no more, and why"),
    Act.FIT: ("Alt+F", "Put in the limits of a fit that it is part of"),
    Act.REVISE_FIT: ("F4", "Put in a later revision of the chosen fit"),
    Act.RULE: ("Alt+R", "Say that sizes must agree, or finishes may not meet, at two stations"),
    Act.BALANCE: ("Alt+B", "Say which masses agree, and within what, such as those of pistons and rods"),
    Act.SIZE: ("Alt+Z", "Add an oversize or undersize in which it is made"),
    Act.LIMIT: ("Ctrl+Shift+T", "Limit the life of its pieces"),
    Act.WITHDRAW: ("Del", "Say that it holds no more, and why"),
    Act.KIT_LINE: ("Ins", "Let the kits of a group ask for it"),
    Act.CORRECT_LINE: ("F4", "Correct what was written wrongly, for the past too"),
    Act.REPLACE_LINE: ("Shift+F4", "End the line on a day, and begin another in its stead"),
    Act.END_LINE: ("Del", "Say that it holds no more from a day on"),
    Act.STAND_IN: ("Ins", "Say what may stand in for it, or for what it may"),
    Act.CORRECT_STAND_IN: ("F4", "Correct what was written wrongly, for the past too"),
    Act.REPLACE_STAND_IN: ("Shift+F4", "End it on a day, and begin another in its stead"),
    Act.END_STAND_IN: ("Del", "Say that it may stand in no more from a day on"),
    Act.MOD: ("Alt+M", "Enter a mod of an engine type, or correct what is said of one"),
    Act.PAPERS: ("Ins", "Let drawings, published data and photographs stand behind it"),
}
# What is on no part in particular.
OF_THE_CATALOGUE = frozenset({Act.ADD_PART, Act.MOD})
BACK_KEY, FORWARD_KEY, MORE_KEY, BLANK_KEY, STORES_KEY = "Alt+Left", "Alt+Right", "Ctrl+M", "Ctrl+P", "Alt+S"
INSPECT_KEY = "Ctrl+Shift+I"


@dataclass(frozen=True)
class Subject:
    """What an act is on: the part (0 while none is shown), and what is chosen on its page.

    That is a card, a kit line, a stand-in, or the revision that is shown, each by its id.
    """

    part: int
    card: CardKey | None = None
    kit_line: int | None = None
    stand_in: int | None = None
    spec: int | None = None
