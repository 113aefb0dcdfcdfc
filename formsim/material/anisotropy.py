"""Hill's quadratic yield function for sheet that is alike in all directions of its plane."""

from __future__ import annotations


def hill_weights(r_bar: float) -> tuple[float, float, float]:
    """Weights of the squared stress modes in the equivalent stress [-].

    With r radial, t hoop, n the sheet normal, the modes
    ``x1 = (2 s_nn - s_rr - s_tt)/sqrt(6)``, ``x2 = (s_rr - s_tt)/sqrt(2)``,
    ``x3 = sqrt(2) s_rn`` give ``s_eq**2 = mu1 x1**2 + mu2 x2**2 + mu3 x3**2``,
    which is ``[(s_rr - s_nn)**2 + (s_tt - s_nn)**2 + r_bar (s_rr - s_tt)**2]/(1 + r_bar)``
    plus the shear of von Mises; r_bar = 1 is von Mises altogether.

    Parameters
    ----------
    r_bar : mean r-value, above zero [-]

    Returns
    -------
    mu1, mu2, mu3 [-]

    Source: R. Hill, "A theory of the yielding and plastic flow of anisotropic metals",
    Proc. R. Soc. A 193, 1948, quadratic criterion with F = G, H = r_bar F, L = M = 3 F,
    scaled to tension in the plane (memory); the transverse shear is not measured by
    r_bar and is left as in von Mises.
    """
    return 3.0 / (1.0 + r_bar), (1.0 + 2.0 * r_bar) / (1.0 + r_bar), 1.5
