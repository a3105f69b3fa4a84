"""Affine maps of the plane."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class Affine:
    """The map x' = a x + c y + e, y' = b x + d y + f (SVG 2, section 8.5)."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @classmethod
    def translation(cls, x: float, y: float) -> Affine:
        """Return a shift by (x, y)."""
        return cls(e=x, f=y)

    @classmethod
    def scaling(cls, x: float, y: float) -> Affine:
        """Return a scaling about the origin."""
        return cls(a=x, d=y)

    @classmethod
    def rotation(cls, degrees: float, x: float = 0.0, y: float = 0.0) -> Affine:
        """Return a turn from x towards y about a point; exact at multiples of 90 degrees."""
        unit = unit_at(degrees)
        return cls(unit.real, unit.imag, -unit.imag, unit.real).about(x, y)

    @classmethod
    def skewing(cls, x_degrees: float, y_degrees: float) -> Affine:
        """Return ((1, tan x), (tan y, 1))."""
        return cls(b=math.tan(math.radians(y_degrees)), c=math.tan(math.radians(x_degrees)))

    def __matmul__(self, other: Affine) -> Affine:
        """Return the map that applies `other` first, then this one."""
        return Affine(
            self.a * other.a + self.c * other.b,
            self.b * other.a + self.d * other.b,
            self.a * other.c + self.c * other.d,
            self.b * other.c + self.d * other.d,
            self.a * other.e + self.c * other.f + self.e,
            self.b * other.e + self.d * other.f + self.f,
        )

    def about(self, x: float, y: float) -> Affine:
        """Return the same map with (x, y) in the place of the origin."""
        if x == 0.0 and y == 0.0:
            return self
        return Affine.translation(x, y) @ self @ Affine.translation(-x, -y)

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Return a point under the map."""
        return x * self.a + y * self.c + self.e, x * self.b + y * self.d + self.f

    @cached_property
    def determinant(self) -> float:
        """Factor by which signed areas grow."""
        return self.a * self.d - self.b * self.c

    @cached_property
    def mean_stretch(self) -> float:
        """By how much lengths grow, taken over both directions."""
        return math.sqrt(abs(self.determinant))

    @cached_property
    def stretch(self) -> float:
        """Largest singular value: the most by which any length grows."""
        return 0.5 * (
            math.hypot(self.a + self.d, self.b - self.c)
            + math.hypot(self.a - self.d, self.b + self.c)
        )

    @cached_property
    def pull(self) -> float:
        """Least growth of any length over the most, of a map that stretches along its own axes.

        Or along those of the plane it maps to; 1 of any other, such as one that skews.
        """
        columns, rows = self.a * self.c + self.b * self.d, self.a * self.b + self.c * self.d
        if min(abs(columns), abs(rows)) > 1e-4 * self.stretch**2:
            return 1.0
        return abs(self.determinant) / self.stretch**2 if self.stretch else 1.0

    @cached_property
    def is_flat(self) -> bool:
        """Whether the plane is squeezed into a line or a point (to within rounding)."""
        return abs(self.determinant) <= 1e-14 * self.stretch**2


def unit_at(degrees: float) -> complex:
    """Return cos + i sin of an angle in degrees, exact at multiples of 90."""
    quarter, rest = divmod(degrees, 90.0)
    if rest == 0.0:
        return (1 + 0j, 1j, -1 + 0j, -1j)[int(quarter) % 4]
    return complex(math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
