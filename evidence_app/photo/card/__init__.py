"""The scale card: its layout, its print, where it lies in a photo, what it tells about light."""
