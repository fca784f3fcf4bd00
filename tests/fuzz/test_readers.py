"""Damaged input is refused in a sentence: the corpus again, and some new damages each time.

A longer run: python -m tests.bench fuzz --minutes 30
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from tests.fuzz.readers import READERS, corpus, edits, survives


@pytest.mark.parametrize(("reader", "damage"), corpus())
def test_the_corpus(reader, damage):
    survives(reader, damage)


@pytest.mark.parametrize("reader", READERS)
def test_new_damages(reader):
    @settings(max_examples=10, database=None, suppress_health_check=list(HealthCheck))
    @given(edits)
    def once(damage):
        survives(reader, damage)

    once()
