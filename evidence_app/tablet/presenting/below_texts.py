"""What lower rooms say in English and the screens say in the language in use: the texts.

Each stands exactly as the lower room says it, with a {place} for what differs. Only what a
technician can meet on the tablet; what only a mistake in the app could cause stays as it is.
"""

from __future__ import annotations

from evidence_app.language import mark

PHOTO_GATE = (
    mark("The picture is large enough."),
    mark("Set the camera to a larger picture size and take it again."),
    mark("Tap to focus on the part, or move back until it is sharp, and take it again."),
    mark(
        "No sharp edge was found to judge the focus by. Tap to focus on the part, or move back "
        "until it is sharp, and take it again."
    ),
    mark("The edges are soft in one direction. Brace the camera and take it again."),
    mark("The edges are sharp."),
    mark("The scale card's edges are sharp."),
    mark("The whole scale card is seen."),
    mark("No scale card can be read: lay it flat beside the part, whole, sharp and well lit."),
    mark(
        "Only {count} of the scale card's {all} markers can be read: have the whole card in the "
        "picture, nothing on it and no glare, or go nearer."
    ),
    mark("More than one scale card is in the picture: leave only one."),
    mark("No shake is seen."),
    mark("Hold still or brace the camera and take it again."),
    mark("The dark parts keep their detail."),
    mark("Bring more light onto the part and take it again."),
    mark("The bright parts keep their detail."),
    mark("Lower the exposure or soften the light and take it again."),
    mark("No glare hides the part."),
    mark(
        "Tilt the camera or shade the lamp so that the bright spot leaves the part, and take it "
        "again."
    ),
)

JOB = (
    mark("{what} has a line break or a control character in it"),
    mark("write it on one line"),
    mark("{what} says nothing"),
    mark("state the reason in a few words"),
    mark("{what} is empty"),
    mark("enter it"),
    mark("{what} is {count} characters long"),
    mark("use at most {count} characters"),
    mark("{what} has a character that cannot be stored"),
    mark("type it again"),
    mark("the note"),
    mark("the reason"),
    mark("the reason for keeping it"),
    mark("the reason for the stop"),
    mark("the reason for abandoning the job"),
    mark("the correction"),
    mark("the name"),
    mark("the serial number"),
    mark("the claim number"),
    mark("the technician's name"),
    mark("a hold is running"),
    mark("end the hold first"),
    mark("a voice note is being recorded"),
    mark("end the note first"),
    mark("a voice note is being recorded already"),
    mark("end that note first"),
    mark("this step asks for no finding"),
    mark("this finding stands already"),
    mark("go on to the next step"),
    mark("exactly this photo is in the job already (event {number})"),
    mark("take a new photo; one photo cannot be shown twice"),
    mark("the photo is still being checked"),
    mark("wait a moment"),
    mark("the photo counts already"),
    mark("go on"),
    mark("a photo of the practice camera cannot go into a real job"),
    mark("use a real camera"),
    mark("no hold is running"),
    mark("start the hold first"),
    mark("the repair is stopped; only photos of the reason can be added"),
    mark("take the photos that the stop asks for, or say it in a note"),
    mark("no photo “{name}” is wanted here"),
    mark("take a photo that is owed here"),
    mark(
        "event {number} cannot be taken back: only the newest entry can, for 5 seconds, and "
        "never a stop"
    ),
    mark("correct it instead; a correction points at the event"),
    mark("work cannot begin; still owed: {listed}"),
    mark("the step is not done; still owed: {listed}"),
    mark("the finding cannot be given yet; still owed: {listed}"),
    mark("the stopped job cannot be closed; still owed: {listed}"),
    mark("the job cannot be closed; still owed: {listed}"),
    mark("Take the photo: {framing}."),
    mark("The photo is being checked; wait a moment."),
    mark("The photo did not pass: take it again, or keep it with a reason ({framing})."),
    mark("Hold for at least {time}: {applied}."),
    mark("Hold for at least {time} again, from the beginning: {applied}."),
    mark("this is not the last step"),
    mark("go on to the last step, or stop or abandon the job"),
    mark("a practice clock cannot time a real job"),
    mark("open the job as practice, or use the machine's clock"),
    mark("the step list {id} {version} of this job was altered on the disk"),
    mark("put back the file from a copy of this folder; the journal is unharmed"),
    mark("the ticket is for claim {one}, this job is for claim {other}"),
    mark("ask the depot for the ticket of this claim"),
    mark("the voice note cannot be read ({problem})"),
    mark("check the disk; the sound stays in the job's scratch folder"),
    mark(
        "The measurement of the {name} is inconclusive: its uncertainty reaches over the limit. "
        "Check with a gauge and give the finding from that."
    ),
    mark("The measurement of the {name} lies outside its limits. Look again before the finding."),
    mark("The {name} could not be measured on this photo. Judge it by eye or with a gauge."),
    mark("gap"),
    mark("mesh"),
    mark("residue"),
)

