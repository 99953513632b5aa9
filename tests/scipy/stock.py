"""When to order an item and how many: costs by numerical integration, roots and exhaustive search."""

import math

import numpy as np
from scipy import signal, special, stats

from cases import comparison, random, root, uniform

NODES, WEIGHTS = np.polynomial.legendre.leggauss(40)


class Normal:
    """Holding and shortage costs in a day over levels, of normal demand."""

    def __init__(self):
        self.demand, self.days, self.deviation = uniform(5, 100), uniform(0.5, 20), uniform(1, 30)
        self.h, self.p = uniform(0.05, 1), uniform(1, 20)
        self.mu, self.sigma = self.demand * self.days, self.deviation * math.sqrt(self.days)
        self.level = self.mu + self.sigma * special.ndtri(self.p / (self.p + self.h))

    def cost(self, y):
        z = (y - self.mu) / self.sigma
        density = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
        return self.h * (y - self.mu) + (self.h + self.p) * self.sigma * (density - z * special.ndtr(-z))

    def point(self, q):
        """The reorder point for a quantity: its two ends cost the same."""
        return root(lambda r: self.cost(r + q) - self.cost(r), self.level - q, self.level)

    def over(self, r, q):
        """The integral of the cost from r to r + q, in pieces that are short beside the scatter."""
        pieces = max(1, math.ceil(q / (2 * self.sigma)))
        edges = np.linspace(r, r + q, pieces + 1)
        half = q / pieces / 2
        return half * (self.cost(edges[:-1, None] + half * (1 + NODES)) @ WEIGHTS).sum()

    def request(self):
        return {"demand_per_day": self.demand, "lead_time_days": self.days, "model": "normal",
                "standard_deviation": self.deviation, "holding_cost": self.h, "shortage_cost": self.p, "method": "least_cost"}


@comparison("reorder", 1e-9)
def normal_point():
    it, q, k = Normal(), uniform(5, 400), uniform(0.01, 5)
    r = it.point(q)
    return it.request() | {"ordering_cost": k, "order_quantity": q}, {
        "/result/reorder_point": r, "/result/stock_out_probability": special.ndtr((it.mu - r) / it.sigma),
        "/result/expected_cost_per_day": (k * it.demand + it.over(r, q)) / q}


@comparison("reorder", 1e-8)
def normal_policy():
    """Point and quantity together: one more costs what all cost on the average."""
    it, k = Normal(), uniform(0.05, 20)
    order = k * it.demand

    def gain(q):
        r = it.point(q)
        return q * float(it.cost(r)) - it.over(r, q) - order

    least = math.sqrt(2 * order / it.h)
    q = root(gain, 0.5 * least, 4 * least + 40 * it.sigma)
    r = it.point(q)
    return it.request() | {"ordering_cost": k}, {"/result/order_quantity": q, "/result/reorder_point": r,
                                                 "/result/expected_cost_per_day": float(it.cost(r))}


@comparison("reorder", 1e-11)
def poisson():
    mean, sure = uniform(0.05, 80), uniform(0.5, 0.999)
    point = stats.poisson.ppf(sure, mean)
    return {"demand_per_day": mean, "lead_time_days": 1, "model": "poisson", "service": sure}, {
        "/result/reorder_point": point, "/result/stock_out_probability": special.pdtrc(point, mean)}


@comparison("reorder", 1e-9)
def poisson_policy():
    """Every reorder point with every quantity: the cheapest pair."""
    demand, days = uniform(0.05, 4), uniform(0.5, 8)
    h, p, k = uniform(0.05, 1), uniform(1, 10), uniform(0.05, 5)
    mean, order = demand * days, k * demand
    y = np.arange(-80, 161)
    # Items left of a level, from the sums of the distribution below it.
    below = np.cumsum(special.pdtr(np.maximum(y, 0), mean) * (y >= 0)) - special.pdtr(np.maximum(y, 0), mean) * (y >= 0)
    cost = h * below + p * (below + mean - y)
    total = np.concatenate([[0], np.cumsum(cost)])
    i, j = np.triu_indices(len(total), 1)
    average = (order + total[j] - total[i]) / (j - i)
    best = int(np.argmin(average))
    # Two policies that cost the same are both right.
    if np.count_nonzero(average < average[best] * (1 + 1e-9) + 1e-12) > 1 or i[best] == 0 or j[best] == len(y):
        return None
    return {"demand_per_day": demand, "lead_time_days": days, "model": "poisson", "holding_cost": h, "shortage_cost": p,
            "ordering_cost": k, "method": "least_cost"}, {
        "/result/reorder_point": float(y[i[best]] - 1), "/result/order_quantity": float(j[best] - i[best]),
        "/result/expected_cost_per_day": average[best]}


@comparison("intermittent-demand", 1e-11)
def croston():
    """Smoothing as a filter over sizes and over the places where they lie."""
    n, alpha = int(random.integers(3, 40)), uniform(0.02, 1)
    demand = random.poisson(2, n) * (random.random(n) < 0.4) * uniform(0.5, 3)
    places = np.flatnonzero(demand)
    if len(places) == 0:
        return None

    def smooth(values):
        return signal.lfilter([alpha], [1, alpha - 1], values, zi=[(1 - alpha) * values[0]])[0][-1]

    size, interval = smooth(demand[places]), smooth(np.diff(places, prepend=-1).astype(float))
    return {"demand": demand.tolist(), "alpha": alpha}, {
        "/result/croston": size / interval, "/result/sba": (2 - alpha) * size / interval / 2,
        "/result/smoothed_size": size, "/result/smoothed_interval": interval}
