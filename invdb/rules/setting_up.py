"""What an entry about the shop or its catalogue set, in one sentence: named where few, counted where many."""

from __future__ import annotations

from invdb.rules.folding import Fact
from invdb.rules.told import Told, counted, listed

# What entries about the shop and its catalogue set, the weightiest first, with the word for one and for more.
_MAJOR = {
    "part": ("part", "parts"),
    "family": ("family", "families"),
    "engine_type": ("engine type", "engine types"),
    "engine": ("engine", "engines"),
    "mod": ("mod", "mods"),
    "engine_mod": ("mod embodied", "mods embodied"),
    "kit_line": ("kit line", "kit lines"),
    "stand_in": ("stand-in", "stand-ins"),
    "life_limit": ("life limit", "life limits"),
    "person": ("person", "people"),
    "firm": ("firm", "firms"),
    "owner": ("owner", "owners"),
    "owner_agreement": ("owner's agreement", "owners' agreements"),
    "place": ("place", "places"),
    "document": ("document", "documents"),
    "setting": ("setting", "settings"),
}
_MINOR = {
    "other_number": ("other number", "other numbers"),
    "part_hazard": ("hazard", "hazards"),
    "position": ("position", "positions"),
    "station": ("station", "stations"),
    "stand_in_member": ("stand-in", "stand-ins"),
    "document_link": ("link to a document", "links to documents"),
}


def tell_set_up(told: Told) -> str:
    """``Added part VX0002-W Inlet valve``, ``Added 2 parts and family LI Liners``, without a full stop."""
    counts = {record: count for record, count in told.fact_counts.items() if record in _MAJOR}
    # An engine brings its place with it.
    if "engine" in counts:
        counts.pop("place", None)
    words = _MAJOR
    if not counts:
        counts = {record: count for record, count in told.fact_counts.items() if record in _MINOR}
        words = _MINOR
    facts = [fact for fact in told.facts if fact.record in counts]
    verbs = {_verb(told, fact) for fact in facts}
    verb = verbs.pop() if len(verbs) == 1 else "Added and changed" if "Added" in verbs else "Changed"
    said = []
    for record in sorted(counts, key=list(words).index):
        if len(counts) == 1 or counts[record] == 1:
            names = list(dict.fromkeys(_called(told, fact) for fact in facts if fact.record == record))
            noun = words[record][0 if counts[record] == 1 else 1]
            said.append(f"{noun} {listed(names, counts[record] if len(names) > 1 else None)}".rstrip())
        else:
            said.append(counted(counts[record], *words[record]))
    return (
        f"{verb} {', '.join(said[:-1])}{' and ' if len(said) > 1 else ''}{said[-1]}"
        if said
        else str(told.kind)
    )


def _verb(told: Told, fact: Fact) -> str:
    if (fact.record, fact.record_id) in told.begun:
        return "Added"
    # An end that is taken back is a change; so is one beside which something else was set.
    ends = [name for name, value in fact.values.items() if value is not None]
    return {"until_on": "Ended", "withdrawn_on": "Withdrew"}.get(" ".join(ends), "Changed")


def _called(told: Told, fact: Fact) -> str:
    """What a fact's record is called, by itself or by what it points at."""
    values = fact.values
    match fact.record:
        case "kit_line" if values.get("engine_type_id") is not None:
            return f"{told.name('engine_type', values['engine_type_id'])} {values.get('station')}"
        case "stand_in" | "stand_in_member" | "part_hazard" | "other_number" if values.get("part_id"):
            return f"for {told.name('part', values['part_id'])}"
        case "life_limit" if values.get("part_id"):
            return f"for {told.name('part', values['part_id'])}"
        case "life_limit" if values.get("engine_type_id"):
            return f"for the {told.name('engine_type', values['engine_type_id'])}"
        case "engine_mod" if values.get("mod_id") is not None and values.get("engine_id") is not None:
            return f"{told.name('mod', values['mod_id'])} on {told.name('engine', values['engine_id'])}"
        case "owner_agreement" if values.get("owner_id") is not None:
            return f"of {told.name('owner', values['owner_id'])}"
    return told.names.get((fact.record, fact.record_id), "")