RECORD = (
    mark("the file could not be used ({reason})"),
    mark("check that the disk is connected and sound, then try again"),
    mark("the disk is full; this was not recorded, everything recorded before is safe"),
    mark("free some space on that disk, then do the same again"),
    mark("the app is not allowed to do this ({reason})"),
    mark(
        "give this user permission to read and write there; to look at a job, open it for "
        "reading only"
    ),
    mark("there is no {name} here, so this is not a job's folder"),
    mark("choose the folder of a job"),
    mark(
        "the opening of this job was interrupted before anything was recorded, so nothing is lost"
    ),
    mark("open the job again; this folder can be removed"),
    mark("the journal could not be used ({problem}); what was recorded before is kept"),
    mark("check that the disk is sound, then open the job again"),
    mark("another run of the app ({holder}) has this job open"),
    mark("leave the job there first, or wait until that run has ended"),
    mark("the original {sha} is missing"),
    mark("look for it in set-aside/ or in a copy of this folder"),
    mark("{problem}; nothing in the folder was altered"),
    mark(
        "copy the whole folder to a safe place; what is still readable can be looked at by "
        "opening the job for reading only, and the repair goes on as a new job"
    ),
)

PHOTO = (
    mark("this is not a JPEG photo"),
    mark("the photo is cut off before its end"),
    mark("the picture inside the JPEG cannot be decoded"),
    mark("the photo is empty (0 bytes)"),
    mark(
        "the photo claims {width} x {height} pixels; at most {most} million pixels and less "
        "than 30,000 on a side can be taken"
    ),
    mark("set the camera to a smaller picture size and take the photo again"),
    mark("this is {name}, not a JPEG photo, whatever its name says"),
    mark("the JPEG header is damaged"),
    mark("take the photo again; restart the camera if it repeats"),
    mark("set the camera to save ordinary 8-bit colour JPEG and take the photo again"),
    mark("copy or take the photo again"),
)

