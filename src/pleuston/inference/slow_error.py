"""The law of what a model leaves out of a quantity: it stays for weeks, and has a rate.

A model that reads a tank's hardness a degree too high today will do so next week. The error
of a quantity is therefore one slow error, not a fresh one for each reading (Kennedy & O'Hagan
2001, Journal of the Royal Statistical Society B 63:425-464). Of what water collects it is also
fed: a source that the model does not know goes on. So the error e and its rate u follow

    de = (u - e / memory) dt + noise,    du = -u / (memory / 2) dt + noise,

where `trend` is the share of the variance of e that comes by the rate; with 0 the error is an
Ornstein-Uhlenbeck process about zero. A step that the water took stays for good where it is of
what water collects, and what the kit is out by is constant beside both. Of a store whose
first amount is learned with the rates, the error begins with the record: what the model is out
by on the first day is that amount's own uncertainty, and counts once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pleuston.inference.normal import Array

MODEL, RATE, STEP, KIT = 0, 1, 2, 3
"""Places of the model's error, its rate, steps that stay, and the kit's own error."""
PLACES = 4
FADE = 0.5
"""A rate fades within this share of the error's own memory: a choice."""


@dataclass(frozen=True)
class SlowError:
    """The law of some slow errors; every field may be a number or an array of a shape.

    model, kit: sd of the model's and the kit's error when nothing has been read. memory: days
    over which the model's fades to 1/e. trend: share of its variance that comes by its rate.
    begun: share of the model's error that is none yet on day 0, as the start is learned.
    """

    model: ArrayLike
    kit: ArrayLike
    memory: ArrayLike
    trend: ArrayLike
    begun: ArrayLike = 0.0

    @property
    def opening(self) -> Array:
        """Covariance (4, 4, ...) of model, rate, step and kit on day 0."""
        made = self.whole
        left = 1.0 - np.broadcast_to(np.asarray(self.begun, dtype=float), made.shape[2:])
        made[MODEL] *= left
        made[:, MODEL] *= left
        return made

    @property
    def whole(self) -> Array:
        """Covariance (4, 4, ...) of model, rate, step and kit when nothing has been read."""
        model, kit, memory, trend = self._arrays()
        made = np.zeros((PLACES, PLACES, *model.shape))
        fade = FADE * memory
        rate = trend * model**2 * (memory + fade) / (memory**2 * fade)
        made[MODEL, MODEL], made[RATE, RATE], made[KIT, KIT] = model**2, rate, kit**2
        made[MODEL, RATE] = made[RATE, MODEL] = rate * memory * fade / (memory + fade)
        return made

    def over(self, days: ArrayLike) -> tuple[Array, Array]:
        """What days do: matrix (4, 4, ...) that takes means along, and covariance that is added.

        Infinitely many days forget model and rate.
        """
        _, _, memory, _ = self._arrays()
        kept = np.exp(-np.asarray(days, dtype=float) / memory)
        rate_kept = np.exp(-np.asarray(days, dtype=float) / (FADE * memory))
        fed = FADE * memory / (1.0 - FADE) * (kept - rate_kept)
        along = np.zeros((PLACES, PLACES, *kept.shape))
        along[MODEL, MODEL], along[MODEL, RATE], along[RATE, RATE] = kept, fed, rate_kept
        along[STEP, STEP] = along[KIT, KIT] = 1.0
        whole = self.whole
        if along.ndim > whole.ndim:
            one = (1,) * (along.ndim - whole.ndim)
            whole = whole.reshape(*whole.shape[:2], *one, *whole.shape[2:])
        return along, whole - carried(along, whole)

    def related(self, first: Array, second: Array) -> Array:
        """Covariance of the slow errors of readings of two days."""
        model, kit, memory, _ = self._arrays()
        begun = np.asarray(self.begun, dtype=float)
        kept, also = np.exp(-first / memory), np.exp(-second / memory)
        none_yet = begun * (kept * self._apart(second) + also * self._apart(first))
        made = self._apart(np.abs(first - second)) - none_yet + begun**2 * kept * also * model**2
        return np.asarray(made + kit**2)

    def _apart(self, days: Array) -> Array:
        """Covariance of the model's error over some days, long after the start."""
        model, _, memory, trend = self._arrays()
        kept, rate_kept = np.exp(-days / memory), np.exp(-days / (FADE * memory))
        fed = (kept - FADE * rate_kept) / (1.0 - FADE)
        return np.asarray(model**2 * ((1.0 - trend) * kept + trend * fed))

    def _arrays(self) -> tuple[Array, Array, Array, Array]:
        model, kit, memory, trend = np.broadcast_arrays(
            *(np.asarray(x, dtype=float) for x in (self.model, self.kit, self.memory, self.trend))
        )
        return model, kit, memory, trend


def carried(along: Array, covariance: Array) -> Array:
    """A covariance (4, 4, ...) taken along by a matrix (4, 4, ...)."""
    return np.asarray(np.einsum("ij...,jk...,lk...->il...", along, covariance, along))
