"""Textbook estimates to stand beside the computed numbers, each with its source and range."""
