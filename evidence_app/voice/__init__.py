"""What was said: recording of voice notes, spoken commands, transcripts, prompts.

Works on blocks of samples handed in by a microphone and writes only into the
scratch folder it is given. Touches no journal, no network and no screen.
"""
