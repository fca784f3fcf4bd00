"""Keys and what they sign besides the seal: key lists, tickets, time tokens, transport."""
