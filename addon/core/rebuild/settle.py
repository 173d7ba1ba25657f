"""The shape that has least of a shell's energy."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from ..stopping import ask
from .shell import Shell

LONGEST = 30.0  # mm that a step may move a point
EASE, FIRM = 4.0, 6.0  # factors by which the damping falls and rises


def settled(shell: Shell, x: np.ndarray, steps: int, close: float = 1e-3, damping: float = 1e-3
            ) -> np.ndarray:
    """Positions (n, 3) of least energy near x, by Levenberg and Marquardt's method (Nocedal and
    Wright, "Numerical Optimization", 10.3); ends once no point moves further than close, mm."""
    residual = shell.residual(x)
    energy = residual @ residual
    mass = sp.diags(np.repeat(shell.mass / shell.mass.mean(), 3))
    done = 0
    while done < steps:
        ask()
        derivative = shell.derivative(x)
        matrix, slope = (derivative.T @ derivative).tocsc(), derivative.T @ residual
        for _ in range(8):
            done += 1
            step = -_solved(matrix + damping * mass, slope).reshape(-1, 3)
            far = np.abs(step).max()
            step *= min(1.0, LONGEST / max(far, 1e-300))
            tried = shell.residual(x + step)
            if tried @ tried < energy:
                break
            damping = max(FIRM * damping, 1e-9)
        else:
            return x
        gain = energy - tried @ tried
        x, residual, energy = x + step, tried, tried @ tried
        damping = max(damping / EASE, 1e-9)
        if min(far, LONGEST) < close or gain < 1e-9 * energy + 1e-12:
            break
    return x


def _solved(matrix, right):
    return splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                options={"SymmetricMode": True}).solve(right)
