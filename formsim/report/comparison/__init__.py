"""Results side by side: what differs between them, which is better at what, and at which price."""
