"""Axisymmetric elastoplastic solid with contact: knows meshes, tools and pressures, not cups."""
