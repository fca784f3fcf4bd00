"""The tablet: the technician's whole job on one screen. Shows and forwards, nothing else.

How it is built, from what knows nothing of a window to what draws it:

- ``presenting/``: no Kivy. Pure functions from a job's step list and state to what a
  screen shows (frozen Structs), the palette with its contrast, and every word, through
  ``language.say`` (gettext, catalogues in assets/locale). No text stands in a
  .kv file or in a widget.
- ``worker.py``: one thread for the job, one for the camera. ``run(work, done, failed)``
  gives back at once; ``done`` and ``failed`` are called on the UI thread.
- ``workplace.py``: no Kivy. What is open: the job, camera, microphone, settings and
  notices. Every command goes through ``Workplace.do``. Screens ask it and bind to
  nothing else.
- ``widgets/``: Words (text that grows instead of being cut), Plate (the one button; its
  ``action`` is a name such as ``next`` by which touch, key and voice all reach it),
  ActionRow, Page. Sizes come from ``widgets.sizes``: text size and touch targets.
- ``screens/``: one module and one .kv per screen, each a ``BaseScreen``: ``show()`` asks
  a presenter and fills the widgets; it is called whenever the job or a notice changed.
  ``screens.SCREENS`` names them; they are made when first shown.
- ``frame.py``: what is always there: practice mark, step n of m, what is owed, what is
  safe (for a few seconds the offer to take back in their place), the calm strip of
  notices, the graduated rule at the left. ``frame.act(name)``
  presses the plate with that action, which is how a spoken command is carried out.
- ``window/guard.py``: a place whose meaning changed takes no touch and no key for a while.
- ``app.py``: the window, keys, the focus ring, the first screen.

May import every lower room; nothing but the command line imports it.
"""
