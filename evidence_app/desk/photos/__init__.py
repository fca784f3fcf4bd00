"""Photos shown before in another claim: hashes, index, strict comparison, pairs."""
