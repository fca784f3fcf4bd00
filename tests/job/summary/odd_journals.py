"""Hand-made journals: well chained, whatever they say."""

from __future__ import annotations

from hypothesis import strategies as st

from evidence_app.record.event import GENESIS, Draft, Event, Instant, seal_draft


def journal(*drafts: Draft) -> list[Event]:
    """These drafts as events, one second apart."""
    events: list[Event] = []
    for number, draft in enumerate(drafts, start=1):
        instant = Instant(f"2026-03-02T08:{number // 60:02d}:{number % 60:02d}.000+01:00",
                          number * 1_000_000, "boot-1")  # fmt: skip
        events.append(seal_draft(draft, instant, number, events[-1].hash if events else GENESIS))
    return events


anything_json = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(max_size=8)
    | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["sha256", "bytes", "of", "photo", "kind", "value"]), inner),
    max_leaves=6,
)  # fmt: skip
FIELDS = ["photo", "wanted", "note", "audio", "of", "reason", "finding", "leads_to", "reading",
          "value", "result", "checks", "device", "step_list", "by_s", "held_s", "at_least_s",
          "prohibitions", "source", "seconds", "set_aside", "outcome", "practice"]  # fmt: skip
KINDS = ["job-opened", "photo-taken", "photo-judged", "measured", "hold-started", "hold-ended",
         "reading-entered", "finding-given", "note-started", "note-recorded", "transcript-made",
         "repair-stopped", "taken-back", "corrected", "device-lost", "clock-stepped",
         "record-recovered", "job-closed", "step-entered", "name-given", "who-knows"]  # fmt: skip

odd_drafts = st.lists(
    st.builds(
        Draft,
        kind=st.sampled_from(KINDS),
        body=st.dictionaries(st.sampled_from(FIELDS), anything_json, max_size=6),
        step=st.sampled_from([None, "clean", "press", "nowhere"]),
    ),
    max_size=8,
)
"""Events of known kinds whose bodies hold anything that JSON can."""
