"""``evidence-app measure``: measure on a photo outside a job; judge a gauge by its readings."""

import json
from pathlib import Path
from typing import Any

import click

from evidence_app.commands.shared.entering import GroupWithDefault, bytes_of, write_new
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.errors import EvidenceError
from evidence_app.language import reworded, say
from evidence_app.steplist.kinds import MeasurementKind


@click.group(cls=GroupWithDefault, default="photo")
def measure() -> None:
    """Measure on a photo outside a job, or judge a gauge by its readings.

    \b
    evidence-app measure gap|mesh|residue PHOTO [REFERENCE] [--json] [--markup OUT.png]
    evidence-app measure study READINGS.csv [--tolerance MM] [--keep-interaction] [--json]
    """


@measure.command()
@click.argument("readings", type=PATH)
@click.option("--tolerance", type=float, help="Upper limit less lower limit, same unit.")
@click.option("--keep-interaction", is_flag=True, help="Never pool it with the repeatability.")
@click.option("--json", "as_json", is_flag=True, help="Print the whole result as JSON.")
def study(readings: Path, tolerance: float | None, keep_interaction: bool, as_json: bool) -> None:
    """Repeatability and reproducibility from READINGS, a CSV of repeated readings.

    Its heading is part,operator,trial,value. Every operator reads every part equally
    often, without seeing earlier readings. Analysis of variance; the interaction of
    operators and parts is pooled with the repeatability when its p is above 0.25.
    """
    import msgspec

    from evidence_app.photo.study import POOLED_ABOVE, read_readings
    from evidence_app.photo.study import study as study_of

    result = study_of(
        read_readings(bytes_of(readings), str(readings)),
        tolerance,
        1.0 if keep_interaction else POOLED_ABOVE,
    )
    if as_json:
        click.echo(msgspec.json.format(msgspec.json.encode(result)).decode())
        return
    tell_user(
        "{p} parts, {o} operators, {r} trials each", p=result.parts, o=result.operators, r=result.trials
    )
    tell_user("effect         sum of squares   df    mean square         F       p")
    for effect in result.effects:
        tested = "" if effect.f is None else f" {effect.f:9.3f} {effect.p:7.3f}"
        click.echo(
            f"{say(effect.name):14} {effect.squares:14.6g} {effect.degrees:4} {effect.mean:14.6g}{tested}"
        )
    if result.pooled:
        tell_user("the interaction is not significant and pooled with the repeatability")
    heading = say("source           std. deviation   % of total")
    click.echo(heading + say("   % of tolerance") * bool(tolerance))
    for share in result.shares:
        line = f"{say(share.name):16} {share.deviation:14.6g} {share.of_total:12.1f}"
        tail = "" if share.of_tolerance is None else f" {share.of_tolerance:16.1f}"
        click.echo(line + tail)


def _photo(path: Path) -> bytes:
    """The bytes of a photo that the app takes; otherwise the error names the file."""
    from evidence_app.photo.intake import read_header

    data = bytes_of(path)
    read_header(data, str(path))
    return data


@measure.command("photo")
@click.argument("kind", type=click.Choice([kind.value for kind in MeasurementKind]))
@click.argument("photo", type=PATH)
@click.argument("reference", type=PATH, required=False)
@click.option("--at-most", type=float, help="Upper limit, in mm (residue: mm2).")
@click.option("--at-least", type=float, help="Lower limit, in mm.")
@click.option("--card", "serial", help="Serial of the confirmed scale card in the photo.")
@click.option("--second", type=PATH, help="Residue: another photo of the same state, from another angle.")
@click.option(
    "--recess", type=float, help="Mesh: how far the strip's face lies below the opening's rim, in mm."
)
@click.option(
    "--recess-tolerance", type=float, help="Mesh: by how much the recess may differ, in mm (0.05)."
)
@click.option("--json", "as_json", is_flag=True, help="Print the whole result as JSON.")
@click.option("--markup", type=PATH, help="Write the drawing as a PNG.")
def measure_photo(
    kind: str,
    photo: Path,
    reference: Path | None,
    serial: str | None,
    second: Path | None,
    as_json: bool,
    markup: Path | None,
    **asked_for: Any,
) -> None:
    """Measure KIND on PHOTO, a JPEG with the scale card in view.

    REFERENCE is the clean photo that residue is compared with; residue also needs
    --second. A camera that leans by more than 5 degrees (up to 10) needs --recess
    for a mesh. Results are advice beside the photo. Exit status: 0 measured and not
    outside the limits, 1 outside or inconclusive, 2 not measured.
    """
    from evidence_app.job.running.scale_cards import confirmed_card
    from evidence_app.photo.measure import measure as measured
    from evidence_app.steplist.model import Measurement, PhotoWanted
    from evidence_app.steplist.quantities import recess_defects

    as_kind = MeasurementKind(kind)
    asked = Measurement(as_kind, as_kind.rules.unit, **asked_for)
    for defect in recess_defects((), asked):
        raise EvidenceError(defect.what, remedy=defect.remedy)
    card = confirmed_card(serial) if serial else None
    wanted = PhotoWanted("photo", photo.name, True, asked)
    result, drawing = measured(
        _photo(photo),
        wanted,
        _photo(reference) if reference else None,
        card,
        _photo(second) if second else None,
    )
    if markup is not None and drawing is not None:
        write_new(markup, drawing)
    if as_json:
        click.echo(json.dumps(result, indent=2, allow_nan=False))
    else:
        click.echo(reworded(result))
        for reason, wording in zip(result["reasons"], result.get("reasons_wording", ()), strict=False):
            click.echo(reworded({"sentence": reason, "wording": wording}))
        for term in result.get("budget", ()):
            click.echo(f"  u {term['u_mm']:.4f} mm  {term['term']}")
    limited = asked.at_most is not None or asked.at_least is not None
    raise SystemExit(
        {"refused": 2, "outside": 1, "inconclusive": int(limited)}.get(result["conformity"], 0)
    )
