"""What the page's templates write, made ready: words, rows and sentences in the reader's language."""
