"""Laws of uncertain numbers: there and back, and the right shape."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pleuston.base.errors import InputError
from pleuston.base.parameters import Parameter
from pleuston.inference.prior import Prior, Uncertain

PRIOR = Prior(
    (
        Uncertain("growth", "lognormal", 0.3, spread=0.5, unit="1/d"),
        Uncertain("share", "uniform", 0.3, low=0.1, high=0.6),
        Uncertain("offset", "normal", -1.0, spread=2.0, unit="K"),
    )
)


def record(name: str, value: float, low: float, high: float, spread: float, law: str) -> Parameter:
    return Parameter(
        name, value, "1/d", low, high, spread, law, "invented", "nobody", "nowhere", "guess", ""
    )


def test_there_and_back() -> None:
    theta = PRIOR.sample(500, seed=1)
    np.testing.assert_allclose(PRIOR.to_theta(PRIOR.to_physical(theta)), theta, atol=1e-9)


def test_values_follow_their_laws() -> None:
    values = PRIOR.to_physical(np.random.default_rng(5).standard_normal((20000, 3)))
    laws = [stats.lognorm(0.5, scale=0.3), stats.uniform(0.1, 0.5), stats.norm(-1.0, 2.0)]
    for column, law in zip(values.T, laws, strict=True):
        assert stats.kstest(column, law.cdf).pvalue > 0.01


def test_samples_are_standardised_and_repeatable() -> None:
    theta = PRIOR.sample(64, seed=7)
    np.testing.assert_allclose(theta.mean(axis=0), 0.0, atol=1e-14)
    np.testing.assert_allclose(theta.std(axis=0, ddof=1), 1.0)
    np.testing.assert_array_equal(theta, PRIOR.sample(64, seed=7))
    assert not np.array_equal(theta, PRIOR.sample(64, seed=8))


def test_density_is_the_standard_normal_one() -> None:
    theta = PRIOR.sample(5, seed=2)
    expected = stats.norm.logpdf(theta).sum(axis=1)
    np.testing.assert_allclose(PRIOR.log_density(theta), expected, rtol=1e-13)


def test_bounds_of_a_uniform_law_can_be_given() -> None:
    theta = PRIOR.to_theta([[0.3, 0.1, 0.0], [0.3, 0.6, 0.0]])
    assert np.isfinite(theta).all()
    np.testing.assert_allclose(PRIOR.to_physical(theta)[:, 1], [0.1, 0.6], atol=1e-9)


def test_values_outside_a_law_are_refused() -> None:
    with pytest.raises(InputError, match=r"outside 0\.1 to 0\.6"):
        PRIOR.to_theta([[0.3, 0.7, 0.0]])
    with pytest.raises(InputError, match="not above 0"):
        PRIOR.to_theta([[-0.3, 0.3, 0.0]])


def test_records_become_a_prior_without_the_fixed_ones() -> None:
    records = {
        "a": record("a", 1.0, 0.1, 10.0, 0.4, "lognormal"),
        "b": record("b", 2.0, 2.0, 2.0, 0.0, "fixed"),
        "c": record("c", 0.5, 0.0, 1.0, 0.3, "uniform"),
    }
    prior = Prior.of(records)
    assert prior.names == ("a", "c")
    assert prior.parts[0] == Uncertain("a", "lognormal", 1.0, 0.1, 10.0, 0.4, "1/d")
    assert Prior.of(records, ["c"]).names == ("c",)
    assert prior.at("c") == 1
    with pytest.raises(InputError, match="its law 'fixed'"):
        Prior.of(records, ["b"])


@pytest.mark.parametrize(
    "fields",
    [
        {"law": "lognormal", "value": 0.0, "spread": 0.3},
        {"law": "lognormal", "value": 1.0, "spread": 0.0},
        {"law": "uniform", "value": 0.5, "low": 1.0, "high": 0.0},
        {"law": "uniform", "value": 0.5},
        {"law": "normal", "value": 0.0, "spread": np.nan},
        {"law": "beta", "value": 0.5},
    ],
)
def test_impossible_laws_are_refused(fields: dict[str, object]) -> None:
    with pytest.raises(InputError, match="uncertain number x"):
        Uncertain("x", **fields)  # type: ignore[arg-type]


def test_a_name_counts_once() -> None:
    part = Uncertain("x", "normal", 0.0, spread=1.0)
    with pytest.raises(InputError, match="x named twice"):
        Prior((part, part))
    with pytest.raises(InputError, match="nothing is uncertain"):
        Prior(())
