"""Small finite fields: arithmetic on 0 to q - 1 for a prime or a small power of one."""

from __future__ import annotations

from dataclasses import dataclass

# Coefficients (constant first, the leading 1 left out) of an irreducible polynomial of each power
# of a prime up to 32 (Lidl & Niederreiter 1997, Finite Fields, chapter 10, table C).
_POLYNOMIALS: dict[int, tuple[int, tuple[int, ...]]] = {
    4: (2, (1, 1)),
    8: (2, (1, 1, 0)),
    9: (3, (1, 0)),
    16: (2, (1, 1, 0, 0)),
    25: (5, (2, 0)),
    27: (3, (1, 2, 0)),
    32: (2, (1, 0, 1, 0, 0)),
}


@dataclass(frozen=True, slots=True)
class FiniteField:
    """A field of p^m elements; an element's digits to the base p are its coefficients."""

    prime: int
    polynomial: tuple[int, ...]

    def minus(self, a: int, b: int) -> int:
        """The difference of two elements."""
        return self._number(
            [(x - y) % self.prime for x, y in zip(self._digits(a), self._digits(b), strict=True)]
        )

    def times(self, a: int, b: int) -> int:
        """The product of two elements: of the polynomials, reduced by the irreducible one."""
        degree = len(self.polynomial)
        product = [0] * (2 * degree - 1)
        for i, x in enumerate(self._digits(a)):
            for j, y in enumerate(self._digits(b)):
                product[i + j] += x * y
        for top in range(len(product) - 1, degree - 1, -1):
            for i, coefficient in enumerate(self.polynomial):
                product[top - degree + i] -= product[top] * coefficient
            product[top] = 0
        return self._number([x % self.prime for x in product[:degree]])

    def _digits(self, element: int) -> list[int]:
        return [element // self.prime**i % self.prime for i in range(len(self.polynomial))]

    def _number(self, digits: list[int]) -> int:
        return sum(digit * self.prime**i for i, digit in enumerate(digits))


def finite_field(order: int) -> FiniteField | None:
    """The field with ``order`` elements; None where there is none, or none is tabled."""
    if order > 1 and all(order % divisor for divisor in range(2, int(order**0.5) + 1)):
        return FiniteField(order, (0,))
    known = _POLYNOMIALS.get(order)
    return None if known is None else FiniteField(*known)
