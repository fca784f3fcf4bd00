"""Sentences that lower rooms say in English and the screens say in the language in use.

Listed here so that the catalogue has them; each stands exactly as the lower room says it.
"""

from __future__ import annotations

from evidence_app.tablet.presenting.words import mark

PHOTO_GATE = (
    mark("The picture is large enough."),
    mark("Set the camera to a larger picture size and take it again."),
    mark("Tap to focus on the part, or move back until it is sharp, and take it again."),
    mark("No sharp edge was found to judge the focus by. Tap to focus on the part, or move back "
         "until it is sharp, and take it again."),
    mark("The edges are soft in one direction. Brace the camera and take it again."),
    mark("The edges are sharp."),
    mark("No shake is seen."),
    mark("Hold still or brace the camera and take it again."),
    mark("The dark parts keep their detail."),
    mark("Bring more light onto the part and take it again."),
    mark("The bright parts keep their detail."),
    mark("Lower the exposure or soften the light and take it again."),
    mark("No glare hides the part."),
    mark("Tilt the camera or shade the lamp so that the bright spot leaves the part, and take it "
         "again."),
)

MICROPHONE = (
    mark("The microphone hears nothing. Check that it is plugged in, switched on and uncovered."),
    mark("The voice is too loud for the microphone. Speak softer or hold it further away."),
    mark("This place is loud. Hold the microphone closer to the mouth or go where it is quieter."),
)

VOICE = (
    # voice/dialogue.py
    mark("Next step."), mark("Previous step."), mark("Taking the photo."),
    mark("Taking the photo again."), mark("The hold begins."), mark("The hold ends."),
    mark("The voice note begins."), mark("The voice note ends."), mark("Taken back."),
    mark("No longer listening."), mark("No answer was heard. Nothing was recorded."),
    mark("Nothing was recorded. Say it again."),
    # voice/grammar.py, voice/listener.py
    mark("That cannot be done now."), mark("Nothing waits for an answer."),
    mark("That was too long for a command. Say one of the phrases, or begin a voice note."),
    # voice/prompts.py
    mark("espeak-ng is not installed; nothing is read aloud. Install the system package "
         "espeak-ng, or read the screen."),
    mark("espeak-ng does not work on this machine; nothing is read aloud. Check the loudspeaker "
         "and the system package espeak-ng."),
    # voice/speech_model.py
    mark("the speech model is not installed; spoken commands and transcripts are off. Install "
         "evidence-app[voice]; recording works without it."),
    # job/aloud.py
    mark("There is no caution at this step."), mark("No hold is running."),
)