MEASURING = (
    mark(
        "The seam is {value} mm wide (median, U = {u} mm, k = 2), at most {largest} mm over any "
        "2 mm, {place}"
    ),
    mark("beside the middle of the card"),
    mark("{distance} mm right of the card's middle"),
    mark("{distance} mm left of the card's middle"),
    mark("No limit is given"),
    mark("It keeps {limits} with the uncertainty allowed for"),
    mark("It does not keep {limits}, even with the uncertainty allowed for"),
    mark(
        "Whether it keeps {limits} cannot be told: the uncertainty reaches over it. Use the "
        "feeler gauge."
    ),
    mark("the limit of at least {low} mm"),
    mark("the limit of at most {high} mm"),
    mark("the limits of at least {low} mm and at most {high} mm"),
    mark("no scale card is seen in the picture"),
    mark(
        "Lay the scale card flat beside the part, all four markers in the picture, and take it "
        "again"
    ),
    mark("the photo is black"),
    mark("uncover the lens, bring light onto the part and take it again"),
    mark("more than one scale card is in the picture"),
    mark("leave only the card beside the part and take it again"),
    mark("the photo is mirrored"),
    mark("turn off the camera's mirroring and take it again"),
    mark("only {count} of the scale card's 4 markers can be read ({absent})"),
    mark("have the whole card in the picture, nothing on it and no glare, and take it again"),
    mark("the markers in the picture are not those of the scale card"),
    mark("use a card printed by this app (evidence-app card)"),
    mark("the scale card is too dark"),
    mark("bring more light onto card and part and take it again"),
    mark("the scale card is overexposed or under glare"),
    mark("lower the exposure or move the lamp and take it again"),
    mark("the grey patches of the scale card do not look as they were printed"),
    mark("keep shadow and glare off the card, or print a new one, and take the photo again"),
    mark("the scale card's edges do not lie as on a flat card"),
    mark("lay an unbent, clean card flat on the surface and take it again"),
    mark("the camera looks at the seam at {degrees} degrees"),
    mark("hold the camera straight above the seam and take it again"),
    mark("what runs along the scale card does not look like an even gap along most of its length"),
    mark("clean the seam, lay the card beside it and take it again; or use the feeler gauge"),
    mark("the photo has only {count} megapixels"),
    mark("set the camera to at least 3 megapixels, better 12, and take it again"),
    mark("the photo is too soft to measure on"),
    mark("hold still or brace the camera, focus on the seam and take it again"),
    mark("glare lies on the seam"),
    mark("move or shade the lamp so that the seam is free of glare and take it again"),
    mark("the seam is too narrow to be measured on this photo"),
    mark("take it with more megapixels or from nearer, or use the feeler gauge"),
    mark("no straight dark seam is seen along the scale card"),
    mark(
        "lay the card's long side 3 to 8 mm beside the seam, have the seam in the picture from "
        "end to end and take it again"
    ),
    mark("the seam runs out of the picture"),
    mark("move so that seam and card lie whole in the picture and take it again"),
    mark(
        "The strip's middle lies {value} mm from its opening's (U = {u} mm, k = 2): {along} "
        "mm along, {across} mm across, turned by {degrees} degrees"
    ),
    mark(
        "Whether it keeps {limits} cannot be told: the uncertainty reaches over it. Judge by "
        "eye, or use a gauge."
    ),
    mark("the camera looks at the strip at {degrees} degrees"),
    mark("hold the camera straight above the strip and take it again"),
    mark("no perforated strip is seen beside the scale card"),
    mark(
        "lay the card's long side 3 to 8 mm beside the strip's opening, have the opening "
        "whole in the picture and take it again"
    ),
    mark("the strip and its opening are not whole in the picture"),
    mark("move so that the opening and the card lie whole in the picture and take it again"),
    mark("no even dark gap is seen all round the perforated strip"),
    mark("clean the strip and its opening, light them evenly and take it again; or judge by eye"),
    mark("what lies in the opening does not look like a perforated strip"),
    mark("clean the strip, light it evenly and take it again; or judge by eye"),
    mark("glare lies on the strip"),
    mark("move or shade the lamp so that strip and opening are free of glare and take it again"),
    mark("there is no clean reference photo to compare with"),
    mark("take the reference photo first, or judge it by eye"),
    mark("one photo alone cannot tell residue from shadows"),
    mark("one photo was given twice"),
    mark("give the photo, its clean reference and a second photo of the same state"),
    mark("judge it by eye, or give a second photo from another angle"),
    mark("Nothing found on the {area} mm2 that could be compared; look yourself"),
    mark(
        "1 mark differs from the reference, {area} mm2 in all, the largest {largest} mm2; "
        "look at them"
    ),
    mark(
        "{count} marks differ from the reference, {area} mm2 in all, the largest {largest} "
        "mm2; look at them"
    ),
    mark("The photo: {problem}"),
    mark("The second photo: {problem}"),
    mark("The reference photo: {problem}"),
    mark("it does not show the same place as the reference photo"),
    mark("photograph the same area again, with the card at the same place"),
    mark("only {area} mm2 can be compared with the reference"),
    mark("take it from where the reference was taken, in the same light"),
    mark("it has only {count} megapixels"),
    mark("the camera looks at the card at {degrees} degrees"),
    mark("hold the camera straight above and take it again"),
    mark("the part is seen too small"),
    mark("go nearer, or set the camera to more megapixels, and take it again"),
    mark("it is too soft"),
    mark("hold still or brace the camera, focus on the part and take it again"),
    mark("the photo cannot be measured ({problem})"),
    mark("take it again, or use the feeler gauge"),
)

