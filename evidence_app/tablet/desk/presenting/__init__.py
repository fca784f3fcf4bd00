"""What the desk's windows say. Knows no Kivy."""
