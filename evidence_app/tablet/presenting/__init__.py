"""What the screens show, worked out without a window. Imports no Kivy."""
