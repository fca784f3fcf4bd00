"""What the rooms below the desk's windows say in English and the windows in the language in
use: verdicts, checks, reused photos, the register's troubles. As below_texts, which see.
"""

from __future__ import annotations

from evidence_app.language import mark

VERDICT = (  # package/verify/result.py
    mark("All {count} checks hold."),
    mark("All {count} checks that were made hold; not checked: {names}."),
    mark("Do not rely on this package: {reasons}."),
    mark("Practice package, not evidence. {rest}"),
    mark("Practice package, not evidence: {rest}"),
    mark("This file could not be read as a package: {why}."),
    mark("the package file is not built as the app builds it"),
    mark("its list of files does not fit its files"),
    mark("a file was altered or is missing"),
    mark("it holds files that do not belong to it"),
    mark("its seal does not hold"),
    mark("the key that sealed it is not one to rely on"),
    mark("its journal is broken"),
    mark("its photos and notes are not those of the journal"),
    mark("the repair did not follow its step list"),
    mark("its summary is not what the journal gives"),
    mark("its report is not what the journal gives"),
    mark("its times contradict each other"),
    mark("the proof of when it was made does not hold"),
    mark("it is practice material"),
)

FILES = (  # package/verify/check.py, verify_files.py
    mark("it depends on {check}, which fails"),
    mark("it depends on {check}, which was not checked"),
    mark("a part that it needs is not as it must be"),
    mark("a part that it needs cannot be used"),
    mark("the package is not built as the app builds it; nothing in it was read"),
    mark("{count} regular files with plain names, {total} bytes, {form}"),
    mark("stored end to end in one ZIP file"),
    mark("in a folder"),
    mark("the bag's own files are not as BagIt and this format want them"),
    mark("BagIt 1.0; its manifest lists {count} payload files"),
    mark("{altered} of {count} listed files altered or missing"),
    mark("all {count} listed files have their SHA-256"),
    mark("there is more in it than was listed"),
    mark("there is nothing in it that is not listed"),
    mark("{file}: does not belong to the package"),
    mark("{file}: is missing"),
    mark("{file}: is missing; its SHA-256 was {expected}"),
    mark("{file}: expected SHA-256 {expected}, found {found}"),
    mark("{file}: is a symbolic link"),
    mark("{file}: stands in the package twice"),
    mark("{file}: is absolute"),
    mark("{file}: has the part '..', which leads elsewhere"),
)

TRUST = (  # package/verify/trust.py, keylist.py
    mark("the package is not sealed"),
    mark("the seal does not hold"),
    mark("the seal belongs to another content"),
    mark("this is not the signature of the device key over the seal"),
    mark("the seal has the format {form}, this app knows {known}"),
    mark("check it with the version of the app that made it, or a newer one"),
    mark(
        "the signature holds; key, manifests and journal are those that it names; "
        "fingerprint {fingerprint}"
    ),
    mark(
        "the signature holds; key and manifests are those that it names, the journal cannot "
        "be read to compare it; fingerprint {fingerprint}"
    ),
    mark("no key list was given, so whose key sealed this is not known"),
    mark("the key is not in {listed}"),
    mark("the key of {owner} was valid at {then}, by {listed}"),
    mark(
        "the key of {owner} was revoked from {revoked} on, so it was not valid at {then}, by "
        "{listed}"
    ),
    mark(
        "the key of {owner} is valid from {starts} on, so it was not valid at {then}, by {listed}"
    ),
    mark("the key of {owner} was valid until {ends}, so it was not valid at {then}, by {listed}"),
    mark("{standing}, and nothing from outside the device shows that it was sealed before that"),
    mark("{standing}; it is shown that the seal existed at {at}, before that"),
    mark("the key of {owner} was valid at {then} but was revoked at {revoked}, by {listed}"),
    mark("the list of {depot} issued {at} ({trust})"),
    mark("a proof of time does not hold"),
    mark("no ticket bounds the beginning"),
    mark("no time token bounds the end"),
    mark("there is a ticket, but no key list was given to check it with"),
    mark("there is a time token, but no time authority was given to check it with"),
    mark("what follows event {event} was not recorded before {at}, when {depot} issued its ticket"),
    mark("the seal existed at {at}, by {authority}"),
    mark("the desk received it at {at}"),
    mark("neither the seal nor the journal can be read"),
    mark("it says that it is real and holds practice material"),
    mark("it is not marked as practice and holds no practice material"),
    mark("practice package, accepted because practice was asked for"),
    mark("it was made for practice and proves nothing about a real device"),
)

