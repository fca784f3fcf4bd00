"""What two plays of one session have in common: their content, and the photos they saw."""

from __future__ import annotations

from evidence_app.devices.camera import Shot


def essence(events):
    """Everything of the events but times, identities and bytes that differ from run to run."""
    return [(e.kind, e.step, _content(e)) for e in events]


def recalled(events, path_of, seen: int = 0):
    """Eyes before which are the photos of ``events``, from the one after ``seen`` on.

    ``path_of`` gives the file of a photo's SHA-256."""
    taken = iter([e for e in events if e.kind == "photo-taken"][seen:])

    def eyes(scene, _wall):
        event = next(taken)
        data = path_of(event.body["photo"]["sha256"]).read_bytes()
        return Shot(data, {**event.body["source"], "scene": scene})

    return eyes


def _content(event):
    body = event.body
    kept = {
        "photo-taken": ("wanted", "purpose", "width", "height"),
        "photo-judged": ("passes",),
        "photo-kept": ("reason",),
        "hold-ended": ("met",),
        "note-recorded": ("note", "cut_short"),
        "job-opened": ("step_list", "variant", "device", "claim", "technician", "practice"),
    }.get(event.kind)
    if kept is None:
        return {key: value for key, value in body.items() if key != "held_s"}
    found = {key: body[key] for key in kept}
    if event.kind == "photo-taken":
        found["scene"] = body["source"]["scene"].partition("take=")[0]
        found["retake"] = body["retake_of"] is not None
    return found
