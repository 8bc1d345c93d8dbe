"""Another centre and other axes for a law that is near to a standard normal one, learned from draws of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STEADY = 10.0  # draws' worth of trust in the mean and the widths as they were


@dataclass(frozen=True)
class Affine:
    """y = centre + L z of z (D, N): L is a triangle (k, k) over the first k coordinates, `width` on the others."""

    centre: np.ndarray
    axes: np.ndarray
    width: np.ndarray

    @classmethod
    def none(cls, size, turned):
        """y = z of `size` coordinates, of which the first `turned` may be turned among each other later."""
        return cls(np.zeros(size), np.eye(turned), np.ones(size - turned))

    def __call__(self, z):
        return self.centre[:, None] + self._times(z, self.axes)

    def carried(self, slopes):
        """Slopes with z (D, N) of slopes with y (D, N)."""
        return self._times(slopes, self.axes.T)

    def inverse(self, y):
        """z (D, N) of y (D, N)."""
        rest, turned = y - self.centre[:, None], len(self.axes)
        return np.concatenate([np.linalg.solve(self.axes, rest[:turned]), rest[turned:] / self.width[:, None]])

    def _times(self, values, axes):
        turned = len(axes)
        return np.concatenate([axes @ values[:turned], self.width[:, None] * values[turned:]])

    def refined(self, z, alike=1.0):
        """The same, centred, turned and stretched as draws z (D, n) of it say, `alike` of which tell as much as one.

        Their covariance is shrunk to its diagonal, and that to what it was, as if by as many more as there are
        coordinates to turn."""
        turned, n = len(self.axes), z.shape[1] / alike
        mean = z.mean(axis=1) * n / (n + STEADY)
        width = np.sqrt((n * np.maximum(z.std(axis=1), 1e-3) ** 2 + STEADY) / (n + STEADY))
        axes = self.axes
        if turned:
            weight = n / (n + 2 * turned)
            correlation = np.nan_to_num(np.corrcoef(z[:turned]).reshape(turned, turned))
            correlation = weight * correlation + (1 - weight) * np.eye(turned)
            axes = axes @ (width[:turned, None] * np.linalg.cholesky(correlation))
        return Affine(self.centre + self._times(mean[:, None], self.axes)[:, 0], axes, self.width * width[turned:])