JOURNAL = (  # package/verify/journal.py, verify_report.py, verify_clocks.py
    mark("the journal cannot be read"),
    mark("the journal is not one unbroken chain"),
    mark("{count} events in one unbroken chain, from opening to closing"),
    mark("event {event}: its hash does not follow from the event before it and its own content"),
    mark("the journal does not say which originals it means"),
    mark("{file}: named by event {event}, is missing"),
    mark("{file}: no event of the journal names it"),
    mark("the files are not those that the journal names"),
    mark("the journal names {kinds}; each is there and no other"),
    mark("the journal does not obey its step list"),
    mark("the journal obeys step list {list} from beginning to end"),
    mark("the summary is missing"),
    mark("record.json is exactly what the journal gives"),
    mark("record.json is not what the journal gives"),
    mark("the report is exactly what journal and originals give"),
    mark("the report does not say or show what the journal gives"),
    mark("it shows the seal's fingerprint, and the seal cannot be read"),
    mark(
        "its words are what the journal gives; its pictures were not compared with the "
        "photos, as was asked, so look at the photos themselves"
    ),
    mark("event {event} at {at}: the device was restarted"),
    mark("event {event} at {at}: the wall clock was set by {step} s"),
    mark(
        "event {event} at {at}: the wall clock was set by {step} s, to a time earlier than "
        "the event before"
    ),
)

OUTCOME = (  # job/summary/event_sentences.py
    mark("The repair was completed: everything that its {count} steps owed was shown."),
    mark("The repair was stopped at step {step}: {reason}. Disposition: {disposition}."),
    mark("The repair was stopped: {reason}. Disposition: {disposition}."),
    mark("The job was abandoned at step {step} and the repair not completed."),
    mark("The job was abandoned and the repair not completed."),
    mark("The wall clock was set {way} by {length} against the clock that cannot be set."),
    mark("forward"),
    mark("back"),
    mark("It then read earlier than the event before."),
    mark(
        "The machine was restarted; how long it was off can be read from the wall clock "
        "only, and a hold running at that moment cannot be shown."
    ),
)

RECEIVING = (  # desk/intake.py, search.py, reuse.py
    mark("not received: {why}"),
    mark("check its name, or put the disk back in"),
    mark("there is no such file or folder"),
    mark("check the name"),
    mark("there is no package in this folder"),
    mark("choose the folder with the ZIP files in it"),
    mark("this is neither a file nor a folder"),
    mark("choose a package"),
    mark("the file is empty"),
    mark("copy the package again"),
    mark("the package is cut short: its directory is missing"),
    mark("the package is encrypted for transport"),
    mark("open it with the desk's key first"),
    mark("this is not a ZIP file"),
    mark("the package changed or went away while it was checked"),
    mark("copy it and check the copy"),
    mark("reading failed ({reason})"),
    mark("check the disk and its permissions, then try again"),
    mark(
        "package {number} ({name}) carries the very same seal but other content: one of the "
        "two was altered"
    ),
    mark(
        "package {number} ({name}) says it is of the same job but carries another seal: it "
        "was sealed twice with different content, or one of the two is forged"
    ),
    mark("the very same file as in {other}"),
    mark(
        "the same picture as in {other}: {how}; laid over each other, {share} of the overlap "
        "agrees to the finest structure"
    ),
    mark(
        "looks like one in {other} ({how}) but is another picture as far as can be told: "
        "laid over each other, only {share} of the overlap agrees to the finest structure"
    ),
    mark(
        "looks like one in {other} ({how}) but is another picture as far as can be told: "
        "laid over each other, none of the overlap agrees to the finest structure"
    ),
    mark(
        "looks like one in {other} ({how}); that package is not there any more, so the "
        "pictures were not laid over each other"
    ),
    mark("package {number}, claim {claim} ({file})"),
    mark("{bits} of 256 bits differ, {turned}"),
    mark("{bits} of 256 bits of its middle differ, {turned}"),
    mark(
        "its picture could not be compared with earlier photos (there is too little in it); "
        "only the very same file is recognised"
    ),
    mark(
        "its picture could not be compared with earlier photos (it cannot be read as a "
        "photo, is too large, or shows nothing); only the very same file is recognised"
    ),
)

