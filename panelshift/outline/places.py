"""Linear interpolation at places found once and read many times."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .bezier import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Places:
    """Places between samples: what `numpy.interp` works out anew for every row of values.

    Parameters
    ----------
    left, right : ndarray of int, shape (k,)
        The samples on both sides.
    weight : ndarray, shape (k,)
        Share of the right one, 0 to 1.
    step : ndarray, shape (k,) or (1,)
        Distance between the two.
    """

    left: IntArray
    right: IntArray
    weight: FloatArray
    step: FloatArray

    @classmethod
    def even(cls, wanted: FloatArray, samples: FloatArray) -> Places:
        """Find places among evenly spaced samples; those beyond the ends stay at the ends."""
        step = samples[1:2] - samples[0]
        place = (wanted - samples[0]) / step
        place = np.minimum(np.maximum(place, 0.0), len(samples) - 1.0)
        left = np.minimum(place.astype(np.int64), len(samples) - 2)
        return cls(left, left + 1, place - left, step)

    @classmethod
    def among(
        cls,
        wanted: FloatArray,
        group: IntArray,
        samples: FloatArray,
        keys: FloatArray,
        starts: IntArray,
    ) -> Places:
        """Find places among samples that lie in groups, one after the other.

        Parameters
        ----------
        wanted : ndarray, shape (k,)
        group : ndarray of int, shape (k,)
            The group in which each is looked for; beyond its ends they stay at its ends.
        samples : ndarray, shape (n,)
            Increasing within each group.
        keys : ndarray, shape (n,)
            The samples moved apart by group, so that they increase throughout.
        starts : ndarray of int, shape (groups + 1,)
            First sample of each group.
        """
        first, last = starts[group], starts[group + 1] - 1
        moved = keys[first] - samples[first] + wanted
        left = np.searchsorted(keys, moved, side="right") - 1
        left = np.maximum(np.minimum(left, last - 1), first)
        right = np.minimum(left + 1, last)
        low = samples[left]
        step = np.where(right > left, samples[right] - low, 1.0)
        weight = (wanted - low) / step
        return cls(left, right, np.minimum(np.maximum(weight, 0.0), 1.0), step)

    def read(self, values: FloatArray) -> FloatArray:
        """Values at the places, shape (..., k), from samples of shape (..., n)."""
        result = values.take(self.right, axis=-1)
        low = values.take(self.left, axis=-1)
        result -= low
        result *= self.weight
        result += low
        return result

    def read_rows(self, values: FloatArray, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Values at the places, each from a row of its own, and their rates of change, (k,).

        Parameters
        ----------
        values : ndarray, shape (rows, n)
        row : ndarray of int, shape (k,)
        """
        # One take from the flat array is several times faster than an index for each axis.
        flat, first = values.reshape(-1), row * values.shape[1]
        low = flat.take(first + self.left)
        rise = flat.take(first + self.right) - low
        return low + self.weight * rise, rise / self.step