DEVICES = (
    mark("{name} is ready"),
    mark("{name} is there"),
    mark("{name} is stopped"),
    mark("{name} is heard"),
    mark("{name} is played"),
    mark("{name} was played to its end"),
    mark("{name} gives {width} x {height} pixels"),
    mark("{name} failed: {problem}"),
    mark("The folder {name} is watched"),
    mark("The file {name} is not there"),
    mark("practice camera"),
    mark("practice microphone"),
    mark("the practice camera was unplugged"),
    mark("plug it in again"),
    mark("plug it in again, then take the photo"),
    mark("“{spec}” does not name a camera"),
    mark("write camera:0, http://host:port/path, folder:PATH or file:PATH"),
    mark("the photo cannot be read ({reason})"),
    mark("check the name and that the file may be read"),
    mark("the disk behind the folder is not mounted"),
    mark("connect the camera or disk again"),
    mark("no new photo came into the folder within {time} s ({message})"),
    mark("release the camera's shutter, or check its connection"),
    mark("the folder cannot be read ({reason})"),
    mark("there is no such camera"),
    mark("connect it, or choose another one"),
    mark("this user may not use the camera"),
    mark("add the user to the group that owns the device (video)"),
    mark("the camera cannot be opened; another program may hold it"),
    mark("close the other program"),
    mark("the stream cannot be opened"),
    mark("check the address, and that the camera is on the network"),
    mark("no picture came within {time} s ({message})"),
    mark("check the camera and take the photo again"),
    mark("the camera gives no more pictures"),
    mark("check its cable, power and network"),
    mark("“{spec}” does not name a microphone"),
    mark("write microphone, microphone:NAME or file:PATH"),
    mark("the sound file cannot be read ({problem})"),
    mark("choose a WAV or FLAC file"),
    mark("the microphone cannot be opened ({problem})"),
    mark("the microphone is busy or gone; another program may hold it"),
    mark("close the other program, or plug it in again"),
    mark("there is no such microphone"),
    mark("the PortAudio library is not installed"),
    mark("install the system package libportaudio2"),
    mark("the microphone gives no more sound"),
    mark("check its plug or switch it on"),
)

PACKAGE = (
    mark("a PIN has {low} to {high} digits and nothing else"),
    mark("this PIN is one digit repeated or a plain run of digits"),
    mark("choose another PIN"),
    mark("the PIN is wrong"),
    mark("try again with the right PIN"),
    mark("wrong PINs were given too often"),
    mark("wait {left} s and try again; restarting does not shorten the wait"),
    mark("this is not a usable Ed25519 key ({problem})"),
    mark("use the file that the app wrote"),
    mark("the key cannot be read: {reason}"),
    mark("the signature does not hold under the depot's key {name}"),
    mark("get the list again from the depot; do not use this one"),
    mark("the key list cannot be read: {problem}"),
    mark("correct it and sign it"),
    mark("the key list cannot be read ({reason})"),
    mark("the signature of the key list cannot be read ({reason})"),
    mark("the depot's public key cannot be read ({reason})"),
    mark("a key list comes as three files: the list, its .sig and the depot's public key"),
    mark("another package has this name already and is left as it is"),
    mark(
        "it may carry a time token or come from another version of the app; seal into another "
        "folder to compare them"
    ),
    mark("the journal is broken: {problem}"),
    mark("{problem}, so the job was not sealed"),
    mark("restore the file from a backup of the job folder"),
    mark("this file could not be written ({reason})"),
    mark("choose a folder that exists and that you may write to"),
    mark("the disk is full; nothing was lost and no half-written file was left"),
    mark("free some space on that disk and try again"),
    mark("another file has this name already"),
    mark("move it away or use another disk"),
    mark("the copy differs from the package"),
    mark("use another disk"),
    mark("the ticket's signature does not hold under the depot's key"),
    mark("this is not a ticket that can be used: {problem}"),
    mark("ask the depot for a new ticket"),
    mark("ask the depot for a new ticket, or go on without one"),
    mark("the ticket's signature has {count} bytes instead of {wanted}"),
    mark("choose the .sig file that came with the ticket"),
)

SYSTEM = (
    mark("no such file or directory"),
    mark("permission denied"),
    mark("read-only file system"),
    mark("input/output error"),
    mark("not a directory"),
    mark("is a directory"),
)

ALL = (
    *PHOTO_GATE,
    *JOB,
    *RECORD,
    *PHOTO,
    *MEASURING,
    *DEVICES,
    *PACKAGE,
    *SYSTEM,
)