REGISTER = (  # desk/database.py, register.py, countersign.py
    mark("another run of the app has held the register for more than {seconds} s"),
    mark("wait until it has finished, then try again"),
    mark("another program holds the register locked; nothing was registered"),
    mark("close that program, then try again"),
    mark("the register may not be written here ({reason}); nothing was registered"),
    mark("give this user write permission there, or name another register"),
    mark("the register is damaged ({reason}); it was left as it is"),
    mark("move it aside, put back the latest copy of it, or take the packages in again"),
    mark("this is an SQLite file, but not a register of this app"),
    mark("name the register, or another file that does not exist yet"),
    mark("this is a folder, not a register"),
    mark("name the register's file in it, or one that does not exist yet"),
    mark(
        "the register has version {version}, this app knows up to version {known}; nothing "
        "was changed"
    ),
    mark("use the newer version of the app that wrote it"),
    mark("the disk is full; what the register held before is safe and nothing was half-registered"),
    mark("this decision needs a reason"),
    mark("accepting a package of which a check fails needs a reason"),
    mark("say why with --reason"),
)

CLOCKS = (  # package/verify/clocks.py
    mark("wall clock and monotonic clock agree from beginning to end"),
    mark("every disturbance of the clocks is recorded; see each"),
    mark("times contradict each other and no event says why"),
    mark("event {event}: another run of the device than event {before}, without an event for it"),
    mark(
        "event {event}: the wall clock moved by {step} s against the monotonic clock since "
        "event {before}, without an event for it"
    ),
    mark("event {event} ({kind}): the times do not show it"),
    mark("event {event} (clock-stepped): says {said} s, the times show {shown} s"),
    mark("{file}: carries the time {time}, event {event} is of {wall}"),
    mark("{file}: carries no time, though the app's own camera took it"),
    mark("{file}: its camera's own clock says {time}, the journal {wall}"),
    mark(
        "the list of {depot} issued {at} (signed with depot key {key}, which lay beside the list)"
    ),
    mark("the list of {depot} issued {at} (signed with depot key {key})"),
    mark("event {event} (job-opened): its times come from a practice clock"),
    mark("event {event} (photo-taken): was taken by the practice camera"),
    mark("a list of files cannot be used ({why})"),
    mark("the manifest cannot be used ({why})"),
    mark("the report is missing"),
    mark("data/record.json: differs from byte {at} on"),
    mark("data/report.html: picture {number} shows something else than its original"),
    mark("data/report.html: line {line} reads nothing where the journal gives {expected}"),
    mark("data/report.html: line {line} reads {found} where the journal gives {expected}"),
    mark("seal.json: {field} is {stated}, but the package gives {given}"),
    mark("{file}: named by event {event} with {wanted} bytes, has {found}"),
    mark("{file}: named by event {event} with SHA-256 {wanted}, has {found}"),
    mark("event {event}: stands at place {place} of the journal"),
    mark("event {event} ({kind}): a sealed job ends with job-closed"),
    mark("event {event} ({kind}): a job begins with job-opened"),
    mark("the step list in the package is not the one the journal names"),
    mark("the archive has more than one top folder"),
    mark("{count} bytes follow the end of the archive"),
    mark("bag-info.txt: Payload-Oxum says {stated}, the payload has {found}"),
)

