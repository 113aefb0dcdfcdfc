"""From tensile tests to a material card: files, characteristic values, fitted flow curves."""
