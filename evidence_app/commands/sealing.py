"""``evidence-app seal``: seal a closed job into a package."""

from pathlib import Path

import click

from evidence_app.commands.job import folder_of
from evidence_app.commands.shared.entering import opened_key, progress_bar
from evidence_app.commands.shared.paths import PATH
from evidence_app.commands.shared.saying import tell_user
from evidence_app.job.running.opening import standing
from evidence_app.language import say
from evidence_app.locations import device_key_path
from evidence_app.package.keys.transport import check_recipient, encrypt_package
from evidence_app.package.seal import seal_job
from evidence_app.record.clock import SystemClock
from evidence_app.record.record import Record


@click.command()
@click.argument("job")
@click.option("--out", type=PATH, default=Path("."), show_default=True, help="Folder for the package.")
@click.option("--key", type=PATH, help="The tablet's key; by default the one on this machine.")
@click.option("--pin-file", type=PATH, help="File with the PIN; otherwise EVIDENCE_APP_PIN or asked for.")
@click.option(
    "--to-desk", metavar="RECIPIENT", help="Also write a copy encrypted to the desk's public key (age1…)."
)
def seal(job: str, out: Path, key: Path | None, pin_file: Path | None, to_desk: str | None) -> None:
    """Seal the closed JOB into a package.

    The package has no time of sealing in it: the same job sealed again gives
    the same file.
    """
    if to_desk:
        check_recipient(to_desk)
    folder = folder_of(job)
    signing_key = opened_key(key or device_key_path(), pin_file)
    with Record.open(folder, SystemClock()) as record:
        step_list, _ = standing(record)
        with progress_bar(say("sealing")) as progress:
            sealed = seal_job(record, step_list, signing_key, out, progress)
    again = say("sealed (it was there already): {path}", path=sealed.path)
    click.echo(again if sealed.already_there else say("sealed: {path}", path=sealed.path))
    tell_user("{files} files, {bytes:,} bytes", files=sealed.files, bytes=sealed.bytes)
    tell_user("fingerprint: {fingerprint}", fingerprint=sealed.fingerprint)
    if to_desk:
        tell_user("encrypted to the desk: {path}", path=encrypt_package(sealed.path, to_desk))
