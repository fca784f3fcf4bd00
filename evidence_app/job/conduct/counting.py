"""The conduct check on what was counted out of the unit and into it.

The balance (``Walk.unbalanced``) is the check's own sum over the counts that stand.
"""

from evidence_app.job import vocabulary as v
from evidence_app.job.conduct.walk import CountSeen, Handlers, Walk
from evidence_app.record.event import Event

_SAYS_SOMETHING = 3  # letters or digits


def _counted(walk: Walk, event: Event, body: v.PiecesCounted) -> None:
    walk.must_be_here(event)
    asked = walk.asked.get(event.step or "", {}).get(body.thing)
    if asked is None:
        walk.breach(event, "counts {thing}, which the step list does not count here", thing=body.thing)
        return
    shown = walk.at(event.step or "")
    shown.go_on = False
    if body.goes != asked.goes:
        walk.breach(event, "counts {thing} the other way than the step list", thing=body.thing)
        return
    if body.photo is not None and body.photo not in walk.photos:
        walk.breach(event, "names the photo {photo}, which was not taken before it", photo=body.photo[:12])
    explained = sum(sign.isalnum() for sign in body.reason or "") >= _SAYS_SOMETHING
    if body.reason is not None and not explained:
        walk.breach(event, "gives a reason that says nothing")
    if body.count != asked.listed and not explained:
        walk.breach(
            event, "counts {count} where {listed} are listed, without a reason",
            count=body.count, listed=asked.listed,
        )  # fmt: skip
    if body.other is not None and not (explained and body.other.strip()):
        walk.breach(event, "counts pieces of another kind without a reason")
    shown.counts[body.thing] = CountSeen(event.sequence, body.count, explained)


COUNTED: Handlers = {"pieces-counted": _counted}
