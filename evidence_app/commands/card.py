"""``evidence-app card``: print the scale card, confirm a printed batch, choose the one in use."""

from pathlib import Path

import click

from evidence_app.commands.shared.entering import GroupWithDefault, write_new
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.language import say


@click.group(cls=GroupWithDefault, default="print")
def card() -> None:
    """Print the scale card and confirm a printed batch.

    \b
    evidence-app card OUT.pdf [--paper A4|Letter] [--serial NQ-0001]
    evidence-app card confirm SERIAL --bar-mm 50.0 --thickness-mm 0.5
    evidence-app card use [SERIAL]
    evidence-app card list
    """


@card.command("print")
@click.argument("out", type=PATH)
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@click.option("--serial", default="NQ-0001", show_default=True, help="Serial printed on the card.")
def print_card(out: Path, paper: str, serial: str) -> None:
    """Write the card as a PDF at its true size into OUT."""
    from evidence_app.photo.card.print import card_pdf

    write_new(out, card_pdf(serial, paper))
    tell_user(
        "{out}: card {serial} for {paper}. Print it at 100 percent and hold a steel rule "
        "against its 50 mm bar.",
        out=out,
        serial=serial,
        paper=paper,
    )


@card.command()
@click.argument("serial")
@click.option("--bar-mm", type=float, required=True, help="Length of the printed bar by the rule.")
@click.option("--thickness-mm", type=float, required=True, help="Thickness with its backing.")
@click.option(
    "--read-to-mm",
    type=float,
    default=0.1,
    show_default=True,
    help="The bar's length is known to within this much either way.",
)
def confirm(serial: str, bar_mm: float, thickness_mm: float, read_to_mm: float) -> None:
    """Record what a rule says of the printed batch SERIAL, and measure jobs with it."""
    from evidence_app.job.running.scale_cards import cards_path, confirm_card

    known = confirm_card(serial, bar_mm, thickness_mm, read_to_mm)
    tell_user(
        "card {serial}: {percent:+.2f} percent, {thickness:g} mm thick, in {path}; jobs measure "
        "with it from now on",
        serial=serial,
        percent=100 * (known.scale - 1),
        thickness=thickness_mm,
        path=cards_path(),
    )


@card.command()
@click.argument("serial", required=False)
def use(serial: str | None) -> None:
    """Measure jobs with the confirmed card SERIAL; without SERIAL, with no confirmed card."""
    from evidence_app.job.running.scale_cards import use_card

    use_card(serial)
    click.echo(
        say("jobs measure with card {serial}", serial=serial)
        if serial
        else say("jobs measure with no known card")
    )


@card.command("list")
def list_cards() -> None:
    """List the confirmed cards."""
    from evidence_app.job.running.scale_cards import confirmed_cards, serial_in_use

    known, used = confirmed_cards(), serial_in_use()
    if not known:
        tell_user("no card is confirmed")
    for serial, each in sorted(known.items()):
        told = say("scale {scale:.4f}, thickness {mm:g} mm", scale=each.scale, mm=each.thickness_mm)
        click.echo(f"{serial}: {told}" + (say(", in use") if serial == used else ""))
