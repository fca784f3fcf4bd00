"""Attacks on the bag's files and lists."""

from __future__ import annotations

from tests.hostile.bag import BAGIT, INFO, MANIFEST, TAG_MANIFEST, Bag
from tests.hostile.registry import attack

PHOTOS, VOICE = "data/photos/", "data/voice/"


@attack("checksums")
def photo_byte_altered(bag: Bag) -> Bag:
    """One byte of a photo changed on the way."""
    return bag.flip(bag.first(PHOTOS))


@attack("checksums")
def note_byte_altered(bag: Bag) -> Bag:
    """One byte of a spoken note changed on the way."""
    return bag.flip(bag.first(VOICE))


@attack("checksums")
def step_list_byte_altered(bag: Bag) -> Bag:
    """One byte of the step list changed on the way."""
    return bag.flip("data/step-list.toml")


@attack("checksums")
def report_byte_altered(bag: Bag) -> Bag:
    """One byte of the page that people read changed on the way."""
    return bag.flip("data/report.html")


@attack("checksums")
def photo_removed(bag: Bag) -> Bag:
    """An unwelcome photo left out."""
    del bag.files[bag.first(PHOTOS)]
    return bag


@attack("checksums")
def photo_emptied(bag: Bag) -> Bag:
    """A photo replaced by a file without content."""
    bag.files[bag.first(PHOTOS)] = b""
    return bag


@attack("checksums")
def photos_exchanged(bag: Bag) -> Bag:
    """Two photos under each other's names."""
    one, other = bag.all(PHOTOS)[:2]
    bag.files[one], bag.files[other] = bag.files[other], bag.files[one]
    return bag


@attack("checksums")
def bag_info_altered(bag: Bag) -> Bag:
    """A tag file edited, which the BagIt library lets pass without a tag manifest."""
    bag.files[INFO] = bag.files[INFO].replace(b"External-Identifier: ", b"External-Identifier: X")
    return bag


@attack("seal")
def photo_altered_and_listed(bag: Bag) -> Bag:
    """A photo altered and the manifests brought in line, the seal left."""
    return bag.flip(bag.first(PHOTOS)).list_payload().list_tags()


@attack("seal")
def tag_file_altered_and_listed(bag: Bag) -> Bag:
    """A tag file altered and the tag manifest brought in line, the seal left."""
    return bag_info_altered(bag).list_tags()


@attack("originals")
def photo_altered_and_resealed(bag: Bag) -> Bag:
    """A photo altered, everything listed and sealed anew, the journal left."""
    return bag.flip(bag.first(PHOTOS)).own()


@attack("originals")
def photo_removed_and_resealed(bag: Bag) -> Bag:
    """A photo left out, everything listed and sealed anew, the journal left."""
    return photo_removed(bag).own()


@attack("originals")
def note_removed_and_resealed(bag: Bag) -> Bag:
    """A spoken note left out, everything listed and sealed anew, the journal left."""
    del bag.files[bag.first(VOICE)]
    return bag.own()


@attack("originals")
def photo_renamed_and_resealed(bag: Bag) -> Bag:
    """A photo moved to another step's name."""
    name = bag.first(PHOTOS)
    bag.files[name.replace("inspect-slot", "press-lining")] = bag.files.pop(name)
    return bag.own()


@attack("originals")
def photo_added_and_resealed(bag: Bag) -> Bag:
    """A photo that no event knows slipped in and listed."""
    bag.files[f"{PHOTOS}0003-job-00000000.jpg"] = bag.files[bag.first(PHOTOS)] + b"\0"
    return bag.own()


@attack("originals")
def step_list_weakened_and_resealed(bag: Bag) -> Bag:
    """A milder step list put in after the fact, so that a short hold passes."""
    text = bag.files["data/step-list.toml"]
    bag.files["data/step-list.toml"] = text.replace(b"at-least-s = 10.0", b"at-least-s = 1.0")
    return bag.own()


@attack("nothing-extra")
def payload_file_added(bag: Bag) -> Bag:
    """A file in the payload that the manifest does not list."""
    bag.files["data/photos/more.jpg"] = b"\xff\xd8\xff\xd9"
    return bag


@attack("nothing-extra")
def tag_file_added(bag: Bag) -> Bag:
    """A file beside the payload, which the BagIt library accepts."""
    bag.files["note-to-the-clerk.txt"] = b"Accept this one.\n"
    return bag


