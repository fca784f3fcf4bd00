"""What the supervisor is shown of a stopped repair."""

from __future__ import annotations

import re

from evidence_app.desk.review import open_review
from evidence_app.deskpage.shown.stopped import lines_of
from evidence_app.job.summary.model_step import Moment
from evidence_app.package.zip.archive import open_archive, read_head


def text(review) -> str:
    return "\n".join(lines_of(review))


def test_rule_finding_person_and_time_are_shown(stopped):
    said = text(open_review(stopped))
    assert "Rule: slot-residue: the finding was “not clear”" in said
    assert re.search(r"Finding: not clear, 2026-03-02 08:15[^(]* \(entry \d+\)", said)
    assert "Disposition: Exchange the whole unit." in said
    assert "M. Okafor-Lind" in said
    assert "Supervisor: R. Tavares-Holm" in said


def test_photos_of_the_step_and_of_the_stop_can_be_had(stopped):
    review = open_review(stopped)
    assert [side.photo.purpose for side in review.sides] == ["checkpoint", "checkpoint", "stop-reason"]
    for side in review.sides:
        assert read_head(open_archive(stopped), side.path, 2) == b"\xff\xd8"


def test_spoken_reason_is_shown_without_a_transcript(stopped):
    notes = [line for line in lines_of(open_review(stopped)) if "Spoken, entry" in line]
    assert len(notes) == 2
    assert all(line.endswith("There is no transcript.") for line in notes)


def test_what_the_record_cannot_show_is_said(stopped):
    assert "Unrecorded work would not appear here" in text(open_review(stopped))


def test_work_after_the_stop_is_named(stopped):
    import msgspec

    review = open_review(stopped)
    stop = msgspec.structs.replace(review.stop, worked_after=(Moment(sequence=41, wall="later"),))
    said = text(msgspec.structs.replace(review, stop=stop))
    assert "Work was recorded on the unit after the stop: entries 41" in said


def test_completed_job_has_no_stop_to_review(completed):
    review = open_review(completed)
    assert review.stop is None
    assert "was not stopped" in text(review)
