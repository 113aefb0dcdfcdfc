"""A groove in a sheet, solved the classical way: stresses of the groove as unknowns, scipy's root.

Marches along the strain of the sheet, in stresses and strains of the groove's frame; knows nothing
of the angle of the stress by which formsim writes the same model.
"""

import numpy as np
from scipy.optimize import brentq, root


def equivalent(stress, r):
    """Hill 1948, plane stress, alike in all directions of the plane."""
    nn, tt, nt = stress
    share = r / (1.0 + r)
    return np.sqrt(nn**2 + tt**2 - 2.0 * share * nn * tt + 2.0 * (1.0 + share) * nt**2)


def normal(stress, r):
    """Derivative of the equivalent stress by nn and tt."""
    nn, tt, _ = stress
    share = r / (1.0 + r)
    level = equivalent(stress, r)
    return (nn - share * tt) / level, (tt - share * nn) / level


def runaway(flow, path, imperfection, r=1.0, angle=0.0, step=2e-4):
    """Major strain at which the groove has no equilibrium any more; the groove turns along."""
    share = r / (1.0 + r)
    ratio = (path + share) / (1.0 + share * path)
    unit = np.sqrt(1.0 + ratio**2 - 2.0 * share * ratio)
    groove = thinned = major = 0.0
    guess = np.array([0.01, 1.0, 1.0 / imperfection])
    while True:
        major += step
        sheet = flow((1.0 + ratio * path) / unit * major)
        tilt = np.arctan(np.tan(angle) * np.exp(major * (1.0 - path)))
        cos, sin = np.cos(tilt), np.sin(tilt)
        nn = (cos**2 + ratio * sin**2) / unit * sheet
        nt = (ratio - 1.0) * sin * cos / unit * sheet
        along = step * (sin**2 + path * cos**2)
        thickness = np.exp(-(1.0 + path) * major)

        now = (nn, nt, along, thickness, sheet, groove, thinned)

        def residual(x, now=now):
            nn, nt, along, thickness, sheet, groove, thinned = now
            more, hoop, scale = x
            stress = nn * scale, hoop * sheet, nt * scale
            first, second = normal(stress, r)
            lean = imperfection * np.exp(thinned - more * (first + second))
            return [
                equivalent(stress, r) / flow(groove + max(more, 0.0)) - 1.0,
                (more * second - along) / step,
                scale - thickness / lean,
            ]

        found = root(residual, guess, tol=1e-12)
        if np.abs(found.fun).max() > 1e-8 or not 0.0 < found.x[0] < 0.2:
            return major - step
        if major > 2.0:
            message = "the groove does not run away"
            raise ValueError(message)
        more, hoop, scale = found.x
        first, second = normal((nn * scale, hoop * sheet, nt * scale), r)
        groove, thinned = groove + more, thinned - more * (first + second)
        guess = found.x


def plane_strain(n, imperfection):
    """(e/n)**n exp(n - e) = f, Marciniak and Kuczynski 1967 for a power law, in closed form."""
    return brentq(lambda e: (e / n) ** n * np.exp(n - e) - imperfection, 1e-9, n)
