"""The repair itself: a step, its photos, findings, holds, notes, the stop, the look back."""
