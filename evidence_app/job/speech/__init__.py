"""Between the voice and the job: what may be said here, and what is read aloud."""
