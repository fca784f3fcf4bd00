"""How a perforated strip lies in its opening, with its uncertainty, its drawing, or a refusal."""
