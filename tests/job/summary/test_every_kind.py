"""Every kind of event has its words, with every place of them filled, in each language."""

from __future__ import annotations

import pytest

from evidence_app.job import vocabulary as v
from evidence_app.job.summary.event_sentences import EventSentences
from evidence_app.job.summary.journal import ReadJournal
from evidence_app.language import LANGUAGES, say, speaking
from evidence_app.record.event import Draft
from evidence_app.sentence import sentence, to_fields
from tests.job.summary.odd_journals import journal
from tests.job.summary.summing import STEPS

REF = v.Ref("ab" * 32, 7, "image/jpeg")
SHA = REF.sha256

# (body, what its English sentence says); for kinds with several templates one of each.
SAID = [
    (v.JobOpened(1, "1", "j", v.StepListNamed("l", "1", SHA, 9), None, v.DeviceNamed("F", "M9", "S-4"),
                 "C-1", "T. Ola", True, "practice", "p"),
     "Job opened by T. Ola for claim C-1: M9, serial S-4."),
    (v.TicketOpened(REF, REF, "n", "2026-03-01", "Depot"),
     "Depot ticket opened, issued 2026-03-01 by Depot."),
    (v.CautionAcknowledged("unknown"), "Caution acknowledged: unknown"),
    (v.ItemTicked("new-parts", "unknown"), "New part ticked: unknown"),
    (v.StepEntered("redo", "press"), "Work sent back: step “Clean” is done again."),
    (v.FindingGiven("not-clear", v.LeadsTo("redo", "clean", None)),
     "Finding at “Clean”: not clear; the work is sent back to “Clean”."),
    (v.RepairStopped("r", "technician", "It burns.", "Keep it.", ()),
     "Repair stopped by the technician: It burns. Disposition: Keep it."),
    (v.NameGiven("shift-lead", "R. Ta"), "Name given for shift lead: R. Ta."),
    (v.PhotoTaken(REF, None, "note", 4, 3, {"kind": "camera"}, None),
     "Photo taken as a note, from camera."),
    (v.PhotoTaken(REF, "slot", "checkpoint", 4, 3, {}, SHA),
     "Photo taken of “The whole slot”, another take, from a source not stated."),
    (v.PhotoJudged(SHA, True, ()), "The photo passes every check at capture."),
    (v.PhotoJudged(SHA, False, (v.JudgedCheck("focus", 1, 2, None, False, "Hold still."),)),
     "The photo does not pass. Hold still."),
    (v.PhotoKept(SHA, "it will do"), "The photo is kept all the same. Reason given: “it will do”"),
    (v.ScaleCardNamed("NQ-1", 1.0012, 0.1, 0.5, 0.1),
     "Scale card NQ-1 in use, confirmed with a rule: 1.0012 of its printed length."),
    (v.Measured(SHA, "gap", {"kind": "gap", "sentence": "It is wide."}, None),
     "Measured gap (advice): It is wide."),
    (v.HoldStarted(10), "Hold begun, at least 10 s."),
    (v.HoldEnded(12.3, True), "Hold ended after 12.3 s: long enough."),
    (v.HoldEnded(70, False, "too-long"), "Hold ended after 1 min 10 s: longer than allowed."),
    (v.HoldEnded(2, False, "early"), "Hold ended after 2 s: too short."),
    (v.HoldLost("restarted"), "Hold cannot be shown and must be begun again: restarted."),
    (v.ReadingEntered("torque", "1.5", "N m", False, "spoken"),
     "Reading torque: 1.5 N m, OUTSIDE its limits (spoken)."),
    (v.PiecesCounted("picks", "out", 2, None, None, None), "Counted out 2 (– listed): picks."),
    (v.PiecesCounted("picks", "in", 2, "one of brass", "it was at hand", None),
     "Counted in 2 (– listed): picks, of another kind: one of brass. Reason given: “it was at hand”"),
    (v.NoteStarted("n1", None), "Spoken note n1 begun."),
    (v.NoteRecorded("n1", REF, 3, None, True, 2, 16000),
     "Spoken note n1 recorded, 3 s, cut short, 2 gaps in the sound."),
    (v.NoteLost("n1", "no sound."), "Spoken note n1 has no sound: no sound."),
    (v.NoteWritten("as found {so}", None), "Note written: “as found {so}”"),
    (v.TranscriptMade("n1", "heard", v.SpeechEngine("e", "2")), "Transcript of n1 made by e 2: “heard”"),
    (v.TranscriptCorrected("n1", "meant"), "Transcript of n1 corrected: “meant”"),
    (v.Corrected(3, "was four"), "Correction of event 3: “was four”"),
    (v.TakenBack(3), "Event 3 taken back."),
    (v.SourceLost("camera", "stand", ""), "Lost the camera stand: not stated."),
    (v.SourceReturned("microphone", "head", 5), "The microphone head is back after 5 s."),
    (v.ClockStepped(-60, True),
     "The wall clock was set back by 1 min 00 s against the clock that cannot be set. It then read "
     "earlier than the event before."),
    (v.MachineRestarted("b"),
     "The machine was restarted; how long it was off can be read from the wall clock only, and a "
     "hold running at that moment cannot be shown."),
    (v.RecordRecovered(("a",), ()), "Record recovered after an interruption: set aside a."),
    (v.JobLeft(), "Job left, to be taken up again later."),
    (v.JobResumed(), "Job taken up again at “Clean”."),
    (v.JobClosed("abandoned", "no part"), "Job closed as abandoned. Reason given: “no part”"),
]  # fmt: skip


def said_of(body: v.Body):
    draft = Draft(v.KINDS[type(body)], v.to_body(body), "clean")
    (entry,) = ReadJournal(journal(draft)).entries
    return EventSentences(STEPS).said(entry)


def test_no_kind_is_left_out():
    assert {type(body) for body, _ in SAID} == set(v.BODIES.values())


@pytest.mark.parametrize(("body", "english"), SAID, ids=lambda each: type(each).__name__)
def test_a_kind_says_what_happened(body, english):
    assert str(said_of(body)) == english


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("body", [body for body, _ in SAID], ids=lambda each: type(each).__name__)
def test_every_place_is_filled_in_every_language(body, language):
    with speaking(language):
        told = say(said_of(body))
    assert told
    assert "{" not in told.replace("{so}", "")


WITHIN = sentence("Within the limit of at most {limits} mm, uncertainty included.", limits=0.4)


def test_a_measurement_is_worded_again_in_the_readers_language():
    result = {"kind": "gap", "sentence": str(WITHIN), "wording": to_fields(WITHIN)}
    said = said_of(v.Measured(SHA, "gap", result, None))
    with speaking("de"):
        told = say(said)
    assert str(said) == f"Measured gap (advice): {WITHIN}"
    assert (
        told
        == "Gemessen, Spalt (Hinweis): Innerhalb der Grenze von höchstens 0.4 mm, Messunsicherheit eingerechnet."
    )


def test_a_check_of_the_scale_card_is_worded_again_from_its_numbers():
    check = v.JudgedCheck("card", 0, 4, "markers", False, "No card.")
    said = said_of(v.PhotoJudged(SHA, False, (check,)))
    with speaking("de"):
        told = say(said)
    assert str(said) == "The photo does not pass. No card."
    assert "Keine Maßkarte lesbar" in told
