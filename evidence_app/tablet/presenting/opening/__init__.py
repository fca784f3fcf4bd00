"""What the screens before the first step say."""
