"""The tablet's listening and speaking: commands, reading aloud, transcripts, playback."""
