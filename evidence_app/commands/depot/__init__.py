"""What a depot does beside its desk: keys, tickets, time stamps, kits, countersigning."""
