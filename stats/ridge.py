"""Ridge regression of many answers on the same few predictors at once, and how it foretells what it left out. Pure.

Hoerl and Kennard, Technometrics 12, 1970: weights (XᵀX + nκI)⁻¹Xᵀy. κ is chosen by leaving out one row at a time
(Stone, J. R. Stat. Soc. B 36, 1974; both from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SHRINKAGES = tuple(float(share) for share in np.geomspace(0.03, 30, 7))  # κ; times the number of rows
Numbers = NDArray[np.float64]


def solvers(predictors: Numbers) -> Numbers:
    """What makes weights of answers, for each of `SHRINKAGES`; shape (shrinkages, predictors, rows).

    Parameters
    ----------
    predictors
        Shape (rows, predictors).
    """
    penalties = len(predictors) * np.array(SHRINKAGES)[:, None, None] * np.eye(predictors.shape[1])
    turned = np.broadcast_to(predictors.T, (len(SHRINKAGES), *predictors.T.shape))
    return np.asarray(np.linalg.solve(predictors.T @ predictors + penalties, turned))


def left_out_errors(predictors: Numbers, solved: Numbers, answers: Numbers) -> Numbers:
    """Σ of squared errors of rows left out, by the residuals over 1 − h; shape (shrinkages, columns).

    Parameters
    ----------
    predictors
        As deviations from their means over these rows, which each row had its part in.
    solved
        The `solvers` of these predictors.
    answers
        The same of shape (rows, columns).
    """
    hats = predictors @ solved
    kept = 1 - np.diagonal(hats, axis1=1, axis2=2) - 1 / len(predictors)
    missed = ((np.eye(len(predictors)) - hats) / kept[:, :, None]) @ answers
    return np.asarray(np.einsum("krc,krc->kc", missed, missed))


def left_out_rows(predictors: Numbers, answers: Numbers) -> Numbers:
    """Each row of answers foretold by all other rows, about their means, κ chosen among them; shape (rows, columns).

    Parameters
    ----------
    predictors, answers
        Shapes (rows, predictors) and (rows, columns).
    """
    foretold = np.empty_like(answers)
    for row in range(len(predictors)):
        others = np.arange(len(predictors)) != row
        at, middle = predictors[others].mean(axis=0), answers[others].mean(axis=0)
        train, known, asked = predictors[others] - at, answers[others] - middle, predictors[row] - at
        solved = solvers(train)
        chosen = np.argmin(left_out_errors(train, solved, known), axis=0)
        every = asked @ solved @ known
        foretold[row] = middle + np.take_along_axis(every, chosen[None], axis=0)[0]
    return foretold
