"""What the user asked for: the case file, its units, its defaults and its faults."""
