"""The conduct check: does a journal obey its step list?

Judges anew, without the rules, the state or the fold that wrote the journal, so that a fault
there is found here. Touches only the vocabulary of events and the step list.
"""
