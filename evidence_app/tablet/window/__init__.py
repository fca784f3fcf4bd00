"""What is always there around the screens: head, notices, keys, the listening sign."""
