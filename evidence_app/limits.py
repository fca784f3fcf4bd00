"""The most that is taken in of anything that comes from outside, in one place.

What is larger is refused by its name before it is read; assets/trust.md lists these, and a test
holds the page to them. Two keep numbers of their own, so that a wrong one here is found there:
the conduct check (``job/conduct``), and the browser checker (``assets/checker``).
"""

# Files that somebody names to a command.
STEP_LIST_BYTES = 1_000_000  # one of 100 steps has about 60,000
STEP_LIST_DOTS = 100  # in one name
STEP_PICTURE_BYTES = 2 * 2**20
STEP_PICTURE_PIXELS = 12_000_000
COUNTED_PIECES = 999  # of one thing at one step
NAMED_FILE_BYTES = 256 * 2**20  # photos and sounds, where no smaller limit stands here
KEY_LIST_BYTES = 4 * 2**20
KEY_FILE_BYTES = 16 * 2**10
TRANSPORT_KEY_BYTES = 64 * 2**10
TICKET_BYTES = 64 * 2**10
HANDOVER_BYTES = 64 * 2**10
HANDOVERS = 9  # in a row, until the depot lists the new key
COUNTERSIGN_BYTES = 2**20

# Packages. A job of 10,000 photos is far beyond a repair; a tag file of 16 MiB holds the
# manifest of 100,000 files.
PACKAGE_FILES = 20_000
NAME_BYTES = 240  # leaves room for a folder within the 255 of most file systems
TAG_FILE_BYTES = 16 * 2**20
TEXT_BYTES = 256 * 2**20
TOKEN_BYTES = 2**20
LISTED_DEFECTS = 50

# The journal. Above LARGEST_INTEGER a double no longer holds every integer (RFC 8785
# appendix D, RFC 7493 2.2).
LINE_BYTES = 2**20
EVENTS = 1_000_000
LARGEST_INTEGER = 2**53 - 1

# Pictures, in pixels, and sounds.
PHOTO_PIXELS = 120_000_000
PHOTO_SIDE = 29_999
EXIF_ENTRIES = 200
DRAWING_PIXELS = 200_000_000
NOTE_SAMPLES = 16_000 * 3600 * 4
PREVIEW_PIXELS = 89_000_000  # above which Pillow warns

# Reports: all pictures and sounds in one, the largest sound, the page without them.
EMBEDDED_BYTES = 64_000_000  # still opens on a phone
EMBEDDED_SOUND_BYTES = 8_000_000
REPORT_MARKUP_BYTES = 16 * 2**20  # a report of 1,000 photos has 3 MB

# What is typed or sent to the desk's page.
PIN_LENGTH = 64
PASSWORD_LENGTH = 256
FORM_BYTES = 64 * 2**10
