"""The desk's windows: arrivals, one package, reused photos, search, review, where repairs stop.

Built like the tablet's own screens: ``presenting/`` makes words without Kivy, one module
for each screen fills the widgets, ``deskplace`` holds what is open and gives slow work to
the worker. Whatever is found or decided is the desk room's; nothing here decides.
"""
