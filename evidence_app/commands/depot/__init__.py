"""What a depot does: its desk, keys, tickets, time stamps, kits, countersigning."""
