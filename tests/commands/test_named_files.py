"""Every path that a command is given is opened in one way: bounded, and never waited for.

The table names every option and argument of every command that takes a path; a command that
gains one fails here until it stands in the table.
"""

from __future__ import annotations

import os
import shutil
import signal
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from evidence_app.cli import main
from evidence_app.practice.scenes.named import scene_of
from tests.commands.bench import Terminal, good_photo, step_list
from tests.making import make_package
from tests.photo.truths import jpeg_of

READ = ["''", "folder", "pipe", "/dev/zero", "missing", "loop", "/proc/self/mem", "sparse"]
"""An empty name, no ordinary file, none at all, one that cannot be opened (a link to itself) or
not be read (the kernel answers EIO), and one of more bytes than any reader takes."""
PACKAGE = [kind for kind in READ if kind != "sparse"]
WRITE = ["''", "folder", "pipe", "/dev/zero", "loop", "missing/new", "/sys/kernel/new"]
"""An empty name, four at which there is something already, and two folders that take no file."""
MAKE = ["''", "pipe", "/dev/zero", "loop", "/sys/kernel/new"]
"""For a folder that is made where it is missing."""

TIMES = "--valid-from 2026-01-01T00:00:00Z --valid-until 2027-01-01T00:00:00Z"
ENTER = f"--owner Lind --label tablet-1 {TIMES} --depot Northquay"
OPEN = "--serial H7-1 --claim K-1 --technician Lind"
SIGN = "--decide agree --supervisor Lind"
TABLE = [
    ("steps check", "files", "{}", READ),
    ("steps show", "file", "{}", READ),
    ("job open", "step_list", "{} " + OPEN, READ),
    ("job open", "folder", f"list.toml {OPEN} --folder {{}}", [*MAKE, "list.toml"]),
    ("job ticket", "ticket", "job {}", READ),
    ("seal", "out", "closed --key key.pem --out {}", [*MAKE, "list.toml"]),
    ("seal", "key", "closed --out out --key {}", READ),
    ("seal", "pin_file", "closed --out out --key key.pem --pin-file {}", READ),
    ("verify", "packages", "{}", PACKAGE),
    ("verify", "results", "package.zip --results {}", [*MAKE, "list.toml"]),
    ("disclose", "package", "{} new.zip", PACKAGE),
    ("disclose", "out", "package.zip {}", WRITE),
    ("verify", "keys", "package.zip --keys {}", READ),
    ("verify", "depot_key", "package.zip --keys keys.toml --depot-key {}", READ),
    ("verify", "time_authority", "package.zip --time-authority {}", READ),
    ("verify", "step_lists", "package.zip --step-lists {}", [*READ, "list.toml"]),
    ("keys decrypt", "encrypted", "{} --desk-key desk.txt", READ),
    ("keys decrypt", "desk_key", "package.zip.age --desk-key {}", READ),
    ("keys digest", "public_key", "{}", READ),
    ("keys enter", "key_list", f"{{}} key.public.pem {ENTER} --depot-key key.pem", WRITE),
    ("keys enter", "public_key", f"new.toml {{}} {ENTER} --depot-key key.pem", READ),
    ("keys enter", "depot_key", f"new.toml key.public.pem {ENTER} --depot-key {{}}", READ),
    (
        "keys enter",
        "pin_file",
        f"new.toml key.public.pem {ENTER} --depot-key key.pem --pin-file {{}}",
        READ,
    ),
    ("keys hand-over", "key", "key.public.pem --reason x --key {}", READ),
    ("keys hand-over", "new_key", "{} --reason x --key key.pem", READ),
    ("keys hand-over", "pin_file", "key.public.pem --reason x --key key.pem --pin-file {}", READ),
    ("keys hand-over", "new_pin_file", "--reason x --key key.pem --new-pin-file {}", READ),
    ("keys list", "key_list", "{}", READ),
    ("keys make", "path", "{}", [kind for kind in WRITE if kind != "missing/new"]),
    ("keys make", "pin_file", "new.pem --pin-file {}", READ),
    ("keys make-desk", "path", "{}", WRITE),
    ("keys revoke", "key_list", "{} 0 --at 2026-01-01T00:00:00Z --reason x --depot-key key.pem", READ),
    (
        "keys revoke",
        "depot_key",
        "keys.toml {digest} --at 2026-01-01T00:00:00Z --reason x --depot-key {}",
        READ,
    ),
    (
        "keys revoke",
        "pin_file",
        "keys.toml {digest} --at 2026-01-01T00:00:00Z --reason x --depot-key key.pem --pin-file {}",
        READ,
    ),
    ("keys sign", "key_list", "{} --depot-key key.pem", READ),
    ("keys sign", "depot_key", "keys.toml --depot-key {}", READ),
    ("keys sign", "pin_file", "keys.toml --depot-key key.pem --pin-file {}", READ),
    ("ticket check", "file", "{} --keys keys.toml", READ),
    ("ticket check", "key_list", "ticket.json --keys {}", READ),
    ("ticket make", "out", "{} --depot Northquay --depot-key key.pem", WRITE),
    ("ticket make", "depot_key", "new.json --depot Northquay --depot-key {}", READ),
    ("ticket make", "pin_file", "new.json --depot Northquay --depot-key key.pem --pin-file {}", READ),
    ("timestamp attach", "package", "{} list.toml", PACKAGE),
    ("timestamp attach", "token", "package.zip {}", READ),
    ("timestamp request", "package", "{} new.tsq", PACKAGE),
    ("timestamp request", "out", "package.zip {}", WRITE),
    ("desk accounts add", "password_file", "Lind --role clerk --password-file {}", READ),
    ("desk export", "csv_file", "--csv {}", WRITE),
    ("desk export", "json_file", "--json {}", WRITE),
    ("desk export", "parquet", "--parquet {}", WRITE),
    ("desk intake", "paths", "{}", [kind for kind in PACKAGE if kind != "folder"]),
    ("desk intake", "keys", "package.zip --keys {}", READ),
    ("desk intake", "depot_key", "package.zip --keys keys.toml --depot-key {}", READ),
    ("desk intake", "time_authority", "package.zip --time-authority {}", READ),
    ("desk photos pairs", "folder", "1 {}", [*MAKE, "list.toml"]),
    ("desk print", "package", "{} new.pdf", PACKAGE),
    ("desk print", "pdf", "package.zip {}", WRITE),
    ("desk print", "keys", "package.zip new.pdf --keys {}", READ),
    ("desk print", "depot_key", "package.zip new.pdf --keys keys.toml --depot-key {}", READ),
    ("desk stops", "csv_file", "--csv {}", WRITE),
    ("desk stops", "picture", "--picture {}", WRITE),
    ("desk work", "csv_file", "--csv {}", WRITE),
    ("desk work", "picture", "--picture {}", WRITE),
    ("desk work", "bars", "--bars {}", WRITE),
    ("desk work", "parquet", "--parquet {}", WRITE),
    ("desk", "path", "--register {} list", [*READ, "list.toml", "empty"]),
    ("desk", "certificate", "--listen 127.0.0.1:0 --key key.pem --certificate {}", READ),
    ("desk", "key", "--listen 127.0.0.1:0 --certificate list.toml --key {}", READ),
    ("review", "package", "{}", PACKAGE),
    ("review", "key", f"package.zip {SIGN} --key {{}}", READ),
    ("review", "pin_file", f"package.zip {SIGN} --key key.pem --pin-file {{}}", READ),
    ("review", "keys", "package.zip --keys {}", READ),
    ("review", "depot_key", "package.zip --keys keys.toml --depot-key {}", READ),
    (
        "review",
        "register_path",
        f"package.zip {SIGN} --key key.pem --register {{}}",
        [*READ, "list.toml", "empty"],
    ),
    ("tablet", "screenshots", "--screenshots {}", ["''", "list.toml"]),
    ("card print", "out", "{}", WRITE),
    ("measure photo", "photo", "gap {}", READ),
    ("measure photo", "reference", "mesh good.jpg {}", READ),
    ("measure photo", "second", "residue good.jpg good.jpg --second {}", READ),
    ("measure photo", "markup", "gap seam.jpg --markup {}", WRITE),
    ("measure study", "readings", "{}", READ),
    ("devices camera", "out", "file:good.jpg {}", WRITE),
    ("voice transcript", "note", "{}", READ),
    ("kit make", "out", "{} --depot-key key.pem --wheel list.toml", [*MAKE, "list.toml"]),
    ("kit make", "depot_key", "kit --depot-key {}", READ),
    ("kit make", "pin_file", "kit --depot-key key.pem --pin-file {}", READ),
    ("kit make", "step_lists", "kit --depot-key key.pem --step-list {}", READ),
    ("kit make", "key_list", "kit --depot-key key.pem --key-list {}", READ),
    ("kit make", "wheel", "kit --depot-key key.pem --wheel {}", READ[:-2]),
    ("demo", "folder", "{}", [*MAKE, "list.toml"]),
]
CASES = [(command, name, line, path) for command, name, line, paths in TABLE for path in paths]


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """A folder with one good file of each kind and one bad path of each kind."""
    place = tmp_path_factory.mktemp("bench")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EVIDENCE_APP_HOME", str(place / "home"))
        patch.setenv("EVIDENCE_APP_PIN", "604192")
        patch.chdir(place)
        terminal = Terminal(CliRunner(), main)
        made = make_package(place / "made")
        shutil.copy(made.path, "package.zip")
        (place / "list.toml").write_text(step_list(), "utf-8")
        (place / "good.jpg").write_bytes(good_photo())
        (place / "seam.jpg").write_bytes(jpeg_of(scene_of("seam?gap_mm=0.12&seed=38")))
        (place / "password").write_text("a-long-one-for-lind", "utf-8")
        terminal.does("keys make key.pem")
        terminal.does(f"keys enter keys.toml key.public.pem {ENTER} --depot-key key.pem")
        terminal.digest = terminal.does("keys digest key.public.pem").strip()
        terminal.does("keys make-desk desk.txt")
        terminal.does("ticket make ticket.json --depot Northquay --depot-key key.pem")
        terminal.does("desk intake --without-measuring package.zip")
        terminal.does("desk accounts add Lind --role clerk --password-file password")
        terminal.does(f"job open list.toml {OPEN} --folder job")
        terminal.does(f"job open list.toml {OPEN} --folder closed")
        terminal.does("job abandon closed 'unit withdrawn'")
        os.mkfifo("pipe")
        (place / "folder").mkdir()
        os.symlink("loop", "loop")
        (place / "empty").touch()
        with open("sparse", "wb") as file:
            file.truncate(2**40)
        yield terminal


