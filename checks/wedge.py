"""Sound bent round the edge of a rigid wedge, exactly, from a point source; and the same at a half-plane by another formula.

The wedge: Hadden and Pierce, J. Acoust. Soc. Am. 69 (1981), after Macdonald (1915) and Biot and Tolstoy (1957). In the open angle
theta_w (360 degrees less the wedge's own), with nu = pi/theta_w, what the edge adds to what is seen is four terms, for
phi = pi +- theta_s +- theta_r,

    -(nu/4 pi) integral over all eta of sin(nu phi) / (cosh(nu eta) - cos(nu phi)) exp(i k R(eta)) / R(eta) d eta,
    R(eta)^2 = r_s^2 + r_r^2 + 2 r_s r_r cosh eta + (z_s - z_r)^2,

for a source that gives exp(i k R)/R in the open. It is taken along the path on which R = R_0 + i v^2: there exp(i k R) falls as
exp(-k v^2) without turning, and no pole lies between that path and the real one (all have a real part of 0). Images in the faces
are seen where theta_r < pi - theta_s and beyond 2 theta_w - pi - theta_s. Formulas from memory; held against Macdonald's solution
and reciprocity in `test_wedge.py`.
"""

import numpy as np
from scipy.integrate import quad
from scipy.special import hankel1


class Place:
    """In the wedge's own coordinates: distance from the edge, angle from one face, place along the edge."""

    def __init__(self, radius, angle, along=0.0):
        self.radius, self.angle, self.along = radius, angle, along


def apart(s, r, turned):
    """Distance of two places whose angles differ by `turned`."""
    return np.sqrt(s.radius**2 + r.radius**2 - 2 * s.radius * r.radius * np.cos(turned) + (s.along - r.along) ** 2)


def bent(s, r, open_angle, k, nodes=6000):
    """What the edge adds."""
    nu = np.pi / open_angle
    rr = s.radius * r.radius
    shortest = np.sqrt((s.radius + r.radius) ** 2 + (s.along - r.along) ** 2)
    # Close to the edge of a shadow a pole lies near v = 0: evenly in the logarithm, down to where nothing is left.
    x = np.linspace(np.log(1e-12), np.log(6.5 / np.sqrt(k)), nodes)
    v = np.exp(x)
    # cosh eta - 1 = (R^2 - R_0^2)/(2 r_s r_r), without losing figures where that is small; so with the denominators.
    more = (2j * shortest * v**2 - v**4) / (2 * rr)
    eta = 2 * np.arcsinh(np.sqrt(more / 2))
    total = np.zeros(nodes, complex)
    for turned in (np.pi + s.angle + r.angle, np.pi + s.angle - r.angle, np.pi - s.angle + r.angle, np.pi - s.angle - r.angle):
        total += np.sin(nu * turned) / (2 * np.sinh(nu * eta / 2) ** 2 + 2 * np.sin(nu * turned / 2) ** 2)
    # d eta = R dR / (rr sinh eta), dR = 2 i v dv, dv = v dx; both halves of eta alike.
    inner = total * np.exp(-k * v**2) / (rr * np.sinh(eta)) * 2j * v**2
    return -nu / (2 * np.pi) * np.exp(1j * k * shortest) * np.trapezoid(inner, x)


def seen(s, r, open_angle, k):
    """Straight sound and the images in both faces, where they are seen."""
    total = 0j
    for turned in (abs(s.angle - r.angle), s.angle + r.angle, 2 * open_angle - s.angle - r.angle):
        if turned < np.pi:
            far = apart(s, r, turned)
            total += np.exp(1j * k * far) / far
    return total


def wedge(s, r, open_angle, k):
    """Pressure at r."""
    return seen(s, r, open_angle, k) + bent(s, r, open_angle, k)


def half_plane(s, r, k):
    """Macdonald's solution for a rigid half-plane (Bowman, Senior and Uslenghi (1969), section 8.4; from memory): for the source
    and its image i k times the integral of H1(k R + x^2)/sqrt(x^2 + 2 k R) from -+sqrt(k (R_1 - R)) on, over all x exp(i k R)/R."""
    shortest = np.sqrt((s.radius + r.radius) ** 2 + (s.along - r.along) ** 2)
    total = 0j
    for turned in (s.angle - r.angle, s.angle + r.angle):
        far = apart(s, r, turned)
        start = np.sqrt(max(k * (shortest - far), 0.0))

        # Turned up into the plane behind its start, where it falls instead of oscillating.
        def inner(t, start=start, far=far):
            x = start + t * np.exp(0.25j * np.pi)
            return hankel1(1, k * far + x * x) / np.sqrt(x * x + 2 * k * far) * np.exp(0.25j * np.pi)

        re, im = (quad(lambda t, part=part: getattr(inner(t), part), 0, 7, epsabs=1e-9)[0] for part in ("real", "imag"))
        beyond = 1j * k * (re + 1j * im)
        total += np.exp(1j * k * far) / far - beyond if np.cos(turned / 2) > 0 else beyond
    return total
