"""The step lists of the demo scenario are lists a trade could work by."""

from __future__ import annotations

import hashlib

import pytest

from evidence_app.locations import sample
from evidence_app.steplist.kinds import MeasurementKind
from evidence_app.steplist.load import load
from evidence_app.steplist.model import Finding, Signal
from evidence_app.steplist.variants import steps_for, variant_ids

LEAST_STEPS = {
    "ossmere-h7-window-rebond": 20,
    "ossmere-h7-window-rebond-cellular": 22,
    "ossmere-h7-bail-stand-exchange": 8,
}
# SHA-256 of each list by the version it was issued under. A desk knows an issued list by both:
# who changes a list gives it the next version and enters it here, the older line stays.
ISSUED = {
    ("ossmere-h7-window-rebond", "1.1"): "447a51433c7b3bb7042fcec26419ff8f0a98453b15db8204c6d4c5b236126c41",
    (
        "ossmere-h7-window-rebond-cellular",
        "1.1",
    ): "018d1226d82857bf6a00692c65dc87a79916f09798eadb397f936f6d398aa96d",
    (
        "ossmere-h7-bail-stand-exchange",
        "1.1",
    ): "5e1083c65ab9f464eed84e61c704471bffc48f60928e623ab0eecb35398add79",
    ("ossmere-h7-window-rebond", "1.2"): "6df7cf80b9bbb5b00b831493f110d0c74145b3a1fc4945d3de248b80cd167c18",
    (
        "ossmere-h7-window-rebond-cellular",
        "1.2",
    ): "95536a3b00d2fe3701e4b30d0bf9d97d96558735af26f5ba1ad15df32dbc4498",
    ("ossmere-h7-window-rebond", "1.3"): "9606b8a6b20064fa7ea5b1dc5eff384a1dc390b2775006419d8a3f312689303d",
    (
        "ossmere-h7-window-rebond-cellular",
        "1.3",
    ): "b2bbf0903013220752bd1233e7d57ea8973b308c2f77f600d60ecc319cd6f30c",
    (
        "ossmere-h7-bail-stand-exchange",
        "1.2",
    ): "9a163af5a0c9b97bf488230471ceca830543e9666779433802b0fbe0d6c147dd",
    ("ossmere-h7-window-rebond", "1.4"): "03b5388261e6b7737cb3d87e773128ebeab3ea922cf1bc3ae876bab463b6d8d3",
    (
        "ossmere-h7-window-rebond-cellular",
        "1.4",
    ): "aade375252f3872d4c33ccd276838b9d330a90ee14e09edbad5287b8a17a59c6",
    (
        "ossmere-h7-bail-stand-exchange",
        "1.3",
    ): "a9bb7ed9e4651e6c74e566dd6e89fb50fcbfb143b7f586a8eed5a1cfa99343c9",
}
WINDOW_LISTS = ("ossmere-h7-window-rebond", "ossmere-h7-window-rebond-cellular")


@pytest.fixture(params=LEAST_STEPS)
def step_list(request):
    return load(sample(f"{request.param}.toml"))


@pytest.fixture(params=WINDOW_LISTS)
def window_list(request):
    return load(sample(f"{request.param}.toml"))


def step(step_list, ident):
    (found,) = (each for each in step_list.steps if each.id == ident)
    return found


def test_id_is_the_file_name(step_list):
    assert step_list.id in LEAST_STEPS
    assert load(sample(f"{step_list.id}.toml")) == step_list


def test_a_changed_list_has_a_new_version(step_list):
    data = sample(f"{step_list.id}.toml").read_bytes()
    assert ISSUED.get((step_list.id, step_list.version)) == hashlib.sha256(data).hexdigest()


def test_each_variant_has_its_number_of_steps(step_list):
    for variant in variant_ids(step_list) or (None,):
        assert len(steps_for(step_list, variant)) >= LEAST_STEPS[step_list.id]


def test_list_defers_to_codes_and_licensed_practice(step_list):
    for words in ("Local", "codes", "safety instructions", "licensed practice"):
        assert words in step_list.defers_to


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ("feeler-gauge", "leaves of the feeler gauge are sharp"),
        ("feeler-gauge", "splinters"),
        ("measure-gap", "splinters"),
        ("lift-window", "burn the skin"),
        ("clean-bed", "eye protection"),
    ],
)
def test_window_list_warns_where_the_hands_are(window_list, at, words):
    here = step(window_list, at).cautions
    told = " ".join(f"{c.hazard} {c.avoid}" for c in window_list.cautions if c.id in here)
    assert words in told


def test_list_warns_of_the_cell_before_it_is_touched(step_list):
    isolating = step(step_list, "isolate-cell")
    signals = {caution.id: caution.signal for caution in step_list.cautions}
    assert Signal.DANGER in {signals[name] for name in isolating.cautions}


def test_residue_in_a_slot_exchanges_the_whole_unit(step_list):
    inspection = step(step_list, "inspect-slots").checkpoint
    (rule,) = (r for r in step_list.stop_rules if r.id == inspection.finding.not_clear.stop)
    assert "Exchange the whole unit" in rule.disposition
    assert any("No retrieval through the slot" in text for text in rule.prohibitions)
    assert rule.spoken_reason and rule.photos and rule.names == ("supervisor",)


def test_each_finding_of_the_inspection_is_measured_against_the_slot_before(window_list):
    photos = step(window_list, "inspect-slots").checkpoint.photos
    measured = [photo.measurement for photo in photos if photo.measurement]
    assert [each.kind for each in measured] == [MeasurementKind.RESIDUE] * 2
    before = step(window_list, "photograph-slots").checkpoint.photos
    assert [each.reference for each in measured] == [p.id for p in before]
    assert [each.second for each in measured] == [p.id for p in photos if not p.measurement]


def test_each_mesh_strip_is_pressed_at_least_10_s(window_list):
    for side in ("left", "right"):
        assert step(window_list, f"press-mesh-{side}").hold.at_least_s >= 10


def test_window_is_pressed_at_least_60_s(window_list):
    hold = step(window_list, "press-window").hold
    assert hold.at_least_s >= 60 and "evenly" in hold.applied


def test_seam_that_cannot_be_told_is_settled_by_the_feeler_gauge(window_list):
    order = [each.id for each in window_list.steps]
    photo_step = step(window_list, "measure-gap")
    assert photo_step.checkpoint.finding.rule_for(Finding.CANNOT_TELL).go_on
    assert order[order.index("measure-gap") + 1] == "feeler-gauge"
    gauge = step(window_list, "feeler-gauge")
    limits = photo_step.checkpoint.photos[0].measurement
    assert (gauge.readings[0].at_most, gauge.readings[0].unit) == (limits.at_most, limits.unit)
    assert not gauge.checkpoint.finding.rule_for(Finding.NOT_CLEAR).go_on


def test_window_bonded_again_gets_a_new_adhesive_frame(window_list):
    order = [each.id for each in window_list.steps]
    back = step(window_list, "feeler-gauge").checkpoint.finding.not_clear.redo_from
    assert order.index(back) < order.index("lay-adhesive-frame")


def test_spacers_are_checked_in_each_cellular_variant():
    cellular = load(sample("ossmere-h7-window-rebond-cellular.toml"))
    counts = {}
    for variant in variant_ids(cellular):
        (spacers,) = (each for each in steps_for(cellular, variant) if each.id.startswith("fit-spacers"))
        assert spacers.checkpoint.finding.not_clear.then_stop == "spacers-missing"
        counts[variant] = spacers.counts[0].listed
    assert counts == {"single-antenna": 2, "twin-antenna": 5}
