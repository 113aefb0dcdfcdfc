"""What a run leaves behind: store, measures, theory, checks."""
