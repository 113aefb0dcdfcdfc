"""What the sheet is made of: flow curves, anisotropy, the material library."""
