"""The width of a seam beside the scale card, with its uncertainty, its drawing, or a refusal."""
