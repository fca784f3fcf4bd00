"""Makes msgspec work a type out before threads use it.

msgspec does that when a type is first decoded or converted to, and shows the type's
half-made description to other threads meanwhile: two threads that begin at once crash the
process (seen with msgspec 0.22 on CPython 3.11). Imports are made one at a time, so
each module prepares its types when it is imported.
"""

import msgspec


def prepare(*kinds: type) -> None:
    """Work out each type and what it is made of, once and for all."""
    for kind in kinds:
        msgspec.json.Decoder(kind)