@pytest.fixture(autouse=True)
def no_endless_wait():
    """A pipe that is waited for ends the test instead of the run; no answer takes so long."""
    signal.signal(signal.SIGALRM, lambda *_: pytest.fail("it waits without an end"))
    signal.alarm(120)
    yield
    signal.alarm(0)


@pytest.mark.parametrize(("command", "name", "line", "path"), CASES)
def test_a_path_that_leads_astray_is_refused_by_its_name(bench, command, name, line, path):
    said = bench.refuses(f"{command} {line.format(path, digest=bench.digest)}")
    assert (Path(path).name if path != "''" else "no file was named") in said
    assert ".part" not in said


def test_the_table_names_every_path_of_every_command():
    assert {(command, name) for command, name, *_ in TABLE} == set(_paths(main, []))


def _paths(command, names):
    for parameter in command.params:
        if isinstance(parameter.type, click.Path):
            yield " ".join(names), parameter.name
    if isinstance(command, click.Group):
        for name in command.list_commands(click.Context(command)):
            yield from _paths(command.get_command(click.Context(command), name), [*names, name])


def test_a_register_without_a_byte_is_left_as_it_is(bench):
    bench.refuses("desk --register empty list")
    assert os.path.getsize("empty") == 0


def test_a_job_without_a_name_is_none(bench):
    assert "no such job" in bench.refuses("job show ''")


def test_a_time_authority_that_is_none_is_told_though_nothing_needs_it(bench):
    assert "list.toml" in bench.refuses("verify package.zip --time-authority list.toml")


def test_a_name_of_ten_thousand_dots_is_refused_and_not_read(terminal, tmp_path):
    """A TOML reader's time for it grows with the square of its parts."""
    (tmp_path / "list.toml").write_text("[" + ".".join("a" * 10_000) + "]\n")
    assert "more than 100 dots" in terminal.refuses("steps check list.toml")
