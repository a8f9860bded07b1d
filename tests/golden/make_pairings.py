"""Least-cost pairings of two groups, from scipy.optimize.linear_sum_assignment: pairings.json.

Within one set a pairing is a matching and no assignment; where every pair takes one of each group it is both.

Run: python make_pairings.py [--check]
"""
import numpy as np
from scipy.optimize import linear_sum_assignment

from golden_io import settle

SETS = 100
rng = np.random.default_rng(20)


def one(k):
    size = 1 + k % 8
    costs = rng.integers(0, 10_000, (size, size))
    left, right = linear_sum_assignment(costs)
    return {"costs": costs.tolist(), "cost": int(costs[left, right].sum())}


settle("pairings.json", [one(k) for k in range(SETS)], 0)
