"""Shapes: tool outlines of lines and arcs, distances to them, and the mesh of the blank."""
