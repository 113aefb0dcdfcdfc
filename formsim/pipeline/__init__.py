"""The chain of a case: stage after stage, then checks and files."""
