"""Whole runs against solutions that stand outside the project."""
