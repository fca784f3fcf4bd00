"""Photos: kept byte for byte, judged, taken again without loss, kept with a reason."""

import pytest

from evidence_app.errors import EvidenceError, PhotoError, Refused
from evidence_app.job import commands as c
from evidence_app.sentence import sentence
from tests.job.bench import MEASURED, SOURCE, STEP_LIST, Bench

RESULT = MEASURED
PNG = b"\x89PNG\r\n\x1a\n drawing"


@pytest.fixture
def cleaning(bench):
    bench.work_to("clean")
    return bench


@pytest.fixture
def inspecting(bench):
    bench.work_to("inspect")
    return bench


def seam(bench, view="seam"):
    """A photo of the measured view, or another, that counts."""
    sha = bench.photo(view)
    if not bench.job.state.photo(sha).settled:
        bench.do(c.KeepPhoto(sha, "the seam is in view"))
    return sha


def test_photo_is_kept_byte_for_byte(cleaning, photos):
    data = photos.sharp()
    taken, _ = cleaning.do(c.TakePhoto(data, "slot", "checkpoint", SOURCE))
    assert cleaning.job.record.path_of(taken.body["photo"]["sha256"]).read_bytes() == data


def test_photo_is_judged_after_it_is_taken(cleaning, photos):
    taken, judged = cleaning.do(c.TakePhoto(photos.sharp(), "slot", "checkpoint", SOURCE))
    assert (taken.kind, judged.kind) == ("photo-taken", "photo-judged")
    assert judged.body["passes"] is True


def test_failing_photo_leaves_the_view_owed_and_names_the_photo(cleaning):
    sha = cleaning.photo("slot", blurred=True)
    assert [(o.id, o.photo) for o in cleaning.job.owed if o.kind == "photo"] == [("slot", sha)]


def test_failing_photo_counts_when_kept_with_a_reason(cleaning):
    sha = cleaning.photo("slot", blurred=True)
    (kept,) = cleaning.do(c.KeepPhoto(sha, " Steam on the lens "))
    assert kept.body == {"photo": sha, "reason": "Steam on the lens"}
    assert [owed.kind for owed in cleaning.job.owed] == ["finding"]


@pytest.mark.parametrize("reason", ["", "  ", "-", "ok"])
def test_keeping_without_a_reason_is_refused(cleaning, reason):
    sha = cleaning.photo("slot", blurred=True)
    with pytest.raises(Refused, match="reason"):
        cleaning.do(c.KeepPhoto(sha, reason))


def test_keeping_a_photo_that_passed_is_refused(cleaning):
    sha = cleaning.photo("slot")
    with pytest.raises(Refused, match="counts already"):
        cleaning.do(c.KeepPhoto(sha, "to be sure"))


def test_retake_names_the_earlier_photo_and_keeps_it(cleaning):
    first = cleaning.photo("slot", blurred=True)
    cleaning.photo("slot")
    assert cleaning.last("photo-taken").body["retake_of"] == first
    assert cleaning.job.record.path_of(first).exists()


def test_newest_photo_of_a_view_counts(cleaning):
    cleaning.photo("slot")
    cleaning.photo("slot", blurred=True)
    assert [owed.kind for owed in cleaning.job.owed] == ["photo", "finding"]


def test_earlier_photo_cannot_be_kept_after_a_retake(cleaning):
    first = cleaning.photo("slot", blurred=True)
    cleaning.photo("slot", blurred=True)
    with pytest.raises(Refused, match="newest"):
        cleaning.do(c.KeepPhoto(first, "it shows more"))


def test_same_bytes_cannot_be_shown_twice(cleaning, photos):
    data = photos.sharp()
    cleaning.do(c.TakePhoto(data, "slot", "checkpoint", SOURCE))
    before = cleaning.kinds()
    with pytest.raises(Refused, match="in the job already"):
        cleaning.do(c.TakePhoto(data, "slot", "checkpoint", SOURCE))
    assert cleaning.kinds() == before


@pytest.mark.parametrize("data", [b"", b"not a photo", b"\x89PNG\r\n\x1a\n" + bytes(99)])
def test_bytes_that_are_no_photo_leave_nothing_behind(cleaning, data):
    before = cleaning.kinds()
    with pytest.raises(PhotoError):
        cleaning.do(c.TakePhoto(data, "slot", "checkpoint", SOURCE))
    assert cleaning.kinds() == before
    assert not list(cleaning.folder.rglob("*.jpg"))


