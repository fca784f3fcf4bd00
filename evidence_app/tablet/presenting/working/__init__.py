"""What the screens of the repair itself say."""
