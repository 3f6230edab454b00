"""Commands that set a shop up: add a person, a firm, an owner, a bin, a family or a part."""

from __future__ import annotations

from typing import Annotated

import typer

from invdb.acts import catalogue, numbers, shop
from invdb.cli.asked import by_whom, hundredths, opened, say
from invdb.terms import FirmRole, Hazard, Measure, PlaceKind, Tracking

additions = typer.Typer(help="Add what the shop must know: people, firms, owners, bins, families, parts.")


@additions.command()
def person(
    context: typer.Context,
    name: Annotated[str, typer.Argument(help="The person's name.")],
    licence: Annotated[str | None, typer.Option(help="Their licence number.")] = None,
    licence_kind: Annotated[str | None, typer.Option(help="The licence's kind.")] = None,
) -> None:
    """Add a person who works here."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        made = shop.add_person(session, name, by_whom(session, context.obj), licence, licence_kind)
    say(context.obj, {"person": made}, f"Added: {name}.")


@additions.command()
def firm(
    context: typer.Context,
    name: Annotated[str, typer.Argument(help="The firm's name.")],
    role: Annotated[FirmRole, typer.Option(help="What it is to the workshop.")] = FirmRole.SUPPLIER,
    town: Annotated[str, typer.Option(help="Where it is.")] = "",
) -> None:
    """Add a maker, a supplier, a works or a customer. A works gets a place, for what is sent to it."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        made = shop.add_firm(session, name, role, by, town)
        if role is FirmRole.WORKS:
            shop.add_place(session, shop.NewPlace(f"At {name}", PlaceKind.FIRM, firm=made), by)
    say(context.obj, {"firm": made}, f"Added: {name}.")


@additions.command()
def owner(
    context: typer.Context, name: Annotated[str, typer.Argument(help="Whose stock or engines.")]
) -> None:
    """Add an owner of stock or engines beside the workshop."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        made = shop.add_owner(session, name, by_whom(session, context.obj))
    say(context.obj, {"owner": made}, f"Added: {name}.")


@additions.command("bin")
def bin_command(
    context: typer.Context,
    name: Annotated[str, typer.Argument(help="What stands on the bin.")],
    order: Annotated[int, typer.Option(help="Its turn when one walks through the stores.")] = 0,
    bonded: Annotated[bool, typer.Option("--bonded", help="Only accepted stock with papers.")] = False,
) -> None:
    """Add a bin to the stores."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        place = shop.NewPlace(
            name, PlaceKind.BIN, numbers.place_named(session, "Stores"), walking_order=order, bonded=bonded
        )
        made = shop.add_place(session, place, by_whom(session, context.obj))
    say(context.obj, {"place": made}, f"Added: {name}.")


@additions.command()
def family(
    context: typer.Context,
    letters: Annotated[str, typer.Argument(help="Two to four letters that begin its house numbers.")],
    name: Annotated[str, typer.Argument(help="What kind of parts these are.")],
) -> None:
    """Add a family of parts."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        made = catalogue.add_family(session, letters, name, by_whom(session, context.obj))
    say(context.obj, {"family": made}, f"Added: {letters.upper()}, {name}.")


@additions.command()
def part(
    context: typer.Context,
    family: Annotated[str, typer.Argument(help="The letters of its family.")],
    name: Annotated[str, typer.Argument(help="What it is called in the trade.")],
    held_as: Annotated[Tracking, typer.Option(help="Single tagged pieces, or batches.")] = Tracking.PIECE,
    measure: Annotated[Measure, typer.Option(help="What a batch's quantity counts.")] = Measure.COUNT,
    number: Annotated[list[str] | None, typer.Option(help="A number others know it by.")] = None,
    hazard: Annotated[list[Hazard] | None, typer.Option(help="What can hurt who handles it.")] = None,
    critical: Annotated[bool, typer.Option("--critical", help="It is a critical part.")] = False,
    life_limit: Annotated[str | None, typer.Option(help="Hours since new at which its life ends.")] = None,
    shelf_life: Annotated[int | None, typer.Option(help="Months it keeps on the shelf.", min=1)] = None,
) -> None:
    """Add a part to the catalogue; it gets the next house number of its family."""
    limit = hundredths(life_limit, "life_limit_hours")
    with opened(context.obj) as open_store, open_store.writing() as session:
        new = catalogue.NewPart(
            family=numbers.family_lettered(session, family),
            name=name,
            tracking=held_as,
            measure=measure,
            critical=critical,
            life_limit_hours=limit,
            shelf_life_months=shelf_life,
            other_numbers=tuple(catalogue.NewOtherNumber(each) for each in number or ()),
            hazards=tuple((each, "") for each in hazard or ()),
        )
        made = catalogue.add_part(session, new, by_whom(session, context.obj))
        house_number = numbers.house_number_of(session, made)
    say(context.obj, {"part": made, "house_number": house_number}, f"Added: {house_number} {name}.")
