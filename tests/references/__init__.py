"""Small reference solvers built on numpy and scipy alone; they never import formsim."""
