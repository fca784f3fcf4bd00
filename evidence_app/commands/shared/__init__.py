"""What several commands share: asking for a PIN or a file, whose keys are believed, capture."""
