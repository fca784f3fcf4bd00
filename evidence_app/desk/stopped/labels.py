"""What is written on the picture of stops: English, or whatever language is given."""

from msgspec import Struct

from evidence_app.desk.stopped.counts import NO_JUDGEMENT


class Labels(Struct, frozen=True):
    """What is written on the picture; {places} are filled. ``title`` None: it names the
    grouping as the register does."""

    title: str | None = None
    no_judgement: str = NO_JUDGEMENT
    share: str = "share of jobs that were stopped"
    interval: str = "95 % interval (Wilson)"
    within: str = "within the limits"
    outside: str = "outside the limits"
    few: str = "few jobs: no conclusion"
    together: str = "all groups together"
    limits: str = "control limits (3 sigma)"
    of: str = "{stops} of {jobs}"
    reasons: str = "Reasons, most frequent first"
    others: str = "all other reasons"
    so_far: str = "{share} so far"
    stops: str = "stops"


ENGLISH = Labels()
