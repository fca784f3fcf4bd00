"""What the originals themselves say: that they are whole, when they were taken, what they give again."""