def test_photo_cut_off_is_refused(cleaning, photos):
    data = photos.sharp()
    with pytest.raises(PhotoError):
        cleaning.do(c.TakePhoto(data[: len(data) // 2], "slot", "checkpoint", SOURCE))


def test_refused_photo_is_not_stored(cleaning, photos):
    with pytest.raises(Refused, match="no photo"):
        cleaning.do(c.TakePhoto(photos.sharp(), "strip", "checkpoint", SOURCE))
    assert not list(cleaning.folder.rglob("*.jpg"))


@pytest.mark.parametrize("source", [{}, {"kind": "cloud", "name": "x"}, {"kind": "camera"}])
def test_photo_without_a_source_is_refused(cleaning, photos, source):
    with pytest.raises(Refused, match="where it comes from"):
        cleaning.do(c.TakePhoto(photos.sharp(), "slot", "checkpoint", source))


def test_source_that_cannot_be_written_down_is_refused(cleaning, photos):
    source = {**SOURCE, "gain": float("nan")}
    with pytest.raises(EvidenceError, match="gain"):
        cleaning.do(c.TakePhoto(photos.sharp(), "slot", "checkpoint", source))


def test_photo_can_be_added_as_a_note(bench):
    sha = bench.photo(None, "note")
    assert bench.job.state.photo(sha).step is None


def test_note_photo_does_not_count_for_a_wanted_view(cleaning):
    cleaning.photo(None, "note")
    assert "photo" in [owed.kind for owed in cleaning.job.owed]


def test_measurement_is_recorded_with_its_drawing(inspecting):
    sha = seam(inspecting)
    (event,) = inspecting.do(c.RecordMeasurement(sha, "seam", RESULT, PNG))
    assert event.body["result"] == RESULT
    assert inspecting.job.record.path_of(event.body["markup"]["sha256"]).read_bytes() == PNG


CARD = {
    "serial": "NQ-7", "confirmed": True, "scale": 1.002, "scale_u": 0.001, "thickness_mm": 0.5,
    "thickness_u_mm": 0.05,
}  # fmt: skip


def test_confirmed_scale_card_is_named_once_before_its_measurements(inspecting):
    sha = seam(inspecting)
    first = inspecting.do(c.RecordMeasurement(sha, "seam", RESULT | {"card": CARD}))
    again = inspecting.do(c.RecordMeasurement(sha, "seam", RESULT | {"card": CARD}))
    assert [event.kind for event in first + again] == ["scale-card-named", "measured", "measured"]
    assert first[0].body == {key: value for key, value in CARD.items() if key != "confirmed"}
    assert inspecting.breaches() == []


def test_incomplete_scale_card_is_refused(inspecting):
    sha = seam(inspecting)
    with pytest.raises(Refused, match="scale card is not complete"):
        inspecting.do(
            c.RecordMeasurement(sha, "seam", RESULT | {"card": {"serial": "NQ-7", "confirmed": 1}})
        )


def test_missing_measurement_is_not_owed(inspecting):
    inspecting.photo("strip")
    seam(inspecting)
    assert [owed.kind for owed in inspecting.job.owed] == ["finding"]


def test_inconclusive_measurement_is_said_and_not_owed(inspecting):
    sha = seam(inspecting)
    inspecting.do(c.RecordMeasurement(sha, "seam", {**RESULT, "conformity": "inconclusive"}))
    (advice,) = inspecting.job.advice
    assert (advice.wanted, advice.photo) == ("seam", sha)
    assert advice.result["conformity"] == "inconclusive"


def test_measurement_where_none_is_asked_is_refused(inspecting):
    sha = inspecting.photo("strip")
    with pytest.raises(Refused, match="no measurement"):
        inspecting.do(c.RecordMeasurement(sha, "strip", RESULT))


def test_measurement_on_a_failing_photo_is_refused(inspecting):
    sha = inspecting.photo("seam", blurred=True)
    with pytest.raises(Refused, match="not passed"):
        inspecting.do(c.RecordMeasurement(sha, "seam", RESULT))


@pytest.mark.parametrize(
    "change", [{"kind": "mesh"}, {"conformity": "fine"}, {"value": "0.12"}, {"U": True}, {"unit": None}]
)
def test_result_of_another_form_is_refused(inspecting, change):
    sha = seam(inspecting)
    with pytest.raises(Refused, match="result"):
        inspecting.do(c.RecordMeasurement(sha, "seam", RESULT | change))


def test_measurer_is_run_on_a_photo_that_counts(folder, clock, photos):
    seen = []

    def measure(data, wanted, reference, second):
        seen.append((wanted.id, reference))
        return RESULT, PNG

    bench = Bench(folder, clock, photos, measure=measure)
    with bench.open():
        bench.work_to("inspect")
        sha = seam(bench)
        assert seen == [("seam", None)]
        assert bench.job.state.photo(sha).measured.result == RESULT


def test_measurer_is_given_the_reference_photo(folder, clock, photos):
    given = []

    def measure(data, wanted, reference, second):
        given.append(reference)
        return RESULT | {"kind": "residue", "unit": "mm2"}, None

    asks = b'measurement = { kind = "gap", unit = "mm", at-most = 0.2 }'
    residue = STEP_LIST.replace(asks, b'measurement = { kind = "residue", reference = "slot" }')
    bench = Bench(folder, clock, photos, measure=measure)
    with bench.open(step_list=residue):
        bench.work_to("inspect")
        reference = bench.job.state.photo_of("clean", "slot").sha256
        seam(bench)
        assert given == [bench.job.record.path_of(reference).read_bytes()]


def test_measurer_is_given_the_photo_from_another_angle(folder, clock, photos):
    given = []

    def measure(data, wanted, reference, second):
        given.append(second)
        return RESULT | {"kind": "residue", "unit": "mm2"}, None

    asks = (b'id = "seam"', b'measurement = { kind = "gap", unit = "mm", at-most = 0.2 }')
    aslant = (
        b'id = "aslant"\nframing = "From the side"\n\n[[steps.checkpoint.photos]]\nid = "seam"',
        b'measurement = { kind = "residue", reference = "slot", second = "aslant" }',
    )
    residue = STEP_LIST
    for old, new in zip(asks, aslant, strict=True):
        residue = residue.replace(old, new)
    bench = Bench(folder, clock, photos, measure=measure)
    with bench.open(step_list=residue):
        bench.work_to("inspect")
        sha = seam(bench, "aslant")
        seam(bench)
        assert given == [bench.job.record.path_of(sha).read_bytes()]


def test_measurer_that_cannot_measure_is_recorded_as_refusing(folder, clock, photos):
    def measure(data, wanted, reference, second):
        raise EvidenceError(
            sentence("the scale card is not in view"), remedy=sentence("lay it beside the seam")
        )

    bench = Bench(folder, clock, photos, measure=measure)
    with bench.open():
        bench.work_to("inspect")
        seam(bench)
        result = bench.last("measured").body["result"]
        assert result["conformity"] == "refused"
        assert "scale card" in result["sentence"]


def test_measurement_is_dropped_when_the_repair_is_stopped_meanwhile(folder, clock, photos):
    def measure(data, wanted, reference, second):
        bench.job.do(c.StopRepair("The panel cracked"))
        return RESULT, None

    bench = Bench(folder, clock, photos, measure=measure)
    with bench.open():
        bench.work_to("inspect")
        seam(bench)
        assert bench.kinds()[-1] == "repair-stopped"
        assert bench.breaches() == []


def test_picture_that_cannot_be_decoded_does_not_count(cleaning, photos):
    """The header is sound and the end marker is there; a table for decoding is not."""
    data = photos.sharp()
    table = data.index(b"\xff\xdb")
    broken = data[:table] + data[table + 2 + int.from_bytes(data[table + 2 : table + 4]) :]
    taken, judged = cleaning.do(c.TakePhoto(broken, "slot", "checkpoint", SOURCE))
    assert "cannot be decoded" in judged.body["checks"][0]["sentence"]
    assert cleaning.job.record.path_of(taken.body["photo"]["sha256"]).read_bytes() == broken