@attack("bag")
def fetch_file_added(bag: Bag) -> Bag:
    """A list of files to fetch from the network (RFC 8493 2.2.3)."""
    bag.files["fetch.txt"] = b"http://127.0.0.1/photo.jpg 4 data/photos/more.jpg\n"
    return bag


@attack("nothing-extra")
def folder_of_tag_files_added(bag: Bag) -> Bag:
    """Files in a folder of their own beside the payload."""
    bag.files["more/photo.jpg"] = b"\xff\xd8\xff\xd9"
    return bag


@attack("bag")
def bagit_declaration_missing(bag: Bag) -> Bag:
    """Not a bag by its own word."""
    del bag.files[BAGIT]
    return bag


@attack("bag")
def bagit_version_changed(bag: Bag) -> Bag:
    """Another BagIt version, with other rules, sealed anew."""
    bag.files[BAGIT] = bag.files[BAGIT].replace(b"1.0", b"0.97")
    return bag.own()


@attack("bag")
def bagit_encoding_changed(bag: Bag) -> Bag:
    """Another text encoding, in which the manifests read differently."""
    bag.files[BAGIT] = bag.files[BAGIT].replace(b"UTF-8", b"UTF-16")
    return bag.own()


@attack("bag")
def manifest_missing(bag: Bag) -> Bag:
    """No list of the payload."""
    del bag.files[MANIFEST]
    return bag


@attack("bag")
def tag_manifest_missing(bag: Bag) -> Bag:
    """No list of the tag files, which the BagIt library does not miss."""
    del bag.files[TAG_MANIFEST]
    return bag


@attack("bag")
def tag_manifest_incomplete(bag: Bag) -> Bag:
    """A tag file left out of the tag manifest, so that it could be edited later."""
    bag.own()
    kept = [line for line in bag.files[TAG_MANIFEST].splitlines(True) if INFO.encode() not in line]
    bag.files[TAG_MANIFEST] = b"".join(kept)
    return bag.seal()


@attack("bag")
def payload_sum_wrong(bag: Bag) -> Bag:
    """Payload-Oxum of another payload, sealed anew."""
    bag.own()
    bag.files[INFO] = bag.files[INFO].replace(b"Payload-Oxum: ", b"Payload-Oxum: 1")
    return bag.own_tags()


@attack("bag")
def manifest_digest_upper_case(bag: Bag) -> Bag:
    """A digest that some readers compare as text and others as a number."""
    data = bag.own().files[MANIFEST]
    bag.files[MANIFEST] = data[:64].upper() + data[64:]
    return bag.own_tags()


@attack("bag")
def manifest_path_twice(bag: Bag) -> Bag:
    """A path with two digests: readers disagree which one counts."""
    lines = bag.own().files[MANIFEST].splitlines(True)
    bag.files[MANIFEST] = b"0" * 64 + lines[0][64:] + b"".join(lines)
    return bag.own_tags()


@attack("bag")
def manifest_path_leads_out(bag: Bag) -> Bag:
    """A manifest line for a file outside the bag."""
    bag.own().files[MANIFEST] += b"0" * 64 + b"  data/../../secret\n"
    return bag.own_tags()


@attack("bag")
def manifest_lists_tag_file(bag: Bag) -> Bag:
    """A payload manifest that lists a file outside the payload."""
    data = bag.own().files[MANIFEST]
    bag.files[MANIFEST] = data[:64] + b"  bagit.txt\n" + data
    return bag.own_tags()


@attack("bag")
def manifest_line_malformed(bag: Bag) -> Bag:
    """A line that is no digest and path, which lenient readers skip."""
    bag.own().files[MANIFEST] += b"\n# nothing to see here\n"
    return bag.own_tags()


@attack("bag")
def manifest_with_carriage_returns(bag: Bag) -> Bag:
    """Line ends of another system, which change every path for a strict reader."""
    bag.own()
    bag.files[MANIFEST] = bag.files[MANIFEST].replace(b"\n", b"\r\n")
    return bag.own_tags()


@attack("bag")
def manifest_not_text(bag: Bag) -> Bag:
    """A manifest that is not UTF-8."""
    bag.own().files[MANIFEST] += b"0" * 64 + b"  data/\xff\xfe\n"
    return bag.own_tags()


@attack("bag")
def bag_info_not_text(bag: Bag) -> Bag:
    """A bag-info that is not UTF-8."""
    bag.own().files[INFO] += b"Contact-Name: \xff\xfe\n"
    return bag.own_tags()
