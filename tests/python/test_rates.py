"""Rates through the Python doors."""

import pytest
import warmledger as wl
from warmledger import errors


@pytest.mark.parametrize(
    ("advance", "payments", "periods", "published"),
    [
        # Regulation Z Appendix J (c)(1)(i), (c)(1)(ii), (c)(4)(ii), (c)(5)(iii), as public transcriptions print them.
        (5000, [(230, t, 0) for t in range(1, 25)], 12, 9.69),
        (6000, [(200, t, 19 / 30) for t in range(1, 37)], 12, 11.82),
        (8000, [(449.36, 0, 52 / 60), *((465, t, 52 / 60) for t in range(1, 19)), (200, 19, 52 / 60)], 6, 7.30),
        (1000, [(1135.19, 1, 6 / 12)], 1, 8.76),
    ],
)
def test_annual_percentage_rate(
    advance: float, payments: list[tuple[float, int, float]], periods: float, published: float
) -> None:
    rate = wl.loans.apr([(advance, 0, 0.0)], payments, unit_periods_per_year=periods)
    assert round(rate * 100, 2) == published


def test_a_rate_that_does_not_exist_says_why() -> None:
    with pytest.raises(errors.Error):
        wl.loans.apr([(1000, 0, 0.0)], [], unit_periods_per_year=12)


@pytest.mark.parametrize(
    ("flows", "rates"),
    [
        ([-1600, 10000, -10000], [0.25, 4.0]),  # the oil-pump problem, a classic of the textbooks
        ([-252, 1431, -3035, 2850, -1000], [0.25, 1 / 3, 3 / 7, 2 / 3]),  # a public textbook problem
        ([-100, 39, 59, 55, 20], [0.2809484211599611]),  # numpy-financial's docstring, 0.28095
        ([-1000, 3000, -2500], []),
        ([1, 2, 3], []),
    ],
)
def test_every_internal_rate(flows: list[float], rates: list[float]) -> None:
    assert wl.economics.irr(flows) == pytest.approx(rates, abs=1e-9)
