"""``evidence-app card``: print the scale card, confirm a printed batch.

What is known of confirmed cards stands in ``cards.toml`` in the user's folder:
``scale`` is true length over nominal, ``scale-u`` its standard uncertainty.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import click
import tomlkit

from evidence_app.commands.shared.entering import write_new
from evidence_app.errors import EvidenceError
from evidence_app.locations import home


class _CardGroup(click.Group):
    """``card OUT.pdf`` prints; ``card confirm`` and ``card list`` are the other words."""

    def resolve_command(self, ctx: click.Context, args: list[str]):
        if args and args[0] not in self.commands:
            args = ["print", *args]
        return super().resolve_command(ctx, args)


@click.group(cls=_CardGroup)
def card() -> None:
    """Print the scale card and confirm a printed batch.

    \b
    evidence-app card OUT.pdf [--paper A4|Letter] [--serial NQ-0001]
    evidence-app card confirm SERIAL --bar-mm 50.0 --thickness-mm 0.5
    evidence-app card list
    """


@card.command("print")
@click.argument("out", type=click.Path(path_type=Path))
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@click.option("--serial", default="NQ-0001", show_default=True, help="Serial printed on the card.")
def print_card(out: Path, paper: str, serial: str) -> None:
    """Write the card as a PDF at its true size into OUT."""
    from evidence_app.photo.card.print import card_pdf

    write_new(out, card_pdf(serial, paper))
    click.echo(
        f"{out}: card {serial} for {paper}. Print it at 100 percent and hold a steel rule "
        "against its 50 mm bar."
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
    """Record what a rule says of the printed batch SERIAL."""
    from evidence_app.photo.card.layout import card_layout
    from evidence_app.photo.uncertainty import rectangular

    layout = card_layout()
    nominal = layout.check_bar.length
    off = bar_mm / nominal - 1
    if not abs(off) <= 5 * layout.unconfirmed.pitch_relative_limit:
        raise EvidenceError(
            f"a bar of {bar_mm:g} mm is off by {100 * off:.1f} percent",
            where=serial,
            remedy="print the card again at 100 percent, not fitted to the page",
        )
    if not 0.01 <= thickness_mm <= 5 or not 0 < read_to_mm <= 1:
        raise EvidenceError(
            "the thickness must lie between 0.01 and 5 mm and the reading between 0 and 1 mm",
            where=serial,
            remedy="correct the value",
        )
    text = _read()
    text[serial] = {
        "scale": bar_mm / nominal,
        "scale-u": rectangular(read_to_mm / nominal),
        "thickness-mm": thickness_mm,
        "thickness-u-mm": 0.05,
    }
    path = _path()
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    part.write_text(tomlkit.dumps(text), "utf-8")
    os.replace(part, path)
    click.echo(f"card {serial}: {100 * off:+.2f} percent, {thickness_mm:g} mm thick, in {path}")


@card.command("list")
def list_cards() -> None:
    """List the confirmed cards."""
    known = _read()
    if not known:
        click.echo("no card is confirmed")
    for serial, each in sorted(known.items()):
        click.echo(f"{serial}: scale {each['scale']:.4f}, thickness {each['thickness-mm']:g} mm")


def confirmed_card(serial: str):
    """The card of a serial as measure_gap wants it. Raises EvidenceError when unknown."""
    from evidence_app.photo.gap.measure import Card

    known = _read()
    if serial not in known:
        raise EvidenceError(
            f"the card {serial} is not confirmed here",
            where=str(_path()),
            remedy=f"measure its bar and enter it: evidence-app card confirm {serial} "
            "--bar-mm 50.0 --thickness-mm 0.5; or leave --card out",
        )
    each = known[serial]
    return Card(
        serial, each["scale"], each["scale-u"], each["thickness-mm"], each["thickness-u-mm"]
    )


def _path() -> Path:
    return home() / "cards.toml"


def _read() -> dict:
    path = _path()
    try:
        found = tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise EvidenceError(
            f"the list of cards cannot be read ({error})",
            where=str(path),
            remedy="correct the file, or remove it and confirm the cards again",
        ) from error
    keys = {"scale", "scale-u", "thickness-mm", "thickness-u-mm"}
    for serial, each in found.items():
        if (
            not isinstance(each, dict)
            or set(each) != keys
            or not all(
                isinstance(v, int | float) and not isinstance(v, bool) for v in each.values()
            )
        ):
            raise EvidenceError(
                f"the entry of card {serial} is not complete",
                where=str(path),
                remedy="confirm that card again",
            )
    return found
