"""From sound to meaning: utterances, the speech model, the phrases allowed, numbers, dialogue."""