CONDUCT = (  # job/conduct*.py
    mark("event {event} ({kind}, step {step_id}) {what}"),
    mark("event {event} ({kind_id}) {what}"),
    mark("leaves the step {step} without {missing}"),
    mark("says completed, but the step {step_id} lacks {missing}"),
    mark("says completed before the last step"),
    mark("says {outcome}, although the repair was stopped"),
    mark("says {outcome}, although the repair was not stopped"),
    mark("closes the stopped job without {missing}"),
    mark("closes before what the finding of event {finding} leads to"),
    mark("closes while a voice note is being recorded"),
    mark("abandons the job without a reason"),
    mark("comes where the finding of event {finding} leads elsewhere"),
    mark("follows a finding that leads elsewhere (event {finding})"),
    mark("begins the work without {missing}"),
    mark("gives a finding without {missing}"),
    mark("gives a finding where the step list asks for none"),
    mark("leads to {given}; the step list says {due}"),
    mark("goes back to do work again, which no finding before it leads to"),
    mark("does not follow the step {step} in the step list"),
    mark("enters a step that this variant does not have"),
    mark("says it comes from {from}; the current step is {step}"),
    mark("is recorded at another step than the current one, {step}"),
    mark("is recorded at another step than its photo, {step}"),
    mark("is not allowed after the repair was stopped"),
    mark("stops under {rule} by {by}, which nothing before it leads to"),
    mark("states another reason than its stop rule"),
    mark("states another disposition or other prohibitions than its stop rule"),
    mark("shows the photo of event {first} a second time"),
    mark("is of the practice camera in a job that is not marked as practice"),
    mark("is timed by a practice clock and not marked as practice"),
    mark("is for {wanted}, which is not wanted here"),
    mark("names the photo {photo}, which was not taken before it"),
    mark("says that the photo passes, which its checks do not give"),
    mark("says that the photo does not pass, which its checks do not give"),
    mark("keeps a photo that was not found failing"),
    mark("keeps a photo without a reason that says something"),
    mark("measures on a photo that neither passed nor was kept"),
    mark("starts a hold where the step list has none"),
    mark("says {said} s were held; the clock shows {shown} s"),
    mark("says the hold was met; held {held} s, at least {least} s is asked"),
    mark("says the hold was not met; held {held} s, at least {least} s is asked"),
    mark("enters the reading {reading}, which is not asked for here"),
    mark("says within: {said} for {value}; the limits give {given}"),
    mark("is in {unit}; the step list asks for {asked}"),
    mark("is of a kind that is not known"),
    mark("does not have the form of its kind ({why})"),
    mark("is on another boot of the machine and no restart is recorded"),
    mark("is earlier on the monotonic clock than the event before it"),
    mark("follows event {before}; numbers must go up by one"),
    mark("opens the job a second time"),
    mark("the hold"),
    mark("a finding that goes on"),
    mark("the spoken reason"),
    mark("the photo {photo_id}"),
    mark("the reading {reading_id}"),
    mark("the name of the {role_id}"),
)

TURNED = (  # desk/photos/hash.py
    mark("as it is"),
    mark("turned a quarter to the left"),
    mark("upside down"),
    mark("turned a quarter to the right"),
    mark("mirrored top to bottom"),
    mark("mirrored left to right"),
    mark("mirrored along the falling diagonal"),
    mark("mirrored along the rising diagonal"),
    mark("cut or slightly turned"),
)

CHECKS = (  # package/verify/result.py: the checks by their names
    mark("archive"),
    mark("bag"),
    mark("checksums"),
    mark("nothing-extra"),
    mark("seal"),
    mark("key"),
    mark("journal-chain"),
    mark("originals"),
    mark("conduct"),
    mark("record"),
    mark("report"),
    mark("clocks"),
    mark("time-bracket"),
    mark("practice"),
)

NAMED = (  # package/verify/journal.py: what the journal names
    mark(
        "the journal names {photos} photos, {notes} notes, {drawings} drawings; each is "
        "there and no other"
    ),
    mark(
        "the journal names {photos} photos, {notes} notes, {drawings} drawing; each is there "
        "and no other"
    ),
    mark(
        "the journal names {photos} photos, {notes} note, {drawings} drawings; each is there "
        "and no other"
    ),
    mark(
        "the journal names {photos} photos, {notes} note, {drawings} drawing; each is there "
        "and no other"
    ),
)

DESK = (
    *VERDICT,
    *FILES,
    *TRUST,
    *JOURNAL,
    *OUTCOME,
    *RECEIVING,
    *REGISTER,
    *CLOCKS,
    *CONDUCT,
    *TURNED,
    *CHECKS,
    *NAMED,
)
