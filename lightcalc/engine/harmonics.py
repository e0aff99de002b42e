"""Real spherical harmonics to order 3: how bounced light in the air is kept."""

from __future__ import annotations

import numpy as np

from lightcalc.engine.kernels import TABLE, inner, kernel


@inner
def harmonics(x, y, z, out):
    """
    The 16 real, orthonormal spherical harmonics of order 0 to 3 at a unit vector, into `out`.

    References: any text on quantum angular momentum or potential theory; checked by quadrature in the tests.
    """
    out[0] = 0.28209479177387814
    out[1], out[2], out[3] = 0.4886025119029199 * y, 0.4886025119029199 * z, 0.4886025119029199 * x
    out[4], out[5] = 1.0925484305920792 * x * y, 1.0925484305920792 * y * z
    out[6] = 0.31539156525252005 * (3.0 * z * z - 1.0)
    out[7], out[8] = 1.0925484305920792 * x * z, 0.5462742152960396 * (x * x - y * y)
    out[9] = 0.5900435899266435 * y * (3.0 * x * x - y * y)
    out[10] = 2.890611442640554 * x * y * z
    out[11] = 0.4570457994644658 * y * (5.0 * z * z - 1.0)
    out[12] = 0.3731763325901154 * z * (5.0 * z * z - 3.0)
    out[13] = 0.4570457994644658 * x * (5.0 * z * z - 1.0)
    out[14] = 1.445305721320277 * z * (x * x - y * y)
    out[15] = 0.5900435899266435 * x * (x * x - 3.0 * y * y)


@kernel(TABLE)
def harmonics_of(ways):
    """`harmonics` at many unit vectors (n, 3), (n, 16)."""
    out = np.empty((ways.shape[0], 16))
    for k in range(ways.shape[0]):
        harmonics(ways[k, 0], ways[k, 1], ways[k, 2], out[k])
    return out
